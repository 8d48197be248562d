package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// Runs are a table of runs, and totals by car.
func Runs(runs []run.Run, u units.System) document.Document { return FlaggedRuns(runs, nil, u) }

// FlaggedRuns are the same with what is to be said of single runs before their notes: see
// [RunFlags].
func FlaggedRuns(runs []run.Run, flags map[run.Position][]string, u units.System) document.Document {
	if len(runs) == 0 {
		return document.Document{document.Paragraph("No run passes the filters.")}
	}
	names, byCar := analyze.Cars(runs)
	var totals document.Lines
	for _, name := range names {
		totals.Items = append(totals.Items, Total(name, byCar[name]))
	}
	return document.Document{runTable(u, runs, flags, len(names) > 1), totals}
}

// RunsText writes runs as text.
func RunsText(w io.Writer, runs []run.Run, s Style) error {
	return Runs(runs, s.Units).Text(w, s.Layout)
}

func runTable(u units.System, runs []run.Run, flags map[run.Position][]string, withCar bool) document.Table {
	table := document.Table{Caption: "Runs in the order of driving", Columns: []document.Column{{Head: "\ndate", Kind: document.Label}}}
	if withCar {
		table.Columns = append(table.Columns, document.Column{Head: "\ncar", Kind: document.Label})
	}
	table.Columns = append(table.Columns,
		document.Column{Head: "\npinion/spur"}, document.Column{Head: "\nratio", Later: true},
		document.Column{Head: "rollout\n" + u.LengthUnit(), Later: true}, document.Column{Head: "\ntire", Later: true},
		document.Column{Head: "air\n" + u.TemperatureUnit()}, document.Column{Head: "\nmin"})
	for _, p := range run.Parts {
		table.Columns = append(table.Columns, document.Column{Head: p.Word() + "\n" + u.TemperatureUnit()})
	}
	table.Columns = append(table.Columns, document.Column{Head: "\nnote", Kind: document.Prose, Later: true})
	for i := range runs {
		table.Rows = append(table.Rows, runRow(u, &runs[i], flags[runs[i].Position], withCar))
	}
	return table
}

func runRow(u units.System, r *run.Run, flags []string, withCar bool) document.Row {
	cells := []string{whenOf(r)}
	if withCar {
		cells = append(cells, r.Car)
	}
	cells = append(cells, pair(r.Gearing), fixed(r.Gearing.FinalDriveRatio(), 2),
		u.Rollout(r.Rollout()), u.Tire(r.Tire), u.ReadingNumber(r.Ambient), trimmed(float64(r.Minutes), 1))
	for _, p := range run.Parts {
		cell := ""
		if c, taken := r.Peak.Of(p); taken {
			cell = u.ReadingNumber(c)
		}
		cells = append(cells, cell)
	}
	return document.Row{Cells: append(cells, strings.Join(append(flags, remarks(r)...), "; "))}
}

// remarks lists what a run's marks and note say.
func remarks(r *run.Run) []string {
	var all []string
	if r.StoppedByHeat {
		all = append(all, "stopped by heat")
	}
	if r.Skip {
		all = append(all, "skipped")
	}
	if r.Note != "" {
		all = append(all, strings.ReplaceAll(r.Note, "\n", " / "))
	}
	return all
}

// whenOf writes a run's moment, or its day where the log gave no time.
func whenOf(r *run.Run) string { return moment(r.When, r.HasTime) }

// moment writes a day, with its time of day where there is one.
func moment(when time.Time, hasTime bool) string {
	if !hasTime {
		return when.Format(dateLayout)
	}
	return when.Format(dateLayout + " 15:04")
}

// Total sums up the runs of one car in a line. There must be one.
func Total(name string, runs []run.Run) string {
	t := totalOf(name, runs)
	if name == "" {
		name = "(no name)"
	}
	pinions := strconv.Itoa(t.FewestTeeth)
	if t.MostTeeth > t.FewestTeeth {
		pinions += " to " + strconv.Itoa(t.MostTeeth)
	}
	days := t.First
	if t.Last != t.First {
		days += " to " + t.Last
	}
	return fmt.Sprintf("%s: %s, %s min in all, %s, pinion %s", name, count(t.Runs, "run"), trimmed(float64(t.Minutes), 1), days, pinions)
}

// totals are the sums of one car's runs.
type totals struct {
	Car         string     `json:"car"`
	Runs        int        `json:"runs"`
	Minutes     hundredths `json:"run_minutes"`
	First       string     `json:"first"`
	Last        string     `json:"last"`
	FewestTeeth int        `json:"smallest_pinion_teeth"`
	MostTeeth   int        `json:"largest_pinion_teeth"`
}

// totalOf sums up runs. There must be one at least.
func totalOf(name string, runs []run.Run) totals {
	t := totals{Car: name, Runs: len(runs), FewestTeeth: runs[0].Gearing.Pinion}
	first, last := runs[0].When, runs[0].When
	for _, r := range runs {
		t.Minutes += hundredths(r.Minutes)
		t.FewestTeeth, t.MostTeeth = min(t.FewestTeeth, r.Gearing.Pinion), max(t.MostTeeth, r.Gearing.Pinion)
		if r.When.Before(first) {
			first = r.When
		}
		if r.When.After(last) {
			last = r.When
		}
	}
	t.First, t.Last = first.Format(dateLayout), last.Format(dateLayout)
	return t
}

// RunsCSV writes runs as a run log.
func RunsCSV(w io.Writer, runs []run.Run, _ Style) error {
	rows := make([][]string, len(runs))
	for i := range runs {
		rows[i] = runlog.Written(runs[i])
	}
	return writeCSV(w, runlog.WrittenColumns(), rows)
}

type runsJSON struct {
	Schema int       `json:"schema"`
	Runs   []runJSON `json:"runs"`
	Cars   []totals  `json:"cars"`
}

// runJSON is one run under the names of the log's columns.
type runJSON struct {
	Date string `json:"date"`
	Car  string `json:"car,omitempty"`
	gearsJSON
	Internal      float64               `json:"internal_ratio"`
	FinalDrive    thousandths           `json:"final_drive_ratio"`
	Rollout       thousandths           `json:"rollout_mm"`
	Tire          units.Millimeters     `json:"tire_diameter_mm"`
	Ambient       units.Celsius         `json:"ambient_c"`
	Minutes       units.Minutes         `json:"run_minutes"`
	Peak          byPart[units.Celsius] `json:"peak_c"`
	Start         byPart[units.Celsius] `json:"start_c"`
	StoppedByHeat bool                  `json:"stopped_by_heat,omitempty"`
	Cells         int                   `json:"cells,omitempty"`
	Motor         string                `json:"motor,omitempty"`
	Surface       string                `json:"surface,omitempty"`
	Cooling       string                `json:"cooling,omitempty"`
	Skip          bool                  `json:"skip,omitempty"`
	Note          string                `json:"note,omitempty"`
	Place         string                `json:"place"`
}

// RunsJSON writes runs and totals by car as a document for programs.
func RunsJSON(w io.Writer, runs []run.Run, _ Style) error {
	doc := runsJSON{Schema: Schema, Runs: make([]runJSON, len(runs)), Cars: []totals{}}
	for i := range runs {
		doc.Runs[i] = toRun(&runs[i])
	}
	names, byCar := analyze.Cars(runs)
	for _, name := range names {
		doc.Cars = append(doc.Cars, totalOf(name, byCar[name]))
	}
	return writeJSON(w, doc)
}

func toRun(r *run.Run) runJSON {
	const date = 0 // its place among the written columns
	asRead := func(c units.Celsius) units.Celsius { return c }
	return runJSON{
		runlog.Written(*r)[date], r.Car, toGears(r.Gearing), r.Gearing.Internal, thousandths(r.Gearing.FinalDriveRatio()), thousandths(r.Rollout()),
		r.Tire, r.Ambient, r.Minutes, eachPart(r.Peak, asRead), eachPart(r.Start, asRead), r.StoppedByHeat, r.Cells,
		r.Motor, r.Surface, r.Cooling, r.Skip, r.Note, r.Position.String(),
	}
}
