package plotting

import (
	"fmt"
	"math"
	"slices"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
)

// Minutes draws the peak of one part against the minutes of the next run, for the pick
// and for the gearing of the last run. Runs are moved to the pick and keep their own
// minutes.
//
// It fails with ErrNotMeasured if no run measured the part.
func Minutes(a *advise.Advice, part run.Part, system units.System) (*Figure, error) {
	v, err := newView(a, part, system)
	if err != nil {
		return nil, err
	}
	pick := a.With(a.Pick.Gearing)
	times := v.times()
	middles, low, high := v.overTime(pick, times)
	f := &Figure{
		Title:  minutesTitle(a),
		X:      Axis{Label: "minutes of the run", Low: 0, High: times[len(times)-1]},
		Bands:  []Band{{Name: "8 of 10 runs with " + markLabel(a, a.Pick.Gearing), Over: ranges(low, high)}},
		Levels: v.limitLevel(),
	}
	f.Callouts = []Callout{v.callout(float64(a.Next.Minutes), v.of(a.Pick), Forecast,
		teeth(a, a.Pick.Gearing), degreeSpan(v.System, v.of(a.Pick).low, v.of(a.Pick).high))}
	if a.Pick.Gearing != a.Next.Gearing {
		middles, low, high := v.overTime(a.Next, times)
		f.Curves = append(f.Curves,
			Curve{Label: "now " + teeth(a, a.Next.Gearing), Role: Present, Points: middles},
			Curve{Name: "8 of 10 runs with " + markLabel(a, a.Next.Gearing), Role: Present, Thin: true, Points: low},
			Curve{Name: "8 of 10 runs with " + markLabel(a, a.Next.Gearing), Role: Present, Thin: true, Points: high})
	}
	f.Curves = append(f.Curves, split(teeth(a, a.Pick.Gearing), middles, v.testedTime(times))...)
	f.Moments = v.moments()
	runs, stopped := v.runs(func(r *run.Run) (float64, analyze.Conditions) {
		to := pick
		to.Minutes = r.Minutes
		return float64(r.Minutes), to
	})
	must := f.setApart()
	for _, m := range middles {
		must = append(must, m.Y)
	}
	f.Y = v.temperatureAxis(must, f, runs, stopped)
	f.addRuns("run, moved to "+teeth(a, a.Pick.Gearing), runs, stopped)
	f.Subtitle = join(heading(a, system), v.limitOutside(f.Y))
	f.Numbers = fmt.Sprintf("In 8 of 10 runs of %s: %s.", minutes(a.Next.Minutes), v.tell(v.of(a.Pick), teeth(a, a.Pick.Gearing)))
	return f, nil
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
	shortest, tested := v.testedMinutes()
	last := max(beyondNext*float64(v.Next.Minutes), min(tested, 2*beyondNext*float64(v.Next.Minutes)))
	if v.Pick.HasMinutesToLimit {
		last = max(last, beyondLimit*float64(v.Pick.MinutesToLimit))
	}
	last = max(min(last, float64(advise.MaxMinutes)), float64(v.Next.Minutes))
	all := []float64{noLength, float64(v.Next.Minutes)}
	for k := 1; k <= sweepKnots; k++ {
		// The forecast bends most at the start.
		all = append(all, last*math.Pow(float64(k)/sweepKnots, 1.7))
	}
	for _, t := range []float64{shortest, tested} {
		if t < last {
			all = append(all, t)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// testedMinutes returns the shortest and the longest run of the fit.
func (v view) testedMinutes() (shortest, longest float64) {
	shortest, longest = math.Inf(1), 0
	for _, r := range v.fit.Used() {
		shortest, longest = min(shortest, float64(r.Minutes)), max(longest, float64(r.Minutes))
	}
	return shortest, longest
}

// testedTime reports of each time whether the log has runs of that length, and has
// tested the pick's gearing.
func (v view) testedTime(times []float64) func(i int) bool {
	shortest, longest := v.testedMinutes()
	gearing := v.fit.Tested.Contains(v.Pick.Rollout)
	return func(i int) bool { return gearing && times[i] >= shortest && times[i] <= longest }
}

// overTime returns the forecast under c for each run length.
func (v view) overTime(c analyze.Conditions, times []float64) (middles, low, high []XY) {
	for _, t := range times {
		c.Minutes = units.Minutes(t)
		f := v.under(c)
		middles = append(middles, XY{t, v.Temperature(f.middle)})
		low = append(low, XY{t, v.Temperature(f.low)})
		high = append(high, XY{t, v.Temperature(f.high)})
	}
	return middles, low, high
}

// ranges joins a lower and an upper curve.
func ranges(low, high []XY) []Range {
	all := make([]Range, len(low))
	for i := range low {
		all[i] = Range{low[i].X, low[i].Y, high[i].Y}
	}
	return all
}

// moments marks the next run's length, and how long the pick may run.
func (v view) moments() []Level {
	all := []Level{{Label: "next run " + minutes(v.Next.Minutes), Role: Wanted, At: float64(v.Next.Minutes)}}
	if m := longest(v.Pick); m > 0 {
		all = append(all, Level{
			Label: fmt.Sprintf("%s chance up to %s", wanted(v.Confidence), minutes(m)),
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

// minutesTitle says how long the pick may run.
func minutesTitle(a *advise.Advice) string {
	pick, sure := teeth(a, a.Pick.Gearing), wanted(a.Confidence)
	switch m := longest(a.Pick); {
	case !a.Pick.HasMinutesToLimit:
		return fmt.Sprintf("%s: at least %s chance to stay under %s for any run up to %s",
			pick, sure, allLimits(a), minutes(advise.MaxMinutes))
	case m < 1:
		return fmt.Sprintf("%s: not even for a minute is there %s chance to stay under %s", pick, sure, allLimits(a))
	default:
		return fmt.Sprintf("%s: %s chance to stay under %s for runs up to %s", pick, sure, allLimits(a), minutes(m))
	}
}
