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

// overTime is the sweep over run lengths under c.
func (v view) overTime(c analyze.Conditions, times []float64) (low, middle, high []XY) {
	return v.sweep(len(times), func(i int) (float64, forecast) {
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

// testedMinutes returns the shortest and the longest run of the fit.
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

// minutesTitle says how long the pick may run.
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
