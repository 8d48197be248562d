package report

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/document"
	"regear/cmd/regear/internal/entry"
)

// listed are a table of runs and totals by car.
func listed(runs []run.Run, u units.System) document.Document {
	if len(runs) == 0 {
		return document.Document{document.Paragraph("No run passes the filters.")}
	}
	names, byCar := analyze.Cars(runs)
	var totals document.Lines
	for _, name := range names {
		totals.Items = append(totals.Items, Total(name, byCar[name]))
	}
	var columns columnsOf[run.Run]
	if slices.ContainsFunc(runs, func(r run.Run) bool { return r.Number > 0 }) { // of the log book
		columns.add(document.Column{Head: "\nrun"}, func(r *run.Run) string { return strconv.Itoa(r.Number) })
	}
	columns.add(document.Column{Head: "\ndate", Kind: document.Label}, whenOf)
	if len(names) > 1 {
		columns.add(document.Column{Head: "\ncar", Kind: document.Label}, func(r *run.Run) string { return r.Car })
	}
	columns.add(document.Column{Head: "\npinion/spur"}, func(r *run.Run) string { return pair(r.Gearing) })
	columns.add(document.Column{Head: "\nratio", Later: true}, func(r *run.Run) string { return fixed(r.Gearing.FinalDriveRatio(), 2) })
	columns.add(document.Column{Head: "rollout\n" + u.LengthUnit(), Later: true}, func(r *run.Run) string { return u.Rollout(r.Rollout()) })
	columns.add(document.Column{Head: "\ntire", Later: true}, func(r *run.Run) string { return u.Tire(r.Tire) })
	columns.add(document.Column{Head: "air\n" + u.TemperatureUnit()}, func(r *run.Run) string { return u.ReadingNumber(r.Ambient) })
	columns.add(document.Column{Head: "\nmin"}, func(r *run.Run) string { return trimmed(float64(r.Minutes), 1) })
	for _, p := range run.Parts {
		columns.add(document.Column{Head: p.Word() + "\n" + u.TemperatureUnit()}, func(r *run.Run) string {
			c, taken := r.Peak.Of(p)
			if !taken {
				return ""
			}
			return u.ReadingNumber(c)
		})
	}
	columns.add(document.Column{Head: "\nnote", Kind: document.Prose, Later: true}, func(r *run.Run) string {
		return strings.Join(remarks(r), "; ")
	})
	return document.Document{tableOf("Runs in the order of driving", runs, columns), totals}
}

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

func whenOf(r *run.Run) string { return moment(r.When, r.HasTime) }

// Total sums up the runs of one car in a line. There must be one at least.
func Total(name string, runs []run.Run) string {
	t := totalOf(name, runs)
	if name == "" {
		name = "(no name)"
	}
	return fmt.Sprintf("%s: %s, %s min in all, %s, pinion %s", name, count(t.Runs, "run"), trimmed(float64(t.Minutes), 1),
		fromTo(t.First, t.Last), fromTo(strconv.Itoa(t.FewestTeeth), strconv.Itoa(t.MostTeeth)))
}

type totals struct {
	Car         string     `json:"car"`
	Runs        int        `json:"runs"`
	Minutes     hundredths `json:"run_minutes"`
	First       string     `json:"first"`
	Last        string     `json:"last"`
	FewestTeeth int        `json:"smallest_pinion_teeth"`
	MostTeeth   int        `json:"largest_pinion_teeth"`
}

func totalOf(name string, runs []run.Run) totals {
	t := totals{Car: name, Runs: len(runs), FewestTeeth: runs[0].Gearing.Pinion}
	t.First = runs[0].When.Format(dateLayout)
	for _, r := range runs {
		t.Minutes += hundredths(r.Minutes)
		t.FewestTeeth, t.MostTeeth = min(t.FewestTeeth, r.Gearing.Pinion), max(t.MostTeeth, r.Gearing.Pinion)
		day := r.When.Format(dateLayout)
		t.First, t.Last = min(t.First, day), max(t.Last, day)
	}
	return t
}

func runLog(w io.Writer, runs []run.Run, _ Style) error { return runlog.Write(w, runs) }

type runsJSON struct {
	Schema int       `json:"schema"`
	Runs   []runJSON `json:"runs"`
	Cars   []totals  `json:"cars"`
}

// runJSON is one run under the names of the log's columns.
type runJSON struct {
	Run  int    `json:"run,omitempty"` // its number in the log book
	Date string `json:"date"`
	Car  string `json:"car,omitempty"`
	gearsJSON
	Internal      float64               `json:"internal_ratio"`
	FinalDrive    thousandths           `json:"final_drive_ratio"`
	Rollout       thousandths           `json:"rollout_mm"`
	Tire          units.Millimeters     `json:"tire_diameter_mm"`
	Ambient       units.Celsius         `json:"ambient_c"`
	Minutes       units.Minutes         `json:"run_minutes"`
	MotorPeak     *units.Celsius        `json:"motor_peak_c,omitempty"`
	ESCPeak       *units.Celsius        `json:"esc_peak_c,omitempty"`
	BatteryPeak   *units.Celsius        `json:"battery_peak_c,omitempty"`
	Peak          byPart[units.Celsius] `json:"peak_c"` // the same by part, as in the other documents
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

func toRuns(runs []run.Run) runsJSON {
	doc := runsJSON{Schema, []runJSON{}, []totals{}} // never null: a reader iterates without asking
	for i := range runs {
		doc.Runs = append(doc.Runs, toRun(&runs[i]))
	}
	names, byCar := analyze.Cars(runs)
	for _, name := range names {
		doc.Cars = append(doc.Cars, totalOf(name, byCar[name]))
	}
	return doc
}

func toRun(r *run.Run) runJSON {
	asRead := func(c units.Celsius) units.Celsius { return c }
	peak := func(part run.Part) *units.Celsius { return optional(r.Peak.Of(part)) }
	return runJSON{
		r.Number, r.Date(), r.Car, toGears(r.Gearing), r.Gearing.Internal, thousandths(r.Gearing.FinalDriveRatio()), thousandths(r.Rollout()),
		r.Tire, r.Ambient, r.Minutes, peak(run.Motor), peak(run.ESC), peak(run.Battery), eachPart(r.Peak, asRead), eachPart(r.Start, asRead), r.StoppedByHeat, r.Cells,
		r.Motor, r.Surface, r.Cooling, r.Skip, r.Note, r.Position.String(),
	}
}

// RunFlags says in a few words what makes runs of a car doubtful and what keeps them out of a
// fit, by their positions.
func RunFlags(car *analyze.Car) map[run.Position][]string {
	flags := map[run.Position][]string{}
	add := func(at run.Position, words string) {
		if !slices.Contains(flags[at], words) {
			flags[at] = append(flags[at], words)
		}
	}
	for _, w := range car.Warnings() {
		switch w := w.(type) {
		case analyze.OddRun:
			add(w.Run, w.Part.Word()+" odd")
		case analyze.InfluentialRun:
			add(w.Run, w.Part.Word()+" decides alone")
		case analyze.SeveralChanges:
			add(w.Run, "several changes at once")
		case analyze.NearAmbient:
			add(w.Run, w.Part.Word()+" close to the air")
		}
	}
	for _, f := range car.Fits() {
		for _, left := range f.LeftOut {
			switch left.Reason {
			case analyze.OtherMotor:
				add(left.Position, "another motor, left out")
			case analyze.NoRise:
				add(left.Position, f.Part.Word()+" not hotter than at the start, left out")
			}
			// Skipped runs say so themselves, and a blank cell does for what was not measured.
		}
	}
	return flags
}

// CarLine says of one car in a log how many runs it has and when the last one was.
func CarLine(name string, runs []run.Run) string {
	if name == "" {
		name = "(no name; choose it with --car '')"
	}
	return fmt.Sprintf("%s: %s, last on %s", name, count(len(runs), "run"), totalOf(name, runs).Last)
}

// Logged says which run was added to the book, as it was typed, and apart from that what was taken
// from elsewhere, so that a typing error is seen; then how many runs the book holds now, and the
// command that takes the run back.
func Logged(w io.Writer, book, undo string, n *app.NewRun, saved *app.Saved, u units.System) error {
	typed, taken := []string{saved.Run.Car, whenOf(&saved.Run)}, []string{}
	for _, f := range entry.Fields {
		words := fieldWords[f.Name]
		switch text := n.Draft.Typed(f); {
		case words == "" || !n.Draft.Has(f) || n.Draft.Text(f) == "":
		case f.IsMark():
			typed = append(typed, words)
		case text != "":
			typed = append(typed, fmt.Sprintf(words, asTyped(f, text, &saved.Run, u)))
		case f.Name == "tire":
			taken = append(taken, fmt.Sprintf(words, u.Tire(saved.Run.Tire)))
		default:
			taken = append(taken, fmt.Sprintf(words, n.Draft.Text(f)))
		}
	}
	text := fmt.Sprintf("Logged run %d: %s.\n", saved.Run.Number, strings.Join(typed, ", "))
	if len(taken) > 0 {
		from := "From the car file"
		if n.HasLast() {
			from = "As in the last run"
		}
		text += from + ": " + strings.Join(taken, ", ") + ".\n"
	}
	_, err := fmt.Fprintf(w, "%sLog book %s: holds %s now. %s takes this run back.\n", text, book, count(saved.Runs, "run"), undo)
	return err
}

// fieldWords say a field's value in a line; car and date begin the line.
var fieldWords = map[string]string{
	"pinion": "pinion %s", "spur": "spur %s", "internal-ratio": "internal ratio %s", "tire": "tire %s", "minutes": "%s min", "ambient": "air %s",
	"motor-peak": "motor %s", "esc-peak": "ESC %s", "battery-peak": "battery %s",
	"motor-start": "motor %s before", "esc-start": "ESC %s before", "battery-start": "battery %s before",
	"cells": "%s cells", "motor": "motor %q", "surface": "surface %q", "cooling": "cooling %q", "note": "note %q",
	"stopped-by-heat": "stopped by heat", "skip": "kept out of fits",
}

// asTyped returns what was typed in a field, its unit written as in answers. A tire by its name is
// told with its size.
func asTyped(f entry.Field, text string, r *run.Run, u units.System) string {
	number, system, hasUnit := units.Cut(text)
	switch {
	case f.Units == ask.Units{}:
		return text
	case f.Name != "tire" && hasUnit:
		return number + " " + system.TemperatureUnit()
	case ask.NamesTire(text):
		return text + " (" + u.Tire(r.Tire) + ")"
	case hasUnit:
		return number + " " + system.LengthUnit()
	}
	return text // in cm
}

// Saved says in one line that a run was saved, or changed, where there is only one book.
func Saved(changed bool, r *run.Run, runs int, u units.System) string {
	verb := "Saved"
	if changed {
		verb = "Changed"
	}
	return fmt.Sprintf("%s: %s, %s, %s, %s in %s, %s. The log book holds %s.",
		verb, r.Car, whenOf(r), pair(r.Gearing), r.Minutes, u.Reading(r.Ambient), strings.Join(peaksOf(r, u), ", "), Runs(runs))
}

// Met sets the readings of a run beside what was foreseen of it, a line a part.
func Met(r *run.Run, foreseen []analyze.Foreseen, u units.System) []string {
	var lines []string
	for _, f := range foreseen {
		peak, measured := r.Peak.Of(f.Part)
		if !measured {
			continue
		}
		low, high := f.Quantile((1-analyze.HindsightLevel)/2), f.Quantile((1+analyze.HindsightLevel)/2)
		place := "inside"
		switch {
		case peak > high:
			place = "hotter"
		case peak < low && r.StoppedByHeat:
			place = "cut short by heat"
		case peak < low:
			place = "cooler"
		}
		lines = append(lines, fmt.Sprintf("%s: foreseen %s–%s, read %s: %s.", capital(f.Part.Word()), u.Peak(low), u.Peak(high), u.ReadingNumber(peak), place))
	}
	return lines
}

// Runs counts runs in words.
func Runs(n int) string { return count(n, "run") }

// RunInTwoLines says of a run when and on which gears it was driven and, below, for how long and
// how hot it got, which each fit a line of a phone, and what else stands out.
func RunInTwoLines(r *run.Run, flags []string, withCar bool, u units.System) (driven, read, more string) {
	driven = whenOf(r) + " · " + pair(r.Gearing)
	if withCar {
		driven = r.Car + " · " + driven
	}
	peaks := eachOf(r.Peak, func(part run.Part, c units.Celsius) string { return part.Word() + " " + u.ReadingNumber(c) })
	if n := len(peaks); n > 0 {
		peaks[n-1] += " " + u.TemperatureUnit()
	}
	return driven, strings.Join(append([]string{r.Minutes.String()}, peaks...), " · "), strings.Join(append(slices.Clone(flags), remarks(r)...), " · ")
}

func peaksOf(r *run.Run, u units.System) []string {
	return eachOf(r.Peak, func(part run.Part, c units.Celsius) string { return part.Word() + " " + u.Reading(c) })
}

func runLine(u units.System, r *run.Run) string {
	return fmt.Sprintf("%s, %s, %s, internal ratio %s, tire %s, %s in %s, %s",
		r.Car, whenOf(r), pair(r.Gearing), significant(r.Gearing.Internal), u.Tire(r.Tire),
		r.Minutes, u.Reading(r.Ambient), strings.Join(peaksOf(r, u), ", "))
}
