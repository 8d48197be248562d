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
	low, middle, high := v.sweep(len(knots), func(i int) (float64, advise.PartForecast) {
		return place(knots[i].rollout), knots[i].PartForecast
	})
	f := &Figure{
		Title:   fmt.Sprintf("%s expect the %s at %s in 8 of 10 runs", v.verdict(), v.part.Word(), v.expect(v.Pick)),
		Numbers: "In 8 of 10 runs: " + v.list(v.candidates(), v.expect),
		X:       axis,
		Bands:   []Band{between("8 of 10 runs", low, high)},
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
	f.Rows, f.Marks = v.marksBySpur(func(c *advise.Candidate) float64 { return place(c.Rollout) })
	for _, c := range v.candidates() {
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

type knot struct {
	rollout units.Millimeters
	advise.PartForecast
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
		all = append(all, knot{c.Rollout, c.Parts.At(v.part)})
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
	all = slices.DeleteFunc(all, func(k knot) bool { return !finite(float64(k.P10)) || !finite(float64(k.P90)) })
	slices.SortFunc(all, func(a, b knot) int { return cmp.Compare(a.rollout, b.rollout) })
	return slices.CompactFunc(all, func(a, b knot) bool { return near(a.rollout, b.rollout) })
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

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

// Minutes draws the peak of one part against the minutes of the next run, for the pick
// and for the gearing of the last run. Runs are moved to the pick and keep their own
// minutes.
//
// It fails with [ErrNotMeasured] if no run measured the part.
func Minutes(a *advise.Advice, part run.Part, system units.System) (*Figure, error) {
	v, err := newView(a, part, system)
	if err != nil {
		return nil, err
	}
	pick, name := a.With(a.Pick.Gearing), v.teeth(a.Pick.Gearing)
	times := v.times()
	low, middle, high := v.overTime(pick, times)
	f := &Figure{
		Title:    v.minutesTitle(name),
		Numbers:  fmt.Sprintf("In 8 of 10 runs of %s: %s %s.", a.Next.Minutes, name, v.expect(a.Pick)),
		X:        Axis{Label: "minutes of the run", Low: 0, High: times[len(times)-1]},
		Bands:    []Band{between("8 of 10 runs with "+v.label(a.Pick.Gearing), low, high)},
		Levels:   v.limitLevel(),
		Moments:  v.moments(),
		Callouts: []Callout{v.callout(float64(a.Next.Minutes), a.Pick, Forecast, name)},
	}
	if a.Pick.Gearing != a.Next.Gearing {
		low, middle, high := v.overTime(a.Next, times)
		edge := "8 of 10 runs with " + v.label(a.Next.Gearing)
		f.Curves = append(f.Curves,
			Curve{Label: "now " + v.teeth(a.Next.Gearing), Role: Present, Points: middle},
			Curve{Name: edge, Role: Present, Thin: true, Points: low},
			Curve{Name: edge, Role: Present, Thin: true, Points: high})
	}
	shortest, longest := v.testedMinutes()
	gearing := v.fit.Tested.Contains(a.Pick.Rollout)
	f.Curves = append(f.Curves, split(name, middle, func(i int) bool {
		return gearing && times[i] >= shortest && times[i] <= longest
	})...)
	v.addRuns(f, middle, "run, moved to "+name, func(r *run.Run) (float64, analyze.Conditions) {
		to := pick
		to.Minutes = r.Minutes
		return float64(r.Minutes), to
	})
	f.Subtitle = join(v.heading(), v.limitOutside(f.Y))
	return f, nil
}

func (v view) overTime(c analyze.Conditions, times []float64) (low, middle, high []XY) {
	return v.sweep(len(times), func(i int) (float64, advise.PartForecast) {
		c.Minutes = units.Minutes(times[i])
		return times[i], v.under(c)
	})
}

// times returns the minutes at which the forecast is taken: a fine grid from nearly no
// length to past everything of interest, with the next run's and the shortest and longest
// of the log among them.
func (v view) times() []float64 {
	const (
		beyondNext  = 1.6
		beyondLimit = 1.1
		noLength    = 0.1 // a run of no length warms nothing
	)
	shortest, longest := v.testedMinutes()
	last := max(beyondNext*float64(v.Next.Minutes), min(longest, 2*beyondNext*float64(v.Next.Minutes)))
	if v.Pick.HasMinutesToLimit {
		last = max(last, beyondLimit*float64(v.Pick.MinutesToLimit))
	}
	last = max(min(last, float64(advise.MaxMinutes)), float64(v.Next.Minutes))
	all := []float64{noLength, float64(v.Next.Minutes)}
	for k := 1; k <= sweepKnots; k++ {
		// The forecast bends most at the start.
		all = append(all, last*math.Pow(float64(k)/sweepKnots, 1.7))
	}
	for _, t := range []float64{shortest, longest} {
		if t < last {
			all = append(all, t)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

func (v view) testedMinutes() (shortest, longest float64) {
	shortest, longest = math.Inf(1), 0
	for _, r := range v.fit.Used() {
		shortest, longest = min(shortest, float64(r.Minutes)), max(longest, float64(r.Minutes))
	}
	return shortest, longest
}

// moments marks the next run's length, and how long the pick may run.
func (v view) moments() []Level {
	all := []Level{{Label: "next run " + v.Next.Minutes.String(), Role: Wanted, At: float64(v.Next.Minutes)}}
	if m := longest(v.Pick); m > 0 {
		all = append(all, Level{
			Label: fmt.Sprintf("%s chance up to %s", v.wanted(), m),
			Role:  Wanted, At: float64(v.Pick.MinutesToLimit),
		})
	}
	return all
}

// longest returns the longest run with a candidate that reaches the wanted confidence,
// in whole minutes rounded down: 0 where not even one does, and where any length does.
func longest(c *advise.Candidate) units.Minutes {
	return units.Minutes(math.Floor(float64(c.MinutesToLimit)))
}

func (v view) minutesTitle(pick string) string {
	chance := fmt.Sprintf("%s chance to stay %s", v.wanted(), v.underLimits())
	switch m := longest(v.Pick); {
	case !v.Pick.HasMinutesToLimit:
		return fmt.Sprintf("%s: at least %s for any run up to %s", pick, chance, advise.MaxMinutes)
	case m < 1:
		return fmt.Sprintf("%s: not even for a minute is there %s", pick, chance)
	default:
		return fmt.Sprintf("%s: %s for runs up to %s", pick, chance, m)
	}
}
