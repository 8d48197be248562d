package report

import (
	"io"

	"regear/advise"
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
