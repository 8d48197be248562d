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

// following is an invented car on 13 to 19 teeth, a run each and one a day, whose motor's
// rise goes with rollout to the power of an exponent.
func following(t *testing.T, exponent float64, pinions ...int) *analyze.Car {
	t.Helper()
	var runs []run.Run
	for i, pinion := range pinions {
		r := run.Run{
			When:    time.Date(2026, time.May, 2+i, 10, 0, 0, 0, time.UTC),
			Gearing: drivetrain.Gearing{Pinion: pinion, Spur: 68, Internal: 2.5}, Tire: 118, Ambient: 24, Minutes: 12,
		}
		scatter := []float64{1.04, 0.97, 1.01, 0.96, 1.03, 0.98, 1}[i%7]
		r.Peak.Set(run.Motor, r.Ambient.Plus(units.Rise(60*scatter*math.Pow(float64(pinion)/16, exponent))))
		runs = append(runs, r)
	}
	car, err := analyze.FitCar(runs)
	if err != nil {
		t.Fatal(err)
	}
	return car
}

// TestWhereGearingIsNotTheLever: a part that is likely to pass its limit, while its exponent
// is more likely than not below a half. A tenth less rollout then takes less than a twentieth
// from the rise: 1 - 0.9^0.5 = 0.051. Where the log tells nothing of the exponent, nothing is
// said of the lever.
func TestWhereGearingIsNotTheLever(t *testing.T) {
	sides := map[bool]int{}
	for exponent := -0.4; exponent < 1.5; exponent += 0.1 {
		car := following(t, exponent, 13, 19, 14, 18, 16, 15, 17)
		below := car.Fit(run.Motor).ExponentBelow(analyze.ConditionsOf(car.Last), 0.5)
		for _, limit := range []units.Celsius{60, 150} {
			a := advised(t, car, asked(car, limit))
			var told []analyze.NotTheLever
			for _, w := range a.Warnings {
				if w, ok := w.(analyze.NotTheLever); ok {
					told = append(told, w)
				}
			}
			want := limit == 60 && below >= 0.5
			if want != (len(told) == 1) || want && told[0] != (analyze.NotTheLever{Part: run.Motor, Chance: below, Takes: 0.05}) {
				t.Errorf("exponent %.1f, below a half with a chance of %.2f, limit %g °C: told %+v", exponent, below, float64(limit), told)
			}
		}
		if below > 0.1 && below < 0.9 {
			sides[below >= 0.5]++
		}
	}
	if sides[false] == 0 || sides[true] == 0 {
		t.Errorf("no case near the chance of a half: %v", sides)
	}
	one := following(t, 0, 16, 16, 16)
	for _, w := range advised(t, one, asked(one, 60)).Warnings {
		if w.Code() == "gearing_not_the_lever" {
			t.Errorf("of one gearing: %+v", w)
		}
	}
}

// TestVeryHot: on the last day, a part was read above 95 °C and above its own limit; else
// where even the smallest candidate has a chance below a quarter.
func TestVeryHot(t *testing.T) {
	for _, c := range []struct {
		what     string
		hottest  units.Celsius // of the run before the last
		sameDay  bool
		limit    units.Celsius
		pinions  []int
		want     analyze.VeryHot
		isWanted bool
	}{
		{"hotter than 95 °C", 99, true, 80, []int{9, 17}, analyze.VeryHot{Part: run.Motor, Peak: 99}, true},
		{"at 95 °C", 95, true, 80, []int{9, 17}, analyze.VeryHot{}, false},
		{"on an earlier day", 99, false, 80, []int{9, 17}, analyze.VeryHot{}, false},
		{"under a limit of its own", 99, true, 100, []int{9, 17}, analyze.VeryHot{}, false},
		{"no gearing is likely to help", 90, true, 40, []int{16, 17}, analyze.VeryHot{NoGearing: true}, true},
		{"a small one may help", 90, true, 66, []int{9, 17}, analyze.VeryHot{}, false},
	} {
		var runs []run.Run
		for i, peak := range []units.Celsius{88, c.hottest, 84} {
			r := run.Run{
				When:    time.Date(2026, time.May, 2, 10+i, 0, 0, 0, time.UTC),
				Gearing: drivetrain.Gearing{Pinion: 17 - i/2, Spur: 68, Internal: 2.5}, Tire: 118, Ambient: 24, Minutes: 12,
			}
			if !c.sameDay && i == 2 {
				r.When = r.When.AddDate(0, 0, 1)
			}
			r.Peak.Set(run.Motor, peak)
			runs = append(runs, r)
		}
		car, err := analyze.FitCar(runs)
		if err != nil {
			t.Fatal(err)
		}
		r := asked(car, c.limit)
		r.Gearings = Pinions(car.Last.Gearing, c.pinions, []int{68})
		var told []analyze.VeryHot
		for _, w := range advised(t, car, r).Warnings {
			if w, ok := w.(analyze.VeryHot); ok {
				told = append(told, w)
			}
		}
		if c.isWanted != (len(told) == 1) || c.isWanted && told[0] != c.want {
			t.Errorf("%s: told %+v, want %t %+v", c.what, told, c.isWanted, c.want)
		}
	}
}

// TestMinutesToLimit: the longest run that reaches the confidence, absent where one of an hour
// does.
func TestMinutesToLimit(t *testing.T) {
	car := hotCar(t)
	bounded, unbounded := 0, 0
	for limit := units.Celsius(60); limit <= 140; limit += 2 {
		a := advised(t, car, asked(car, limit))
		for _, c := range a.Candidates {
			chance := func(minutes units.Minutes) float64 {
				return car.Forecast(a.With(c.Gearing)).Lasting(minutes).Under(a.limits()).All
			}
			if reaches := chance(MaxMinutes) >= 0.8; reaches == c.HasMinutesToLimit {
				t.Errorf("limit %g °C, %v: a run of an hour reaches it: %t, minutes to limit: %t", float64(limit), c.Gearing, reaches, c.HasMinutesToLimit)
			}
			if !c.HasMinutesToLimit {
				unbounded++
				continue
			}
			bounded++
			if shorter, longer := chance(c.MinutesToLimit*0.999), chance(c.MinutesToLimit*1.001); shorter < 0.8 || longer > 0.8 {
				t.Errorf("limit %g °C, %v: chances of %.4f and %.4f around %g min", float64(limit), c.Gearing, shorter, longer, float64(c.MinutesToLimit))
			}
		}
	}
	if bounded == 0 || unbounded == 0 {
		t.Errorf("%d bounded, %d not", bounded, unbounded)
	}
}
