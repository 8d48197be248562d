package analyze

import (
	"math"
	"math/rand/v2"
	"testing"

	"regear/analyze/run"
	"regear/analyze/units"
)

// earlyCar is an invented car with one time constant, so that a rise part-way and one at the
// end differ by what has been reached alone.
func earlyCar(t *testing.T) (*Fit, Prior) {
	t.Helper()
	p := PriorOf(run.Motor)
	p.TimeConstants = []Weighted{{6, 1}}
	return motorFit(t, p, []run.Run{
		ran(driven(15, 8, 20), aDay(1), 62), ran(driven(16, 8, 20), aDay(1), 69), ran(driven(17, 8, 20), aDay(2), 74),
	}), p
}

// TestStopAboveOfOneRunThrough: where all that scatters is the run's, the rise at the end is
// that part-way times what is then reached more, and so is the limit's:
//
//	stop - air = (limit - air) (1 - exp(-early/τ)) / (1 - exp(-minutes/τ))
func TestStopAboveOfOneRunThrough(t *testing.T) {
	f, _ := earlyCar(t)
	next := driven(16, 10, 24)
	for _, early := range []units.Minutes{2, 5, 9} {
		want := 24 + (75-24)*(1-math.Exp(-float64(early)/6))/(1-math.Exp(-10./6))
		if got, ok := f.StopAbove(next, early, 75, 1-1e-9); !ok || math.Abs(float64(got)-want) > 0.01 {
			t.Errorf("%g minutes: %.3f °C (%v), want %.3f", float64(early), float64(got), ok, want)
		}
	}
	if _, ok := f.StopAbove(next, 5, 25, 0.6); ok {
		t.Error("a limit a kelvin above the air has a reading that leaves hope")
	}
	if got, ok := f.StopAbove(next, 5, 200, 0.6); !ok || got > 200 {
		t.Errorf("a limit that nothing reaches: stop above %.1f °C (%v)", float64(got), ok)
	}
}

// TestStopAboveLeavesHalf draws runs, their readings part-way and at the end, as StopAbove's
// comment says they belong together: of those that read the stop, half pass the limit.
func TestStopAboveLeavesHalf(t *testing.T) {
	f, p := earlyCar(t)
	next := driven(16, 10, 24)
	const early, limit, shared, near, draws = 5, 78, 0.6, 0.4, 1_500_000
	stop, ok := f.StopAbove(next, early, limit, shared)
	if !ok {
		t.Fatal("no reading to stop at")
	}
	tau := p.TimeConstants[0].Value
	random := rand.New(rand.NewPCG(11, 2))
	x := f.design.next(&next)
	var reads, passes float64
	for i := range f.components {
		k := &f.components[i]
		mean, variance := k.along(k.basis.at(x))
		for range int(math.Round(k.weight * draws)) {
			normal := func(variance float64) float64 { return math.Sqrt(variance) * random.NormFloat64() }
			both := mean + normal(variance+k.variance*(k.day+shared))
			then := 24 + math.Exp(both+normal(k.variance*(1-shared)))*Heating(early, tau)
			last := 24 + math.Exp(both+normal(k.variance*(1-shared)))*Heating(10, tau)
			if math.Abs(then-float64(stop)) < near {
				reads++
				if last > limit {
					passes++
				}
			}
		}
	}
	// Three standard errors, and the slope over the readings that count as near.
	if share := passes / reads; math.Abs(share-0.5) > 3*math.Sqrt(0.25/reads)+0.01 || reads < 2000 {
		t.Errorf("of %.0f runs that read %.2f °C at %d minutes %.3f pass the limit", reads, float64(stop), early, share)
	}
}
