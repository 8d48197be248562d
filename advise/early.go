package advise

import (
	"regear/analyze/run"
	"regear/analyze/units"
)

// EarlyReading is what the part that decides should read part-way through a run with the
// pick, and the reading above which to stop: from there on the whole run is more likely
// than not to pass the limit.
type EarlyReading struct {
	Part          run.Part
	Minutes       units.Minutes
	P10, P50, P90 units.Celsius
	StopAbove     units.Celsius
}

// soonest is how soon a part is warm enough to be read at all.
const soonest units.Minutes = 1

// early returns the early readings: at 2 and at 5 minutes, which is common practice, or
// half-way through a run that is no longer than that.
func (a *Advice) early() []EarlyReading {
	run := a.Car.Forecast(a.With(a.Pick.Gearing))
	at := readingMinutes
	if a.Next.Minutes <= at[len(at)-1] {
		at = []units.Minutes{a.Next.Minutes / 2}
	}
	var all []EarlyReading
	for _, minutes := range at {
		early, ok := run.Early(a.Binding, minutes, a.Limits.At(a.Binding).Temperature)
		if !ok || minutes < soonest {
			continue
		}
		all = append(all, EarlyReading{
			Part: a.Binding, Minutes: minutes, StopAbove: early.StopAbove,
			P10: early.Expected.Quantile(0.1), P50: early.Expected.Quantile(0.5), P90: early.Expected.Quantile(0.9),
		})
	}
	return all
}
