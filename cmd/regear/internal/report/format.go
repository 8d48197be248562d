package report

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/document"
)

// Style is how text is written. JSON and CSV do without: they are always metric.
type Style struct {
	Units units.System
	document.Layout
}

// Format is one format in which an answer can be had. Write fails with what w reports.
type Format[T any] struct {
	Name      string // as --format takes it
	Write     func(w io.Writer, answer T, s Style) error
	ForPeople bool // its warnings and cautions are written apart from it; a program's are inside
}

// Advised is which gearing to run next.
type Advised struct {
	*advise.Advice
	Notes app.Notes
	Brief bool // text fits one screen, together with the warnings and cautions in brief
}

// Fitted is what the runs of a car tell of its parts.
type Fitted struct {
	*analyze.Car
	Notes app.Notes
}

// Replayed is how a car's forecasts would have fared.
type Replayed struct {
	*analyze.Hindsight
	Notes app.Notes
}

// Compared is the answer for several next runs, the one that the others differ from first.
type Compared struct {
	Runs  []NextRun
	Notes app.Notes
}

// Rested is how long to run and how long to rest.
type Rested struct {
	*advise.Advice
	Start run.Readings // what the parts read now
	Notes app.Notes
}

// Started is the first gearing after a change of tire, battery or motor.
type Started struct {
	*advise.Start
	Known ask.Known
	Notes app.Notes // in the log
}

// GearTable is every pinion and spur at hand.
type GearTable struct{ *ask.GearTable }

// The formats of each answer, the usual one first. In text a blank line separates an answer from
// the cautions behind it.
var (
	AdviceFormats    = []Format[Advised]{inText(advised, "\n"), inJSON(toAdvice), inCSV(adviceRows)}
	FitFormats       = []Format[Fitted]{inText(fitted, ""), inJSON(toFit)}
	HindsightFormats = []Format[Replayed]{inText(replayed, ""), inJSON(toHindsight)}
	CompareFormats   = []Format[Compared]{inText(Compare, "\n"), inJSON(toCompared)}
	RestFormats      = []Format[Rested]{inText(Rest, "\n"), inJSON(toRest)}
	StartFormats     = []Format[Started]{inText(started, "\n"), inJSON(toStart)}
	TableFormats     = []Format[GearTable]{inText(tabled, ""), inJSON(GearTable.json), inCSV(GearTable.rows)}
	RunsFormats      = []Format[[]run.Run]{inText(listed, ""), {"csv", runLog, false}, inJSON(toRuns)}
	ProblemFormats   = []Format[[]RunProblem]{inText(problemWords, ""), inCSV(problemRows), inJSON(toProblems)}
)

func inText[T any](words func(T, units.System) document.Document, end string) Format[T] {
	return Format[T]{"text", func(w io.Writer, answer T, s Style) error {
		if err := words(answer, s.Units).Text(w, s.Layout); err != nil {
			return err
		}
		_, err := io.WriteString(w, end)
		return err
	}, true}
}

// inJSON writes documents that people and line-based tools can read.
func inJSON[T, J any](doc func(T) J) Format[T] {
	return Format[T]{"json", func(w io.Writer, answer T, _ Style) error {
		enc := json.NewEncoder(w)
		enc.SetIndent("", "  ")
		enc.SetEscapeHTML(false)
		return enc.Encode(doc(answer))
	}, false}
}

// inCSV writes one table of fixed columns, its header first. A cell without a value is blank.
func inCSV[T any](rows func(T) [][]string) Format[T] {
	return Format[T]{"csv", func(w io.Writer, answer T, _ Style) error { return csv.NewWriter(w).WriteAll(rows(answer)) }, false}
}

// Schema is the version of the JSON documents; it rises when a reader of the old
// one would misread the new.
const Schema = 1

// Numbers for programs round when they are written: finely enough that nothing printed as
// text is lost, and so coarsely that rounding in the arithmetic does not show. None is
// written as "-0".
type (
	tenths         float64
	hundredths     float64
	thousandths    float64
	tenThousandths float64
	millionths     float64
	// probability has six decimals and is never written as 0 or 1: nothing is certain.
	probability float64
)

func (x tenths) String() string         { return units.Trimmed(float64(x), 1) }
func (x hundredths) String() string     { return units.Trimmed(float64(x), 2) }
func (x thousandths) String() string    { return units.Trimmed(float64(x), 3) }
func (x tenThousandths) String() string { return units.Trimmed(float64(x), 4) }
func (x millionths) String() string     { return units.Trimmed(float64(x), 6) }
func (p probability) String() string {
	const least = 1e-6
	return millionths(min(max(p, least), 1-least)).String()
}

// stated is a probability that is compared with a confidence: one that misses it is not
// rounded up to it.
func stated(p, confidence float64) probability {
	if p < confidence {
		p = min(p, confidence-1e-6)
	}
	return probability(p)
}

// MarshalJSON implements [json.Marshaler], as the other numbers' do.
func (x tenths) MarshalJSON() ([]byte, error)         { return []byte(x.String()), nil }
func (x hundredths) MarshalJSON() ([]byte, error)     { return []byte(x.String()), nil }
func (x thousandths) MarshalJSON() ([]byte, error)    { return []byte(x.String()), nil }
func (x tenThousandths) MarshalJSON() ([]byte, error) { return []byte(x.String()), nil }
func (x millionths) MarshalJSON() ([]byte, error)     { return []byte(x.String()), nil }
func (p probability) MarshalJSON() ([]byte, error)    { return []byte(p.String()), nil }

// optional returns nil for a value that JSON leaves out.
func optional[T any](value T, there bool) *T {
	if !there {
		return nil
	}
	return &value
}

// byPart holds a value for each part that has one.
type byPart[T any] struct {
	Motor   *T `json:"motor,omitempty"`
	ESC     *T `json:"esc,omitempty"`
	Battery *T `json:"battery,omitempty"`
}

func eachPart[T, J any](of run.ByPart[T], to func(T) J) byPart[J] {
	one := func(p run.Part) *J {
		value, there := of.Of(p)
		if !there {
			return nil
		}
		return optional(to(value), true)
	}
	return byPart[J]{one(run.Motor), one(run.ESC), one(run.Battery)}
}

func celsius(c units.Celsius) hundredths { return hundredths(c) }

func limits(of run.ByPart[advise.Limit]) byPart[hundredths] {
	return eachPart(of, func(l advise.Limit) hundredths { return hundredths(l.Temperature) })
}

type gearsJSON struct {
	Pinion int `json:"pinion_teeth"`
	Spur   int `json:"spur_teeth"`
}

func toGears(g drivetrain.Gearing) gearsJSON { return gearsJSON{g.Pinion, g.Spur} }

type intervalJSON struct {
	Estimate thousandths `json:"estimate"`
	Low      thousandths `json:"low"`
	High     thousandths `json:"high"`
	Level    float64     `json:"level"`
}

func toInterval(e analyze.Estimate) intervalJSON {
	return intervalJSON{thousandths(e.Value), thousandths(e.Low), thousandths(e.High), e.Level}
}

func negated(e analyze.Estimate) analyze.Estimate {
	return analyze.Estimate{Value: -e.Value, Low: -e.High, High: -e.Low, Level: e.Level}
}

// warningJSON is a warning of an answer, or a problem of the log it rests on.
type warningJSON struct {
	Code    string   `json:"code"`
	Part    string   `json:"part,omitempty"`
	Runs    []string `json:"runs,omitempty"` // file:line
	Message string   `json:"message"`
	Action  string   `json:"action"`
}

func toWarnings(warnings []analyze.Warning, n app.Notes) []warningJSON {
	// Never null: a reader iterates without asking.
	all := []warningJSON{}
	for _, w := range warnings {
		message, action, _ := wording(units.Metric, []analyze.Warning{w}, AtCommandLine)
		about := w.About()
		one := warningJSON{Code: string(w.Code()), Runs: worded(about.Runs, run.Position.String), Message: message, Action: action}
		if about.OfPart {
			one.Part = about.Part.String()
		}
		all = append(all, one)
	}
	return append(all, toNotes(n)...)
}

// cells are values as CSV has them: yes and no for a bool, and no text that a spreadsheet
// would run as a formula.
func cells(values ...any) []string {
	row := make([]string, len(values))
	for i, value := range values {
		switch value {
		case true:
			row[i] = "yes"
		case false:
			row[i] = "no"
		default:
			row[i] = runlog.EscapeFormula(fmt.Sprint(value))
		}
	}
	return row
}

// cell writes what there is, or nothing.
func cell[T fmt.Stringer](value *T) string {
	if value == nil {
		return ""
	}
	return (*value).String()
}
