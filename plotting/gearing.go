package plotting

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
)

// Ratio draws the peak of one part against final drive ratio. The axis falls from left
// to right, so that in every figure a bigger pinion, and with it more speed and mostly
// more heat, stands further right.
//
// It fails with [ErrNotMeasured] if no run measured the part.
func Ratio(a *advise.Advice, part run.Part, system units.System) (*Figure, error) {
	axis := Axis{Label: "final drive ratio (taller gearing to the right)", Falling: true}
	return gearingFigure(a, part, system, axis, func(rollout units.Millimeters) float64 {
		return ratioFor(rollout, a.Next.Tire)
	})
}

// Rollout draws the peak of one part against rollout.
//
// It fails with [ErrNotMeasured] if no run measured the part.
func Rollout(a *advise.Advice, part run.Part, system units.System) (*Figure, error) {
	axis := Axis{Label: "rollout per turn of the motor, " + system.LengthUnit()}
	return gearingFigure(a, part, system, axis, system.Length)
}

// gearingFigure draws the peak along an axis, on which place puts a rollout on the next
// run's tire.
func gearingFigure(a *advise.Advice, part run.Part, system units.System, axis Axis, place func(rollout units.Millimeters) float64) (*Figure, error) {
	v, err := newView(a, part, system)
	if err != nil {
		return nil, err
	}
	knots := v.knots()
	low, middle, high := v.sweep(len(knots), func(i int) (float64, forecast) {
		return place(knots[i].rollout), knots[i].forecast
	})
	f := &Figure{
		Title:     fmt.Sprintf("%s expect the %s at %s in 8 of 10 runs", v.verdict(), v.part.Word(), v.expect(v.Pick)),
		Numbers:   "In 8 of 10 runs: " + v.list(v.candidates(), v.expect),
		MarksName: v.marksName(),
		X:         axis,
		Bands:     []Band{between("8 of 10 runs", low, high)},
		// Solid where the log has tested, dashed where it has not.
		Curves:   split("expected", middle, func(i int) bool { return v.fit.Tested.Contains(knots[i].rollout) }),
		Levels:   v.limitLevel(),
		Callouts: []Callout{v.callout(place(v.Pick.Rollout), v.Pick, Forecast, v.teeth(v.Pick.Gearing))},
	}
	ends := []float64{middle[0].X, middle[len(middle)-1].X}
	margin := 0.03 * (slices.Max(ends) - slices.Min(ends)) // for glyphs
	f.X.Low, f.X.High = slices.Min(ends)-margin, slices.Max(ends)+margin
	for _, l := range f.Levels {
		f.Title += ", " + l.Label
	}
	for _, c := range v.candidates() {
		f.Marks = append(f.Marks, v.mark(c, place(c.Rollout)))
		if c != v.Pick && c.Gearing == v.Next.Gearing {
			f.Callouts = append(f.Callouts, v.callout(place(c.Rollout), c, Present, "now "+v.teeth(c.Gearing)))
		}
	}
	v.addRuns(f, nil, "run, moved to these conditions", func(r *run.Run) (float64, analyze.Conditions) {
		// At its own rollout a run moves least, and a tested rollout stays a tested one.
		return place(r.Rollout()), v.at(r.Rollout())
	})
	f.Subtitle = v.gearingSubtitle(f)
	return f, nil
}

// knot is the forecast at one rollout.
type knot struct {
	rollout units.Millimeters
	forecast
}

// sweepKnots is how many steps a curve has at least. The forecast bends so little that
// the straight lines between them stay within the width in which the curve is drawn.
const sweepKnots = 24

// knots returns the forecast from the shortest gearing to be seen to the tallest. Each
// candidate and the ends of the tested span are among them.
func (v view) knots() []knot {
	low, high := v.span()
	var all []knot
	for _, c := range v.candidates() {
		all = append(all, knot{c.Rollout, v.of(c)})
	}
	add := func(rollout units.Millimeters) {
		if rollout < low || rollout > high || slices.ContainsFunc(all, func(k knot) bool { return near(k.rollout, rollout) }) {
			return
		}
		all = append(all, knot{rollout, v.under(v.at(rollout))})
	}
	add(v.fit.Tested.Low)
	add(v.fit.Tested.High)
	step := math.Pow(float64(high/low), 1.0/sweepKnots)
	for k := 0; k <= sweepKnots; k++ {
		add(low * units.Millimeters(math.Pow(step, float64(k))))
	}
	all = slices.DeleteFunc(all, func(k knot) bool { return !finite(float64(k.low)) || !finite(float64(k.high)) })
	slices.SortFunc(all, func(a, b knot) int { return cmp.Compare(a.rollout, b.rollout) })
	return slices.CompactFunc(all, func(a, b knot) bool { return near(a.rollout, b.rollout) })
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// near forgives rounding.
func near(a, b units.Millimeters) bool { return math.Abs(float64(a/b)-1) < 1e-9 }

// span returns the rollouts to be seen: every candidate, and of the tested span as much
// as does not squash them.
func (v view) span() (low, high units.Millimeters) {
	const (
		leastExtent = 1.2 // high/low of a figure with one gearing alone
		leastReach  = 1.5 // how far the tested span may stretch a short list of candidates
	)
	low, high = v.Candidates[0].Rollout, v.Candidates[0].Rollout
	for _, c := range v.Candidates {
		low, high = min(low, c.Rollout), max(high, c.Rollout)
	}
	reach := max(high/low, leastReach)
	low, high = max(min(low, v.fit.Tested.Low), low/reach), min(max(high, v.fit.Tested.High), high*reach)
	if high/low < leastExtent {
		widen := units.Millimeters(math.Sqrt(leastExtent * float64(low/high)))
		low, high = low/widen, high*widen
	}
	return low, high
}

func (v view) gearingSubtitle(f *Figure) string {
	s := []string{v.heading(), fmt.Sprintf("Chance %s: %s, wanted %s.", v.underLimits(), units.Chance(v.Pick.Chance), v.wanted())}
	if v.fit.InformedBy(v.Next) == analyze.FromPrior {
		s = append(s, "One gearing only was run: how heat changes with gearing is the general rule, not yet this car.")
	}
	otherTire := func(r *run.Run) bool { return !near(r.Tire, v.Next.Tire) }
	if f.X.Falling && slices.ContainsFunc(v.fit.Used(), otherTire) {
		s = append(s, "Runs on other tires stand where they had this rollout.")
	}
	return join(append(s, v.limitOutside(f.Y))...)
}
