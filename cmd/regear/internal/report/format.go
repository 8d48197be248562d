package report

import (
	"io"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// Style is how text is written. JSON and CSV do without: they are always metric.
type Style struct {
	Units units.System
	document.Layout
}

// Writer writes an answer. It fails with what w reports.
type Writer[T any] func(w io.Writer, answer T, s Style) error

// Format is one format in which an answer can be had.
type Format[T any] struct {
	Name      string // as --format takes it
	Write     Writer[T]
	ForPeople bool // its warnings and cautions are written apart from it; a program's are inside
}

// Advised is which gearing to run next.
type Advised struct {
	*advise.Advice
	Noticed Noticed
	Brief   bool // what fits one screen, together with the warnings and cautions in brief; of text
}

// Fitted is what the runs of a car tell of its parts.
type Fitted struct {
	*analyze.Car
	Noticed Noticed
}

// Replayed is how a car's forecasts would have fared.
type Replayed struct {
	*analyze.Hindsight
	Noticed Noticed
}

// Compared is the answer for several next runs, the one that the others differ from first.
type Compared struct {
	Runs    []NextRun
	Noticed Noticed
}

// Rested is how long to run and how long to rest.
type Rested struct {
	*advise.Advice
	Start   run.Readings // what the parts read now
	Noticed Noticed
}

// Started is the first gearing after a change of tire, battery or motor.
type Started struct {
	*advise.Start
	Known StartKnown
}

// The formats of each answer, the usual one first.
var (
	AdviceFormats    = []Format[Advised]{{"text", writeAdviceText, true}, {"json", AdviceJSON, false}, {"csv", writeAdviceCSV, false}}
	FitFormats       = []Format[Fitted]{{"text", writeFitText, true}, {"json", writeFitJSON, false}}
	HindsightFormats = []Format[Replayed]{{"text", writeHindsightText, true}, {"json", writeHindsightJSON, false}}
	CompareFormats   = []Format[Compared]{{"text", writeCompareText, true}, {"json", writeCompareJSON, false}}
	RestFormats      = []Format[Rested]{{"text", writeRestText, true}, {"json", writeRestJSON, false}}
	StartFormats     = []Format[Started]{{"text", writeStartText, true}, {"json", writeStartJSON, false}}
	TableFormats     = []Format[GearTable]{{"text", writeTableText, true}, {"json", writeTableJSON, false}, {"csv", writeTableCSV, false}}
	RunsFormats      = []Format[[]run.Run]{{"text", writeRunsText, true}, {"csv", RunsCSV, false}, {"json", RunsJSON, false}}
	ProblemFormats   = []Format[[]RunProblem]{{"text", writeProblemsText, true}, {"csv", writeProblemsCSV, false}, {"json", writeProblemsJSON, false}}
)
