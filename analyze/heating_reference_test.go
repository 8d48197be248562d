package analyze

import (
	"math"
	"testing"

	"regear/analyze/run"
	"regear/analyze/units"
)

// TestHeatingReachesHandbookTable holds the share of the plateau after one to six time
// constants against the step response of a first-order system: Mechanical Engineers'
// Handbook, volume 2, page 333, table 6 (read), and 1 - exp(-n) to seven places
// (computed).
func TestHeatingReachesHandbookTable(t *testing.T) {
	const tau = 6.5
	for i, c := range []struct{ handbook, exact float64 }{
		{0.632, 0.6321206}, {0.865, 0.8646647}, {0.950, 0.9502129},
		{0.982, 0.9816844}, {0.993, 0.9932621}, {0.998, 0.9975212},
	} {
		got := Heating(units.Minutes(float64(i+1)*tau), tau)
		if math.Abs(got-c.handbook) > 0.0005 || math.Abs(got-c.exact) > 0.5e-7 {
			t.Errorf("after %d time constants %.8f, want %.3f and %.7f", i+1, got, c.handbook, c.exact)
		}
	}
	// 95 % are reached after ln 20 = 2.995732 time constants; from 10 to 90 % it takes
	// ln 9 = 2.197225 of them. Rules "3" and "2.2": licchavilyceum.com, first-order
	// system (read); the figures computed.
	reached := func(share float64) float64 {
		return Root(func(m float64) float64 { return Heating(units.Minutes(m), tau) - share }, 0, 100, 1e-14) / tau
	}
	if got := reached(0.95); math.Abs(got-2.995732) > 0.5e-6 {
		t.Errorf("95 %% after %.7f time constants, want 2.995732", got)
	}
	if got := reached(0.9) - reached(0.1); math.Abs(got-2.197225) > 0.5e-6 {
		t.Errorf("from 10 to 90 %% in %.7f time constants, want 2.197225", got)
	}
	if got := Heating(0, tau); got != 0 {
		t.Errorf("%g at once", got)
	}
	// A thousandth of a time constant is where 1 - exp(-x) would lose digits: x - x²/2 + x³/6.
	if got, want := Heating(1e-9, 1), 1e-9-0.5e-18; apart(got, want) > 1e-15 {
		t.Errorf("Heating(1e-9) is %.17g, want %.17g", got, want)
	}
}

// cooling is a body that cools in a room: what is left of its excess after some minutes
// is what a fit calls carried.
type cooling struct{ start, room, tau float64 }

// at returns the temperature after some minutes, in the unit of start and room.
func (c cooling) at(minutes float64) float64 {
	cond := Conditions{Ambient: units.Celsius(c.room), Minutes: units.Minutes(minutes)}
	cond.Start.Set(run.Motor, units.Celsius(c.start))
	return c.room + float64(carried(&cond, run.Motor, c.tau))
}

// until returns when the temperature has fallen to a value.
func (c cooling) until(temperature float64) float64 {
	return Root(func(m float64) float64 { return c.at(m) - temperature }, 0, 1000, 1e-14)
}

// TestCarriedReachesWorkedCoolings holds what is left of a warm start against worked
// examples of Newton's law of cooling. The law knows no unit, so °F may stand for °C.
func TestCarriedReachesWorkedCoolings(t *testing.T) {
	// The cooling of a cake: 300 °F, after 3 minutes 200 °F, in a room of 70 °F, so
	// T = 70 + 230 exp(-0.19018 t) (read in stored answers); the times computed from it.
	cake := cooling{300, 70, 3 / math.Log(230.0/130)}
	if got := -1 / cake.tau; math.Abs(got+0.19018) > 0.000005 {
		t.Errorf("the cake cools at %.6f a minute, want -0.19018", got)
	}
	if got := cake.at(3); math.Abs(got-200) > 1e-9 {
		t.Errorf("the cake has %g °F after 3 minutes, want 200", got)
	}
	for temperature, want := range map[float64]float64{75: 20.13, 74: 21.30, 73: 22.82, 72: 24.95, 71: 28.59, 70.5: 32.24} {
		if got := cake.until(temperature); math.Abs(got-want) > 0.005 {
			t.Errorf("the cake has %g °F after %.3f minutes, want %.2f", temperature, got, want)
		}
	}

	// Illustrative Mathematics, task 382: f(t) = 110 exp(-0.08 t) + 75. Read up to the step
	// t = ln(110/65)/0.08 for 140; the times computed.
	coffee := cooling{185, 75, 1 / 0.08}
	if got := coffee.at(0); got != 185 {
		t.Errorf("the cup starts at %g, want 185", got)
	}
	for temperature, want := range map[float64]float64{140: 6.57616, 100: 18.52006} {
		if got := coffee.until(temperature); math.Abs(got-want) > 0.5e-5 {
			t.Errorf("the cup has %g after %.6f minutes, want %g", temperature, got, want)
		}
	}

	// mathhelpforum.com, thread 126430, an exam question (read): 95 to 61 °C in 30 minutes
	// in a room of 20 °C, so k = 0.02; exactly ln(75/41)/30 = 0.0201305.
	const rate = 0.0201305
	if got := (cooling{95, 20, 1 / rate}).at(30); math.Abs(got-61) > 0.0001 || math.Round(rate*100)/100 != 0.02 {
		t.Errorf("%.5f °C after half an hour, want 61", got)
	}

	// web2.0calc.com, "can't figure this out" (read): 180 and 126 at 0 and 5 minutes in a
	// room of 70; k = 0.1350257 and 120 at 5.84 minutes recomputed. The later points of
	// that table were read off something real and don't follow the law.
	bowl := cooling{180, 70, 1 / 0.1350257}
	if got := bowl.at(5); math.Abs(got-126) > 0.0001 {
		t.Errorf("the bowl has %.5f after 5 minutes, want 126", got)
	}
	if got := bowl.until(120); math.Abs(got-5.84) > 0.005 {
		t.Errorf("the bowl has 120 after %.4f minutes, want 5.84", got)
	}
}

// TestCarriedWithoutStart asks that a part which nobody read before the run, and one
// that started at ambient, carry nothing; and that a cold one carries less than nothing.
func TestCarriedWithoutStart(t *testing.T) {
	c := driven(15, 8, 20)
	if got := carried(&c, run.Motor, 6); got != 0 {
		t.Errorf("unread: %g", got)
	}
	c = after(20, c)
	if got := carried(&c, run.Motor, 6); got != 0 {
		t.Errorf("at ambient: %g", got)
	}
	if got := carried(&c, run.ESC, 6); got != 0 {
		t.Errorf("another part's start: %g", got)
	}
	c = after(10, c)
	if got := carried(&c, run.Motor, 6); !(got < 0 && got > -10) {
		t.Errorf("10 K below ambient: %g", got)
	}
}
