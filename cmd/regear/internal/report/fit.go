package report

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"regear/analyze"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// lineLevel is the level of the intervals of the plain lines' slopes.
const lineLevel = 0.95

// Fit says what the runs of a car tell of how each part heats up, and the all-clear where
// nothing is doubtful. Warnings are apart: see [WarningNotes].
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

func fitted(car Fitted, u units.System) document.Document {
	doc := Fit(car.Car, u)
	if n := len(car.Warnings()); n > 0 {
		doc = append(doc, document.Paragraph(fmt.Sprintf("Checks: %s, shown separately.", count(n, "warning"))))
	}
	return doc
}

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
	return fmt.Sprintf("%s: last run on %s with %s on a tire of %s, ratio %s, rollout %s %s. "+
		"How heat follows gearing is given at that gearing; rise means degrees above the air.",
		name, t.Last.When.Format(dateLayout), pair(t.Last.Gearing), t.Units.Tire(t.Last.Tire),
		fixed(t.Last.Gearing.FinalDriveRatio(), 2), t.Units.Rollout(t.Last.Rollout()), t.Units.LengthUnit())
}

func (t fitWords) part(f *analyze.Fit) document.Section {
	e := f.Exponent(analyze.ConditionsOf(t.Last), analyze.ScalingLevel)
	used := fmt.Sprintf("%s used, rollout %s", count(f.Runs, "run"), span(t.Units, f.Tested))
	if f.Bounds > 0 {
		used += fmt.Sprintf("; %d of them stopped by heat, taken as at least that hot", f.Bounds)
	}
	lines := append([]string{used + "."}, leftOut(f)...)
	lines = append(lines,
		fmt.Sprintf("The rise goes with rollout to the power %s (80 %% sure: %s to %s), and so with ratio to the power %s (%s to %s): "+
			"10 %% more rollout makes it %s. %s.",
			fixed(e.Value, 2), fixed(e.Low, 2), fixed(e.High, 2), fixed(-e.Value, 2), fixed(-e.High, 2), fixed(-e.Low, 2),
			growth(e.Value), sources[f.InformedBy(analyze.ConditionsOf(t.Last))].sentence),
		fmt.Sprintf("Time constant %s min: after that time 63 %% of the final rise is there.", fixed(float64(f.TimeConstant()), 1)),
		fmt.Sprintf("Run-to-run scatter %s %% of the rise.", fixed(f.Scatter()*100, 1)))
	lines = append(lines, t.plainLines(f)...)
	return section("fit-"+f.Part.String(), capital(f.Part.Word()), document.List(lines), t.coefficients(f))
}

// reasons say why a fit leaves a run out, in JSON and in words.
var reasons = map[analyze.Reason]struct{ name, words string }{
	analyze.Skipped:     {"skipped", "marked skip in the log"},
	analyze.OtherMotor:  {"other_motor", "with another motor than the last run's"},
	analyze.NotMeasured: {"not_measured", "without a reading of this part"},
	analyze.NoRise:      {"no_rise", "not hotter at the end than at the start"},
}

// leftOut names the runs that were left out, a line a reason.
func leftOut(f *analyze.Fit) []string {
	places := map[analyze.Reason][]string{}
	for _, l := range f.LeftOut {
		places[l.Reason] = append(places[l.Reason], l.Position.String())
	}
	var lines []string
	for _, reason := range slices.Sorted(maps.Keys(places)) {
		at := places[reason]
		lines = append(lines, fmt.Sprintf("%s left out, %s: %s.", count(len(at), "run"), reasons[reason].words, strings.Join(at, ", ")))
	}
	return lines
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
		"The same on rollout: " + t.line(onRollout, "1 "+t.Units.LengthUnit()+" of rollout", 1/t.Units.Length(1)) + ".",
	}
}

// line words a plain line. Its slope, in kelvin, is given for a step of that size.
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
	type coefficient = analyze.Coefficient
	return tableOf("The "+f.Part.Word()+": what was held before the log, and what is held after it", f.Coefficients(analyze.ScalingLevel), columnsOf[coefficient]{
		{document.Column{Head: "\ncoefficient", Kind: document.Label}, func(c *coefficient) string { return c.Name }},
		{document.Column{Head: "before\nmiddle", Full: "before the log: middle"}, func(c *coefficient) string { return t.value(c, c.Prior.Mean) }},
		{document.Column{Head: "the log\nspread", Full: "spread"}, t.spread},
		{document.Column{Head: "after\nmiddle", Full: "after the log: middle"}, func(c *coefficient) string { return t.value(c, c.Now.Value) }},
		{document.Column{Head: "the log\n80 % range", Full: "80 % range"}, func(c *coefficient) string {
			return t.value(c, c.Now.Low) + " to " + t.value(c, c.Now.High)
		}},
		{document.Column{Head: "\nmeaning", Kind: document.Prose}, func(c *coefficient) string {
			meaning, known := meanings[c.Name]
			if !known {
				meaning = "effect of that label, as a share"
			}
			if !c.Told {
				meaning += " (the log says nothing of it)"
			}
			return meaning
		}},
	})
}

// value writes a value of a coefficient. The level is held as a logarithm of kelvin, and
// said in degrees.
func (t fitWords) value(c *analyze.Coefficient, x float64) string {
	switch c.Name {
	case "level":
		return t.Units.Rise(units.Rise(math.Exp(x)))
	case "air":
		return fixed(100*x, 2) + " %"
	}
	return fixed(x, 2)
}

func (t fitWords) spread(c *analyze.Coefficient) string {
	if c.Name == "level" {
		return "×/÷ " + fixed(math.Exp(c.Prior.SD), 1)
	}
	return t.value(c, c.Prior.SD)
}

// tenPercent returns by what share the rise changes with a tenth more rollout.
func tenPercent(exponent float64) float64 { return math.Pow(1.1, exponent) - 1 }

func growth(exponent float64) string {
	return change(tenPercent(exponent), "larger", "smaller", "neither larger nor smaller")
}

func signedGrowth(exponent float64) string { return signedShare(tenPercent(exponent)) }

func growthRange(e analyze.Estimate) string {
	return signedGrowth(e.Low) + " to " + signedGrowth(e.High)
}

// span writes the rollouts between which runs lie.
func span(u units.System, s analyze.Span) string {
	return fromTo(u.Rollout(s.Low), u.Rollout(s.High)) + " " + u.LengthUnit()
}

// meanings explain the coefficients in plain words.
var meanings = map[string]string{
	"level":    "final rise at the log's middle gearing and tire",
	"exponent": "power of rollout, at the log's middle gearing",
	"bend":     "how that power itself grows with rollout",
	"tire":     "power of tire diameter beyond its rollout",
	"cells":    "power of the number of cells",
	"air":      "growth of the rise for each degree of warmer air, in °C",
	"drift":    "growth over four days of driving (or the whole log, if longer), as a share",
}

// allClear says that nothing is doubtful, with the thresholds.
func (t fitWords) allClear() string {
	return fmt.Sprintf("Checks: all clear. No odd run (score above %s), no lone run that decides (above %s), "+
		"no growth of the rise over the log (above %s), no reading within %s of the air after %s or more.",
		trimmed(analyze.OddScore, 1), share(analyze.Influence), share(analyze.Hotter), t.Units.Rise(analyze.NearAmbientRise), units.Minutes(analyze.NearAmbientMinutes))
}

type fitJSON struct {
	Schema   int                 `json:"schema"`
	Car      string              `json:"car"`
	Current  currentJSON         `json:"current"` // where the exponents are given
	Scaling  byPart[scalingJSON] `json:"scaling"`
	Parts    byPart[partFitJSON] `json:"parts"`
	Warnings []warningJSON       `json:"warnings"`
}

type partFitJSON struct {
	RunsUsed     int               `json:"runs_used"`
	HeatStops    int               `json:"heat_stops"`
	LeftOut      []leftOutJSON     `json:"left_out"`
	RolloutLow   thousandths       `json:"rollout_low_mm"`
	RolloutHigh  thousandths       `json:"rollout_high_mm"`
	Coefficients []coefficientJSON `json:"coefficients"`
	Lines        *linesJSON        `json:"plain_lines,omitempty"`
}

type leftOutJSON struct {
	Run    string `json:"run"` // file:line
	Reason string `json:"reason"`
}

// coefficientJSON is one coefficient of ln(rise in kelvin), before and after the log.
type coefficientJSON struct {
	Name      string         `json:"name"`
	PriorMean tenThousandths `json:"prior_mean"`
	PriorSD   tenThousandths `json:"prior_sd"`
	Posterior intervalJSON   `json:"posterior"`
}

type linesJSON struct {
	OnRatio   lineJSON `json:"rise_on_ratio"`
	OnRollout lineJSON `json:"rise_on_rollout_mm"`
}

type lineJSON struct {
	Intercept  tenThousandths  `json:"intercept_k"`
	Slope      intervalJSON    `json:"slope"`
	ResidualSD tenThousandths  `json:"residual_sd_k"`
	RSquared   *tenThousandths `json:"r_squared,omitempty"`
	N          int             `json:"n"`
	DF         int             `json:"df"`
}

func toFit(car Fitted) fitJSON {
	last := analyze.ConditionsOf(car.Last)
	return fitJSON{
		Schema: Schema, Car: car.Car.Name, Current: toCurrent(last), Scaling: scalingOf(car.Car, last),
		Parts: eachFit(car.Car, toPartFit), Warnings: toWarnings(car.Warnings(), car.Notes),
	}
}

func toPartFit(f *analyze.Fit) partFitJSON {
	out := partFitJSON{
		RunsUsed: f.Runs, HeatStops: f.Bounds, LeftOut: []leftOutJSON{},
		RolloutLow: thousandths(f.Tested.Low), RolloutHigh: thousandths(f.Tested.High),
	}
	for _, l := range f.LeftOut {
		out.LeftOut = append(out.LeftOut, leftOutJSON{l.Position.String(), reasons[l.Reason].name})
	}
	for _, c := range f.Coefficients(analyze.ScalingLevel) {
		out.Coefficients = append(out.Coefficients, coefficientJSON{c.Name, tenThousandths(c.Prior.Mean), tenThousandths(c.Prior.SD), toInterval(c.Now)})
	}
	if onRatio, onRollout, err := f.Lines(); err == nil {
		out.Lines = &linesJSON{toLine(onRatio), toLine(onRollout)}
	}
	return out
}

func toLine(l analyze.Line) lineJSON {
	return lineJSON{
		tenThousandths(l.Intercept), toInterval(l.SlopeInterval(lineLevel)), tenThousandths(l.ResidualSD),
		optional(tenThousandths(l.RSquared), l.HasRSquared), l.N, l.DF,
	}
}
