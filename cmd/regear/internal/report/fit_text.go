package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"regear/analyze"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// lineLevel is the level of the plain line's slope intervals.
const lineLevel = 0.95

// Fit says what the runs of a car tell of how each part heats up. Where nothing is doubtful
// it says so; warnings are apart, see [WarningNotes].
func Fit(car *analyze.Car, u units.System) document.Document {
	t := fitWords{car, u}
	doc := document.Document{document.Paragraph(t.summary())}
	for _, f := range car.Fits() {
		doc = append(doc, t.part(f))
	}
	if len(car.Warnings()) == 0 {
		doc = append(doc, document.Paragraph(t.allClear()))
	}
	return doc
}

// FitText writes the fits of a car as text.
func FitText(w io.Writer, car *analyze.Car, s Style) error {
	doc := Fit(car, s.Units)
	if n := len(car.Warnings()); n > 0 {
		doc = append(doc, document.Paragraph(fmt.Sprintf("Checks: %s, told apart from this answer.", count(n, "warning"))))
	}
	return doc.Text(w, s.Layout)
}

// fitWords words the fits of one car.
type fitWords struct {
	*analyze.Car
	Units units.System
}

// summary says what the fits are of. Exponents hold at the last run's gearing.
func (t fitWords) summary() string {
	name := t.Name
	if name == "" {
		name = "The car"
	}
	g := t.Last.Gearing
	return fmt.Sprintf("%s: last run on %s with %d/%d on a tire of %s, ratio %s, rollout %s %s. "+
		"How heat follows gearing is given at that gearing; rise means degrees above the air.",
		name, t.Last.When.Format(dateLayout), g.Pinion, g.Spur, t.Units.Tire(t.Last.Tire),
		fixed(g.FinalDriveRatio(), 2), t.Units.Rollout(t.Last.Rollout()), t.Units.LengthUnit())
}

func (t fitWords) part(f *analyze.Fit) document.Section {
	e := f.Exponent(analyze.ConditionsOf(t.Last), analyze.ScalingLevel)
	lines := []string{t.used(f)}
	lines = append(lines, t.leftOut(f)...)
	lines = append(lines,
		fmt.Sprintf("The rise goes with rollout to the power %s (80 %% sure: %s to %s), and so with ratio to the power %s (%s to %s): "+
			"10 %% more rollout makes it %s. %s.",
			fixed(e.Value, 2), fixed(e.Low, 2), fixed(e.High, 2), fixed(-e.Value, 2), fixed(-e.High, 2), fixed(-e.Low, 2),
			growth(e.Value), capital(t.informed(f))),
		fmt.Sprintf("Time constant %s min: 63 %% of the final rise is there after so long.", fixed(float64(f.TimeConstant()), 1)),
		fmt.Sprintf("Run-to-run scatter %s %% of the rise.", fixed(f.Scatter()*100, 1)))
	lines = append(lines, t.plainLines(f)...)
	return section("fit-"+f.Part.String(), capital(f.Part.Word()), document.List(lines), t.coefficients(f))
}

func (t fitWords) used(f *analyze.Fit) string {
	prose := fmt.Sprintf("%s used, rollout %s", count(f.Runs, "run"), span(t.Units, f.Tested))
	if f.Bounds > 0 {
		prose += fmt.Sprintf("; %d of them stopped by heat, taken as at least that hot", f.Bounds)
	}
	return prose + "."
}

var reasonWords = map[analyze.Reason]string{
	analyze.Skipped:     "marked skip in the log",
	analyze.OtherMotor:  "with another motor than the last run's",
	analyze.NotMeasured: "without a reading of this part",
	analyze.NoRise:      "not hotter at the end than at the start",
}

// leftOut names the runs that were left out, a line a reason.
func (t fitWords) leftOut(f *analyze.Fit) []string {
	places := map[analyze.Reason][]string{}
	for _, l := range f.LeftOut {
		places[l.Reason] = append(places[l.Reason], l.Position.String())
	}
	var lines []string
	for _, reason := range reasons(places) {
		at := places[reason]
		lines = append(lines, fmt.Sprintf("%s left out, %s: %s.", count(len(at), "run"), reasonWords[reason], strings.Join(at, ", ")))
	}
	return lines
}

// reasons returns the reasons that occur, in their order.
func reasons[T any](of map[analyze.Reason]T) []analyze.Reason {
	var all []analyze.Reason
	for r := range of {
		all = append(all, r)
	}
	slices.Sort(all)
	return all
}

func (t fitWords) informed(f *analyze.Fit) string {
	switch f.InformedBy(analyze.ConditionsOf(t.Last)) {
	case analyze.FromLog:
		return "the log tells more of this than the general rule"
	case analyze.FromBoth:
		return "this is the general rule, corrected by the log"
	}
	return "this is the general rule alone, as the log holds one gearing"
}

// plainLines are what a driver would draw through the points.
func (t fitWords) plainLines(f *analyze.Fit) []string {
	onRatio, onRollout, err := f.Lines()
	if err != nil {
		return []string{"Plain line through the points: none, as it takes three runs at two gearings at least."}
	}
	return []string{
		"Plain line through the points, which knows nothing of minutes, warm starts, heat stops or the general rule: " +
			t.line(onRatio, "1 of ratio", 1) + ".",
		"The same on rollout: " + t.line(onRollout, "1 "+t.Units.LengthUnit()+" of rollout", float64(t.perLength())) + ".",
	}
}

// perLength returns how many mm the unit of length has in which slopes are given.
func (t fitWords) perLength() units.Millimeters {
	if t.Units == units.US {
		return units.MillimetersPerInch
	}
	return 1
}

// line words a plain line, whose slope in kelvin is multiplied by the size of the
// step for which it is given.
func (t fitWords) line(l analyze.Line, per string, step float64) string {
	scale := step * t.Units.Difference(1)
	e := l.SlopeInterval(lineLevel)
	prose := fmt.Sprintf("%s %s of rise for each %s (95 %% interval %s to %s, n = %d, df = %d",
		significant(e.Value*scale), t.Units.TemperatureUnit(), per, significant(e.Low*scale), significant(e.High*scale), l.N, l.DF)
	if l.HasRSquared {
		prose += fmt.Sprintf(", R² = %s", fixed(l.RSquared, 2))
	}
	return prose + ")"
}

// coefficients is the table of what was held before the log and what is held after.
func (t fitWords) coefficients(f *analyze.Fit) document.Table {
	table := document.Table{
		Caption: "The " + f.Part.Word() + ": what was held before the log, and what is held after it",
		Columns: []document.Column{
			{Head: "\ncoefficient", Kind: document.Label},
			{Head: "before\nmiddle", Full: "before the log: middle"},
			{Head: "the log\nspread", Full: "spread"},
			{Head: "after\nmiddle", Full: "after the log: middle"},
			{Head: "the log\n80 % range", Full: "80 % range"},
			{Head: "\nmeaning", Kind: document.Prose},
		},
	}
	for _, c := range f.Coefficients(analyze.ScalingLevel) {
		table.Rows = append(table.Rows, t.coefficientRow(c))
	}
	return table
}

func (t fitWords) coefficientRow(c analyze.Coefficient) document.Row {
	write := func(x float64) string { return fixed(x, 2) }
	spread := fixed(c.Prior.SD, 2)
	if c.Name == "level" {
		// Held as a logarithm of kelvin; said in degrees.
		write = func(x float64) string { return t.Units.Rise(riseOf(x)) }
		spread = "×/÷ " + fixed(math.Exp(c.Prior.SD), 1)
	}
	if c.Name == "air" {
		write = func(x float64) string { return fixed(100*x, 2) + " %" }
		spread = write(c.Prior.SD)
	}
	says := meaning(c.Name)
	if !c.Told {
		says += " (the log says nothing of it)"
	}
	return document.Row{Cells: []string{
		c.Name, write(c.Prior.Mean), spread, write(c.Now.Value), write(c.Now.Low) + " to " + write(c.Now.High), says,
	}}
}

// meaning explains a coefficient in plain words.
func meaning(name string) string {
	switch name {
	case "level":
		return "final rise at the log's middle gearing and tire"
	case "exponent":
		return "power of rollout, at the log's middle gearing"
	case "bend":
		return "how that power itself grows with rollout"
	case "tire":
		return "power of tire diameter beyond its rollout"
	case "cells":
		return "power of the number of cells"
	case "air":
		return "growth of the rise for each degree of warmer air, in °C"
	case "drift":
		return "growth over four days of driving (or the whole log, if longer), as a share"
	}
	return "effect of that label, as a share"
}

// allClear says that nothing was found doubtful, with the thresholds.
func (t fitWords) allClear() string {
	return fmt.Sprintf("Checks: all clear. No odd run (score above %s), no lone run that decides (above %s), "+
		"no growth of the rise over the log (above %s), no reading within %s of the air after %s or more.",
		trimmed(analyze.OddScore, 1), share(analyze.Influence), share(analyze.Hotter), t.Units.Rise(analyze.NearAmbientRise), minutes(analyze.NearAmbientMinutes))
}
