package advise

import (
	"math"
	"testing"
	"time"

	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// TestPublishedCooling holds the cooling time against a worked example, the cooling of a
// cake: from 300 to 75 °F in a room of 70 °F at k = 0.190181619 a minute (read in stored
// answers) takes ln(230/5)/k = 20.13 minutes (computed). The law knows no unit of temperature.
func TestPublishedCooling(t *testing.T) {
	if got := coolingTime(300-70, 75-70, units.Minutes(1/0.190181619)); math.Abs(float64(got)-20.13) > 0.005 {
		t.Errorf("%.4f min, want 20.13", float64(got))
	}
	for _, above := range []units.Rise{-3, 0, 5} {
		if got := coolingTime(above, CoolEnough, 6); got != 0 {
			t.Errorf("%g K above the air: %g min, want 0", above, got)
		}
	}
}

// A pack that comes out at 60 °C in air of 25 °C is down to 45 °C, where charging may begin,
// once 20 of its 35 K are left; a cooler one at once; in air of 45 °C none ever is. Only the
// battery is charged.
func TestBatteryCoolsBeforeCharging(t *testing.T) {
	a := answer(t)
	a.Next.Ambient = 25
	tau := float64(a.Car.Fit(run.Battery).TimeConstant())
	for from, want := range map[units.Celsius]float64{60: tau * math.Log(35.0/20), 45: 0, 38: 0} {
		var now run.Readings
		now.Set(run.Battery, from)
		now.Set(run.Motor, 80)
		rests := a.RestFrom(now)
		if r := rests.At(run.Battery); !r.Chargeable || math.Abs(float64(r.Charge)-want) > 1e-9 {
			t.Errorf("from %g °C: %+v, want %g min", from, r, want)
		}
		if r := rests.At(run.Motor); r.Chargeable || r.Charge != 0 {
			t.Errorf("the motor is charged: %+v", r)
		}
	}
	a.Next.Ambient = 46
	var now run.Readings
	now.Set(run.Battery, 60)
	if r := a.RestFrom(now).At(run.Battery); r.Chargeable || r.Charge != 0 {
		t.Errorf("in air of 46 °C: %+v", r)
	}
}

// answer is advice on an invented car, asked in invented circumstances.
func answer(t *testing.T) *Advice {
	t.Helper()
	var runs []run.Run
	for i, peak := range []units.Celsius{86, 78, 84, 76} {
		r := run.Run{
			When: time.Date(2026, 5, 2, 10+i, 0, 0, 0, time.UTC), HasTime: true, Car: "heron",
			Gearing: drivetrain.Gearing{Pinion: 17 - i%2, Spur: 68, Internal: 2.5}, Tire: 118, Ambient: 24, Minutes: 12, Cells: 4,
		}
		r.Peak.Set(run.Motor, peak)
		r.Peak.Set(run.Battery, 40)
		runs = append(runs, r)
	}
	car, err := analyze.FitCar(runs)
	if err != nil {
		t.Fatal(err)
	}
	next := analyze.ConditionsOf(car.Last)
	a, err := For(car, Request{
		Limits:     run.ByPart[Limit]{}.With(run.Motor, Limit{Temperature: 75, Origin: Given}),
		Confidence: 0.8, Gearings: Pinions(next.Gearing, []int{13, 14, 15, 16, 17}, []int{68}), Next: next,
	})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// A warm start leaves no more time than a cold one, a warmer one no more than a warm
// one, and at its limit a part may not run at all.
func TestWarmStartsLeaveLessTime(t *testing.T) {
	a := answer(t)
	var before []units.Minutes
	for _, start := range []units.Celsius{24, 40, 55, 74, 75, 90} {
		var now run.Readings
		now.Set(run.Motor, start)
		stints := a.Stints(now)
		if len(stints) != 2 || stints[0].Gearing != a.Next.Gearing || stints[1].Gearing != a.Pick.Gearing {
			t.Fatalf("stints %+v", stints)
		}
		for i, s := range stints {
			if !s.Cold.Bounded || !s.Warm.Bounded || s.Warm.Minutes > s.Cold.Minutes*1.001 {
				t.Errorf("from %g °C: %+v", start, s)
			}
			if len(before) > i && s.Warm.Minutes > before[i]*1.001 {
				t.Errorf("from %g °C there are %g min, from cooler %g", start, s.Warm.Minutes, before[i])
			}
			if start >= 75 && s.Warm.Minutes != 0 {
				t.Errorf("at its limit the motor may run %g min", s.Warm.Minutes)
			}
		}
		before = []units.Minutes{stints[0].Warm.Minutes, stints[1].Warm.Minutes}
	}
}

// The longest run is the one that advice names, and after it a hotter part rests longer
// than it would from cooler.
func TestRestFollowsTheRun(t *testing.T) {
	a := answer(t)
	for _, s := range a.Stints(run.Readings{}) {
		if s.Warm != s.Cold {
			t.Errorf("without a start, %+v", s)
		}
		if s.Run > a.Next.Minutes || s.Run > s.Cold.Minutes {
			t.Errorf("the rest follows a run of %g min", s.Run)
		}
		for part, r := range s.Rest.All() {
			tau := a.Car.Fit(part).TimeConstant()
			left := float64(r.From.Above(a.Next.Ambient)) * math.Exp(-float64(r.Minutes/tau))
			if r.Minutes > 0 && math.Abs(left-float64(CoolEnough)) > 1e-9 {
				t.Errorf("%v: %g K are left after the rest", part, left)
			}
		}
	}
}
