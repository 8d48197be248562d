package analyze

import (
	"testing"
	"time"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// driven returns the conditions of an invented car's run.
func driven(pinion int, minutes units.Minutes, ambient units.Celsius) Conditions {
	return Conditions{
		Gearing: drivetrain.Gearing{Pinion: pinion, Spur: 68, Internal: 2.5},
		Tire:    118, Ambient: ambient, Minutes: minutes, Cells: 2,
	}
}

// after returns c with the motor warm at the start.
func after(start units.Celsius, c Conditions) Conditions {
	c.Start.Set(run.Motor, start)
	return c
}

// on returns c on a surface.
func on(surface string, c Conditions) Conditions {
	c.Surface = surface
	return c
}

// stopped returns r cut short by heat.
func stopped(r run.Run) run.Run {
	r.StoppedByHeat = true
	return r
}

// aDay returns the n-th day of an invented season.
func aDay(n int) time.Time { return time.Date(2026, time.May, n, 0, 0, 0, 0, time.UTC) }

// ran returns a run under c on a day, whose motor peaked at peak.
func ran(c Conditions, day time.Time, peak units.Celsius) run.Run {
	r := run.Run{
		When: day, Gearing: c.Gearing, Tire: c.Tire, Ambient: c.Ambient, Minutes: c.Minutes,
		Start: c.Start, Cells: c.Cells, Surface: c.Surface, Cooling: c.Cooling,
	}
	r.Peak.Set(run.Motor, peak)
	return r
}

// motorFit fits the motor of one car under a prior.
func motorFit(t *testing.T, prior Prior, runs []run.Run) *Fit {
	t.Helper()
	car, err := fitCar(runs, func(run.Part) Prior { return prior })
	if err != nil {
		t.Fatal(err)
	}
	fit := car.Fit(run.Motor)
	if fit == nil {
		t.Fatal("the motor has no fit")
	}
	return fit
}
