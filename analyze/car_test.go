package analyze

import (
	"testing"

	"regear/analyze/run"
	"regear/analyze/units"
)

// TestLastRunOfOneMoment: of runs of one day without a time, the later in the log is the
// later run; elsewhere the later one is, wherever it stands.
func TestLastRunOfOneMoment(t *testing.T) {
	runs := []run.Run{
		ran(driven(15, 8, 20), aDay(2), 60), ran(driven(16, 8, 20), aDay(2), 66), ran(driven(14, 8, 20), aDay(1), 55),
	}
	if got := fitted(t, runs).Last; got != &runs[1] {
		t.Errorf("the last run has %d teeth, want 16", got.Gearing.Pinion)
	}
	runs[1].Skip = true
	if got := fitted(t, runs).Last; got != &runs[0] {
		t.Errorf("but for the skipped one, the last run has %d teeth, want 15", got.Gearing.Pinion)
	}
}

// TestTestedOfSeveralParts: a rollout is tested if any part was read there.
func TestTestedOfSeveralParts(t *testing.T) {
	of := func(pinion int, part run.Part) run.Run {
		r := ran(driven(pinion, 8, 20), aDay(1), 60)
		r.Peak = run.Readings{}
		r.Peak.Set(part, 60)
		return r
	}
	rollout := func(pinion int) units.Millimeters { return driven(pinion, 8, 20).Rollout() }
	car := fitted(t, []run.Run{of(15, run.Motor), of(16, run.Motor), of(13, run.ESC), of(18, run.ESC)})
	if got, want := car.Tested(), (Span{rollout(13), rollout(18)}); got != want {
		t.Errorf("tested %v, want %v", got, want)
	}
	if got, want := car.Fit(run.Motor).Tested, (Span{rollout(15), rollout(16)}); got != want {
		t.Errorf("the motor was read at %v, want %v", got, want)
	}
	car = fitted(t, []run.Run{of(13, run.Motor), of(18, run.Motor), of(15, run.ESC)})
	if got, want := car.Tested(), (Span{rollout(13), rollout(18)}); got != want {
		t.Errorf("tested %v, want %v", got, want)
	}
}
