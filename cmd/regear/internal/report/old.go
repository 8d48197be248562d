package report

import (
	"io"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
)

// What follows goes once no command calls it: the formats of each answer are in its table,
// as in [AdviceFormats].

// AdviceText writes an answer as text, in full or in brief.
func AdviceText(w io.Writer, a *advise.Advice, s Style, full bool) error {
	return writeAdviceText(w, Advised{Advice: a, Brief: !full}, s)
}

// AdviceJSON writes an answer as JSON.
func AdviceJSON(w io.Writer, a *advise.Advice, n Noticed) error {
	return writeAdviceJSON(w, Advised{Advice: a, Noticed: n}, Style{})
}

// AdviceCSV writes an answer as CSV.
func AdviceCSV(w io.Writer, a *advise.Advice, n Noticed) error {
	return writeAdviceCSV(w, Advised{Advice: a, Noticed: n}, Style{})
}

// FitText writes the fits of a car as text.
func FitText(w io.Writer, car *analyze.Car, s Style) error {
	return writeFitText(w, Fitted{Car: car}, s)
}

// FitJSON writes the fits of a car as JSON.
func FitJSON(w io.Writer, car *analyze.Car, n Noticed) error {
	return writeFitJSON(w, Fitted{car, n}, Style{})
}

// HindsightText writes a replay as text.
func HindsightText(w io.Writer, h *analyze.Hindsight, s Style) error {
	return writeHindsightText(w, Replayed{Hindsight: h}, s)
}

// HindsightJSON writes a replay as JSON.
func HindsightJSON(w io.Writer, h *analyze.Hindsight, n Noticed) error {
	return writeHindsightJSON(w, Replayed{h, n}, Style{})
}

// CompareText writes several answers as text.
func CompareText(w io.Writer, all []NextRun, n Noticed, s Style) error {
	return writeCompareText(w, Compared{all, n}, s)
}

// CompareJSON writes several answers as JSON.
func CompareJSON(w io.Writer, all []NextRun, n Noticed, s Style) error {
	return writeCompareJSON(w, Compared{all, n}, s)
}

// RestText writes how long to run and to rest as text.
func RestText(w io.Writer, a *advise.Advice, start run.Readings, n Noticed, s Style) error {
	return writeRestText(w, Rested{a, start, n}, s)
}

// RestJSON writes how long to run and to rest as JSON.
func RestJSON(w io.Writer, a *advise.Advice, start run.Readings, n Noticed, s Style) error {
	return writeRestJSON(w, Rested{a, start, n}, s)
}

// StartText writes a first gearing as text.
func StartText(w io.Writer, s *advise.Start, known StartKnown, style Style) error {
	return writeStartText(w, Started{s, known}, style)
}

// StartJSON writes a first gearing as JSON.
func StartJSON(w io.Writer, s *advise.Start, known StartKnown, style Style) error {
	return writeStartJSON(w, Started{s, known}, style)
}

// RunProblemsText writes problems as text.
func RunProblemsText(w io.Writer, problems []RunProblem) error {
	return writeProblemsText(w, problems, Style{})
}

// RunProblemsCSV writes a row for each problem.
func RunProblemsCSV(w io.Writer, problems []RunProblem) error {
	return writeProblemsCSV(w, problems, Style{})
}

// RunProblemsJSON writes problems as JSON.
func RunProblemsJSON(w io.Writer, problems []RunProblem) error {
	return writeProblemsJSON(w, problems, Style{})
}
