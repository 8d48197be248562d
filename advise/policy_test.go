package advise

import (
	"errors"
	"slices"
	"testing"
	"time"

	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// hotCar is an invented car that runs its motor hot on 17 teeth and less so on 16.
func hotCar(t *testing.T) *analyze.Car {
	t.Helper()
	var runs []runlog.Run
	for i, run := range []struct {
		pinion int
		peak   units.Celsius
	}{{17, 88}, {17, 91}, {16, 82}, {16, 84}, {17, 89}} {
		r := runlog.Run{
			When:    time.Date(2026, time.May, 2+i/3, 10+i, 0, 0, 0, time.UTC),
			Gearing: drivetrain.Gearing{Pinion: run.pinion, Spur: 68, Internal: 2.5},
			Tire:    118, Ambient: 24, Minutes: 12,
		}
		r.Peak.Set(runlog.Motor, run.peak)
		runs = append(runs, r)
	}
	car, err := analyze.FitCar(runs)
	if err != nil {
		t.Fatal(err)
	}
	return car
}

// asked is a request about the hot car's next run, with the motor limited.
func asked(car *analyze.Car, limit units.Celsius) Request {
	return Request{
		Limits:     map[runlog.Part]Limit{runlog.Motor: {Temperature: limit, Origin: Given}},
		Confidence: 0.8,
		Gearings:   Pinions(car.Last.Gearing, PinionsAround(17), []int{68}),
		Next:       analyze.ConditionsOf(car.Last),
		MaxStepUp:  2,
	}
}

func advised(t *testing.T, car *analyze.Car, r Request) *Advice {
	t.Helper()
	a, err := For(car, r)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// TestPickOfMadeUpChances runs the policy on candidates whose chances are given: the
// tallest that reaches the confidence inside the step up, else the most probable.
func TestPickOfMadeUpChances(t *testing.T) {
	type candidate struct {
		pinion   int
		chance   float64
		tooFarUp bool
	}
	for _, c := range []struct {
		reason     string
		candidates []candidate
		pick       int
		action     Action
	}{
		{"the tallest of those that reach it", []candidate{{14, 0.95, false}, {15, 0.85, false}, {16, 0.5, false}}, 15, GearDown},
		{"the present one, if it is the tallest", []candidate{{16, 0.99, false}, {17, 0.8, false}, {18, 0.79, false}}, 17, Keep},
		{"a taller one is wasted no more", []candidate{{17, 0.99, false}, {18, 0.9, false}}, 18, GearUp},
		{"but not too far up", []candidate{{17, 0.99, false}, {18, 0.9, false}, {20, 0.9, true}}, 18, GearUp},
		{"short gearing may be the hot one", []candidate{{13, 0.6, false}, {14, 0.82, false}, {15, 0.7, false}}, 14, GearDown},
		{"none: the most probable", []candidate{{14, 0.3, false}, {15, 0.4, false}, {16, 0.2, false}}, 15, NoneReachesConfidence},
		{"none inside the step up: the most probable inside it", []candidate{{16, 0.2, false}, {20, 0.9, true}}, 16, NoneReachesConfidence},
		{"all too far up: the most probable", []candidate{{20, 0.95, true}, {21, 0.9, true}}, 20, NoneReachesConfidence},
	} {
		now := drivetrain.Gearing{Pinion: 17, Spur: 68, Internal: 2.5}
		a := &Advice{Confidence: 0.8, Next: analyze.Conditions{Gearing: now, Tire: 118}}
		for _, k := range c.candidates {
			g := now.WithPinion(k.pinion)
			a.Candidates = append(a.Candidates, Candidate{
				Gearing: g, Rollout: g.Rollout(118), Chance: k.chance, Reaches: k.chance >= 0.8, TooFarUp: k.tooFarUp,
			})
		}
		a.pick()
		if a.Pick.Gearing.Pinion != c.pick || a.Action != c.action {
			t.Errorf("%s: pinion %d, action %d; want %d, %d", c.reason, a.Pick.Gearing.Pinion, a.Action, c.pick, c.action)
		}
	}
}

// TestHigherLimitsNeverGearLower, nor does less confidence wanted.
func TestHigherLimitsNeverGearLower(t *testing.T) {
	car := hotCar(t)
	before := 0
	for limit := units.Celsius(70); limit <= 120; limit += 5 {
		a := advised(t, car, asked(car, limit))
		if a.Action == NoneReachesConfidence {
			continue
		}
		if a.Pick.Gearing.Pinion < before {
			t.Errorf("limit %g °C: %d teeth, %d at a lower limit", float64(limit), a.Pick.Gearing.Pinion, before)
		}
		before = a.Pick.Gearing.Pinion
	}
	if before == 0 {
		t.Error("no limit had a pick")
	}
}

// TestHelpHelps asks of every help that it reaches the confidence and that a little less
// of it would not.
func TestHelpHelps(t *testing.T) {
	car := hotCar(t)
	r := asked(car, 77)
	r.Gearings = Pinions(car.Last.Gearing, []int{16, 17}, []int{68})
	a := advised(t, car, r)
	if a.Action != NoneReachesConfidence || a.Help.Minutes == 0 || a.Help.Tire == 0 || a.Help.Spur == 0 {
		t.Fatalf("action %d, help %+v", a.Action, a.Help)
	}
	reaches := func(change func(*analyze.Conditions)) bool {
		c := a.With(a.Pick.Gearing)
		change(&c)
		return car.Under(c, analyze.Limits{runlog.Motor: 77}).All >= a.Confidence
	}
	for _, c := range []struct {
		what     string
		is, less bool
	}{
		{"minutes", reaches(func(c *analyze.Conditions) { c.Minutes = a.Help.Minutes - 0.1 }), reaches(func(c *analyze.Conditions) { c.Minutes = a.Help.Minutes + 0.1 })},
		{"tire", reaches(func(c *analyze.Conditions) { c.Tire = a.Help.Tire }), reaches(func(c *analyze.Conditions) { c.Tire = a.Help.Tire + 1 })},
		{"spur", reaches(func(c *analyze.Conditions) { c.Gearing.Spur = a.Help.Spur }), reaches(func(c *analyze.Conditions) { c.Gearing.Spur = a.Help.Spur - 1 })},
	} {
		if !c.is || c.less {
			t.Errorf("%s: reaches %v, with a little less help %v", c.what, c.is, c.less)
		}
	}
}

// TestNextTestIsSafeAndTeaches: nobody is sent to cook a motor for the sake of data.
func TestNextTestIsSafeAndTeaches(t *testing.T) {
	car := hotCar(t)
	for _, limit := range []units.Celsius{65, 75, 80, 90, 110} {
		a := advised(t, car, asked(car, limit))
		n := a.NextTest
		c := a.With(n.Gearing)
		c.Minutes = n.Minutes
		if p := car.Under(c, analyze.Limits{runlog.Motor: limit}).All; p < a.Confidence-0.01 && n.Minutes > shortestTest {
			t.Errorf("limit %g °C: the test of %d teeth for %g min stays under it with a chance of %.2f",
				float64(limit), n.Gearing.Pinion, float64(n.Minutes), p)
		}
		if !(n.Narrower > 0 && n.Narrower < 1) {
			t.Errorf("limit %g °C: narrower by %g", float64(limit), n.Narrower)
		}
	}
}

// TestPinionsAreDistinct, however often a gear is named.
func TestPinionsAreDistinct(t *testing.T) {
	got := Pinions(drivetrain.Gearing{Internal: 2}, []int{16, 15, 16}, []int{68, 64, 68})
	want := []drivetrain.Gearing{{Pinion: 15, Spur: 64, Internal: 2}, {Pinion: 15, Spur: 68, Internal: 2}, {Pinion: 16, Spur: 64, Internal: 2}, {Pinion: 16, Spur: 68, Internal: 2}}
	if !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// TestRequestsThatCantBeMet tells so.
func TestRequestsThatCantBeMet(t *testing.T) {
	car := hotCar(t)
	for _, c := range []struct {
		reason string
		change func(*Request)
	}{
		{"no confidence", func(r *Request) { r.Confidence = 0 }},
		{"certainty", func(r *Request) { r.Confidence = 1 }},
		{"no pinion", func(r *Request) { r.Gearings = nil }},
		{"a pinion without teeth", func(r *Request) { r.Gearings[0].Pinion = 0 }},
		{"a limit below the air", func(r *Request) { r.Limits[runlog.Motor] = Limit{Temperature: 20, Origin: Given} }},
		{"a limit given for what was never measured", func(r *Request) { r.Limits[runlog.ESC] = Limit{Temperature: 70, Origin: Given} }},
	} {
		r := asked(car, 80)
		c.change(&r)
		if _, err := For(car, r); !errors.As(err, new(*RequestError)) {
			t.Errorf("%s: error %v", c.reason, err)
		}
	}
	r := asked(car, 80)
	r.Limits = map[runlog.Part]Limit{runlog.ESC: {Temperature: 70, Origin: Default}}
	if _, err := For(car, r); !errors.Is(err, ErrNoLimit) {
		t.Errorf("nothing limited that was measured: error %v", err)
	}
}
