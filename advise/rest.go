package advise

import (
	"math"

	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// CoolEnough is how close to the air a part has to come before the next run counts as a
// cold start: what readings of one part differ by anyway. Common practice, no source.
const CoolEnough units.Rise = 5

// ChargeBelow is the highest temperature at which a LiPo battery may be charged, by the
// usual cell specification.
const ChargeBelow units.Celsius = 45

// Longest is the longest run that still reaches the wanted confidence. It is not Bounded
// where no length up to MaxMinutes breaks it, and 0 where no run at all does.
type Longest struct {
	Minutes units.Minutes
	Bounded bool
}

// Stint is how long one gearing may run, and how long the car rests afterwards.
type Stint struct {
	Gearing drivetrain.Gearing
	Cold    Longest
	Warm    Longest // from the start temperatures that were given
	// Run is the run that the rest follows: the next one, or the longest from cold where
	// that is shorter.
	Run  units.Minutes
	Rest run.ByPart[Rest]
}

// Rest is the cooling of one part:
//
//	minutes = τ ln((from - air) / CoolEnough)
//
// where τ is the time constant with which it warms up. A standing car has no wind of
// its own and cools more slowly, so this is the least that it takes.
//
// Motor and ESC go out again and rest. The battery comes out: what counts for it is Charge,
// how long it cools by the same law, to ChargeBelow, before it may be charged. It is not
// Chargeable where the air is no cooler than that.
type Rest struct {
	From       units.Celsius
	Minutes    units.Minutes
	Charge     units.Minutes // of a battery
	Chargeable bool
}

// Stints answers for the gearing now fitted and for the pick, each once.
func (a *Advice) Stints(start run.Readings) []Stint {
	all := []Stint{a.stint(a.Next.Gearing, start)}
	if a.Pick.Gearing != a.Next.Gearing {
		all = append(all, a.stint(a.Pick.Gearing, start))
	}
	return all
}

func (a *Advice) stint(g drivetrain.Gearing, start run.Readings) Stint {
	next := a.With(g)
	s := Stint{Gearing: g, Cold: a.longest(next), Run: next.Minutes}
	if s.Cold.Bounded {
		s.Run = min(s.Run, s.Cold.Minutes)
	}
	next.Start = start
	s.Warm = a.longest(next)
	after := a.With(g)
	after.Minutes = s.Run
	for _, f := range a.Car.Fits() {
		s.Rest.Set(f.Part, restOf(f, f.Predict(after).Quantile(0.5), a.Next.Ambient))
	}
	return s
}

// longest returns the longest run from the start of c. A part that starts at its limit
// may not run at all, though driving might even cool it.
func (a *Advice) longest(c analyze.Conditions) Longest {
	for part, l := range a.Limits.All() {
		if start, ok := c.Start.Of(part); ok && start >= l.Temperature {
			return Longest{Bounded: true}
		}
	}
	minutes, bounded := a.minutesToLimit(a.Car.Forecast(c))
	return Longest{minutes, bounded}
}

// RestFrom returns how long the parts take to cool from the temperatures they have now.
// A part that no run measured is left out.
func (a *Advice) RestFrom(now run.Readings) run.ByPart[Rest] {
	var all run.ByPart[Rest]
	for _, f := range a.Car.Fits() {
		if from, ok := now.Of(f.Part); ok {
			all.Set(f.Part, restOf(f, from, a.Next.Ambient))
		}
	}
	return all
}

func restOf(f *analyze.Fit, from, air units.Celsius) Rest {
	above, tau := from.Above(air), f.TimeConstant()
	rest := Rest{From: from, Minutes: coolingTime(above, CoolEnough, tau)}
	if f.Part == run.Battery && (air < ChargeBelow || from < ChargeBelow) {
		rest.Charge, rest.Chargeable = coolingTime(above, ChargeBelow.Above(air), tau), true
	}
	return rest
}

// coolingTime returns how long a rise takes to fall to another by Newton's law.
func coolingTime(above, to units.Rise, tau units.Minutes) units.Minutes {
	if above <= to {
		return 0
	}
	return tau * units.Minutes(math.Log(float64(above/to)))
}

// EarlyReading is what the part that decides should read part-way through a run with the
// pick, and the reading above which to stop: from there on the whole run is more likely
// than not to pass the limit.
type EarlyReading struct {
	Part          run.Part
	Minutes       units.Minutes
	P10, P50, P90 units.Celsius
	StopAbove     units.Celsius
}

// early returns the early readings: at 2 and at 5 minutes, which is common practice, or
// half-way through a run that is no longer than that.
func (a *Advice) early() []EarlyReading {
	const soonest units.Minutes = 1 // before, a part is not warm enough to be read
	foreseen := a.Car.Forecast(a.With(a.Pick.Gearing))
	at := readingMinutes
	if a.Next.Minutes <= at[len(at)-1] {
		at = []units.Minutes{a.Next.Minutes / 2}
	}
	var all []EarlyReading
	for _, minutes := range at {
		stop, ok := foreseen.StopAbove(a.Binding, minutes, a.Limits.At(a.Binding).Temperature)
		if !ok || minutes < soonest {
			continue
		}
		p := foreseen.Lasting(minutes).Part(a.Binding)
		all = append(all, EarlyReading{a.Binding, minutes, p.Quantile(0.1), p.Quantile(0.5), p.Quantile(0.9), stop})
	}
	return all
}
