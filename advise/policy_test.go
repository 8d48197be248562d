package advise

import (
	"bytes"
	"errors"
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// hotCar is an invented car that runs its motor hot on 17 teeth and less so on 16.
func hotCar(t *testing.T) *analyze.Car {
	t.Helper()
	var runs []run.Run
	for i, c := range []struct {
		pinion int
		peak   units.Celsius
	}{{17, 88}, {17, 91}, {16, 82}, {16, 84}, {17, 89}} {
		r := run.Run{
			When:    time.Date(2026, time.May, 2+i/3, 10+i, 0, 0, 0, time.UTC),
			Gearing: drivetrain.Gearing{Pinion: c.pinion, Spur: 68, Internal: 2.5},
			Tire:    118, Ambient: 24, Minutes: 12,
		}
		r.Peak.Set(run.Motor, c.peak)
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
		Limits:     run.ByPart[Limit]{}.With(run.Motor, Limit{Temperature: limit, Origin: Given}),
		Confidence: 0.8,
		Gearings:   Pinions(car.Last.Gearing, teethFrom(13, 21), []int{68}),
		Next:       analyze.ConditionsOf(car.Last),
		MaxStepUp:  2,
	}
}

// teethFrom lists pinions.
func teethFrom(least, most int) (all []int) {
	for t := least; t <= most; t++ {
		all = append(all, t)
	}
	return all
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
		return car.Under(c, analyze.Limits{}.With(run.Motor, 77)).All >= a.Confidence
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

// TestNextTestIsTheBestSafeOne looks through the candidates itself: nobody is sent to cook a
// motor for the sake of data, nor to run what teaches little or no more than the pick.
func TestNextTestIsTheBestSafeOne(t *testing.T) {
	car := hotCar(t)
	fit := car.Fit(run.Motor)
	named := 0
	for limit := units.Celsius(60); limit <= 120; limit += 2 {
		for _, confidence := range []float64{0.5, 0.8} {
			r := asked(car, limit)
			r.Confidence = confidence
			a := advised(t, car, r)
			target := a.With(a.Pick.Gearing)
			narrower := func(c analyze.Conditions) float64 {
				now, after := fit.Narrowing(target, c)
				return 1 - after/now
			}
			best, least := 0.0, 0.15
			if a.Action != NoneReachesConfidence {
				least = max(least, narrower(target))
			}
			for i := range a.Candidates {
				c := &a.Candidates[i]
				if c.Gearing == a.Pick.Gearing || c.TooFarUp {
					continue
				}
				for _, minutes := range []units.Minutes{12, 6} {
					test := a.With(c.Gearing)
					test.Minutes = minutes
					if n := narrower(test); n >= least && car.Under(test, Temperatures(a.Limits)).All >= confidence {
						best = max(best, n)
					}
				}
			}
			switch n := a.NextTest; {
			case n == nil && best > 0 && !checkFirst(a):
				t.Errorf("limit %g °C: no test, one narrows by %.3f", float64(limit), best)
			case n != nil && (n.Narrower != best || checkFirst(a)):
				t.Errorf("limit %g °C: a test that narrows by %.3f, the best safe one by %.3f", float64(limit), n.Narrower, best)
			case n != nil:
				named++
				test := a.With(n.Gearing)
				test.Minutes = n.Minutes
				if got := car.Under(test, Temperatures(a.Limits)).All; got != n.Chance || got < confidence {
					t.Errorf("limit %g °C: stated chance %.3f, it is %.3f", float64(limit), n.Chance, got)
				}
			}
		}
	}
	if named == 0 {
		t.Error("no limit had a test worth a pack")
	}
}

func checkFirst(a *Advice) bool {
	return slices.ContainsFunc(a.Warnings, func(w analyze.Warning) bool {
		return w.Code() == "very_hot" || w.Code() == "gearing_not_the_lever" || w.Code() == "runs_hotter"
	})
}

// TestStepsUp asks with a limit that nothing reaches, so that only the guard holds the pick.
func TestStepsUp(t *testing.T) {
	drive := func(pinion int, minutes units.Minutes, change func(*run.Run)) run.Run {
		r := run.Run{Gearing: drivetrain.Gearing{Pinion: pinion, Spur: 68, Internal: 2.5}, Tire: 118, Ambient: 24, Minutes: minutes}
		r.Peak.Set(run.Motor, 60)
		change(&r)
		return r
	}
	as := func(*run.Run) {}
	onlyESC := func(r *run.Run) {
		r.Peak = run.Readings{}
		r.Peak.Set(run.ESC, 50)
	}
	stopped := func(r *run.Run) { r.StoppedByHeat = true }
	smallerTire := func(r *run.Run) { r.Tire = 59 }
	for _, c := range []struct {
		reason string
		runs   []run.Run
		step   int
		spurs  []int
		pick   drivetrain.Gearing
	}{
		{"two above what is fitted and was run", []run.Run{drive(15, 12, as), drive(15, 12, as)}, 2, []int{68}, drivetrain.Gearing{Pinion: 17, Spur: 68}},
		{"two above what is fitted, though more was run", []run.Run{drive(18, 12, as), drive(15, 12, as)}, 2, []int{68}, drivetrain.Gearing{Pinion: 17, Spur: 68}},
		{"one", []run.Run{drive(15, 12, as)}, 1, []int{68}, drivetrain.Gearing{Pinion: 16, Spur: 68}},
		{"no bound", []run.Run{drive(15, 12, as)}, 0, []int{68}, drivetrain.Gearing{Pinion: 21, Spur: 68}},
		{"a run in which the motor was not read proves nothing", []run.Run{drive(13, 12, as), drive(16, 12, onlyESC)}, 2, []int{68}, drivetrain.Gearing{Pinion: 15, Spur: 68}},
		{"nor does one of a minute", []run.Run{drive(13, 12, as), drive(16, 1, as), drive(16, 1, as)}, 2, []int{68}, drivetrain.Gearing{Pinion: 15, Spur: 68}},
		{"one of half the length does", []run.Run{drive(13, 12, as), drive(16, 6, as)}, 2, []int{68}, drivetrain.Gearing{Pinion: 18, Spur: 68}},
		{"nor does one that heat stopped", []run.Run{drive(13, 12, as), drive(16, 12, stopped)}, 2, []int{68}, drivetrain.Gearing{Pinion: 15, Spur: 68}},
		{"a spur that lands on exactly two is allowed", []run.Run{drive(15, 12, as)}, 2, []int{60}, drivetrain.Gearing{Pinion: 15, Spur: 60}},
		{"it is rollout that counts", []run.Run{drive(17, 12, as), drive(30, 12, smallerTire)}, 2, []int{68}, drivetrain.Gearing{Pinion: 17, Spur: 68}},
	} {
		for i := range c.runs {
			c.runs[i].When = time.Date(2026, time.May, 2+i, 10, 0, 0, 0, time.UTC)
		}
		car, err := analyze.FitCar(c.runs)
		if err != nil {
			t.Fatal(err)
		}
		r := asked(car, 400)
		r.Next.Minutes, r.Next.Tire, r.MaxStepUp = 12, 118, c.step
		r.Limits.Set(run.ESC, Limit{Temperature: 400, Origin: Default})
		r.Gearings = Pinions(car.Last.Gearing, teethFrom(11, 21), c.spurs)
		if c.spurs[0] != 68 { // 17/68 is 15/60
			r.Gearings = append(r.Gearings, drivetrain.Gearing{Pinion: 16, Spur: 60, Internal: 2.5})
		}
		c.pick.Internal = 2.5
		if a := advised(t, car, r); a.Pick.Gearing != c.pick || !a.Pick.safe() {
			t.Errorf("%s: %v, want %v", c.reason, a.Pick.Gearing, c.pick)
		}
	}
}

// TestBindingPartIsTheLeastLikely to stay under its limit.
func TestBindingPartIsTheLeastLikely(t *testing.T) {
	for _, chances := range [][3]float64{{0.9, 0.8, 0.7}, {0.9, 0.7, 0.8}, {0.5, 0.7, 0.8}} {
		least := run.Motor
		var parts run.ByPart[PartForecast]
		for part, p := range chances {
			parts.Set(run.Part(part), PartForecast{Chance: p, HasLimit: true})
			if p < chances[least] {
				least = run.Part(part)
			}
		}
		a := &Advice{Candidates: []Candidate{{Gearing: drivetrain.Gearing{Pinion: 15, Spur: 68, Internal: 1}, Parts: parts}}}
		if a.pick(); a.Binding != least {
			t.Errorf("%v: the %s decides, want the %s", chances, a.Binding, least)
		}
	}
}

// TestTies go to the fewest teeth changed, and a chance that is just the wanted one will do.
func TestTies(t *testing.T) {
	now := drivetrain.Gearing{Pinion: 16, Spur: 64, Internal: 2}
	a := &Advice{Confidence: 0.8, Next: analyze.Conditions{Gearing: now, Tire: 100}}
	for _, g := range []drivetrain.Gearing{{Pinion: 20, Spur: 80, Internal: 2}, {Pinion: 15, Spur: 60, Internal: 2}, {Pinion: 18, Spur: 72, Internal: 2}} {
		a.Candidates = append(a.Candidates, Candidate{Gearing: g, Rollout: 100, Chance: 0.9, Reaches: true})
	}
	if a.pick(); a.Pick.Gearing.Pinion != 15 {
		t.Errorf("of equal rollouts %v was picked", a.Pick.Gearing)
	}
	car := hotCar(t)
	r := asked(car, 85)
	plain := advised(t, car, r)
	r.Confidence = plain.Candidates[2].Chance
	if a := advised(t, car, r); !a.Candidates[2].Reaches {
		t.Errorf("a chance of just the wanted %g does not reach it", r.Confidence)
	}
	r.Limits.Set(run.Motor, Limit{Temperature: r.Next.Ambient, Origin: Given})
	if _, err := For(car, r); !errors.As(err, new(*RequestError)) {
		t.Errorf("a limit that is the air: error %v", err)
	}
}

// TestCandidatesSayWhatTheyAre: the three temperatures by the chance under them, the speed
// against the last run as it was driven, and whether a run had such a rollout.
func TestCandidatesSayWhatTheyAre(t *testing.T) {
	car := hotCar(t)
	r := asked(car, 85)
	r.Next.Tire = 100
	a := advised(t, car, r)
	for _, c := range a.Candidates {
		p := car.Fit(run.Motor).Predict(a.With(c.Gearing))
		f := c.Parts.At(run.Motor)
		for q, at := range map[float64]units.Celsius{0.1: f.P10, 0.5: f.P50, 0.9: f.P90} {
			if got := p.CDF(at); math.Abs(got-q) > 1e-4 {
				t.Errorf("%v: %.5f of runs lie under what %g should", c.Gearing, got, q)
			}
		}
		// Rollout goes with pinion and tire; the last run was 17 teeth on 118 mm.
		if want := float64(c.Gearing.Pinion)*100/(17*118) - 1; math.Abs(c.SpeedChange-want) > 1e-12 {
			t.Errorf("%v: speed %+.4f, want %+.4f", c.Gearing, c.SpeedChange, want)
		}
		// 16 and 17 teeth on 118 mm are 18.9 and 20.1 on 100.
		if inside := c.Gearing.Pinion == 19 || c.Gearing.Pinion == 20; c.Outside == inside {
			t.Errorf("%v: outside %v", c.Gearing, c.Outside)
		}
	}
}

// TestCellsCountForSpeed: one cell more turns the motor faster, wherever both runs know them.
func TestCellsCountForSpeed(t *testing.T) {
	car := hotCar(t)
	a := &Advice{Current: analyze.ConditionsOf(car.Last)}
	next := a.Current
	for _, c := range []struct {
		before, after int
		want          float64
	}{{2, 3, 0.5}, {3, 2, -1. / 3}, {0, 3, 0}, {3, 0, 0}} {
		a.Current.Cells, next.Cells = c.before, c.after
		if got := a.speedChange(next); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%d to %d cells: %+.3f, want %+.3f", c.before, c.after, got, c.want)
		}
	}
}

// TestCandidatesGoOnDownwards until one reaches the confidence, or no such pinion is made.
func TestCandidatesGoOnDownwards(t *testing.T) {
	around, smaller := PinionsAround(17, 17)
	if around[0] != 13 || around[len(around)-1] != 21 || !slices.Equal(smaller, []int{12, 11, 10, 9}) {
		t.Fatalf("around %v, then %v", around, smaller)
	}
	if around, smaller := PinionsAround(8, 8); around[0] != 8 || len(smaller) > 0 {
		t.Errorf("a fitted pinion of 8: around %v, then %v", around, smaller)
	}
	car := hotCar(t)
	for limit := units.Celsius(45); limit <= 110; limit += 5 {
		r := asked(car, limit)
		r.Gearings = Pinions(car.Last.Gearing, around, []int{68})
		r.Smaller = Pinions(car.Last.Gearing, smaller, []int{68})
		slices.Reverse(r.Smaller)
		a := advised(t, car, r)
		least := a.Candidates[0].Gearing.Pinion
		switch {
		case a.Action == NoneReachesConfidence && least != SmallestPinion:
			t.Errorf("limit %g °C: none reaches it, and %d teeth is as far as was looked", float64(limit), least)
		case a.Action != NoneReachesConfidence && least < 13 && a.Pick.Gearing.Pinion != least:
			t.Errorf("limit %g °C: looked down to %d teeth for a pick of %d", float64(limit), least, a.Pick.Gearing.Pinion)
		}
	}
}

// TestReadingsPartWay come before the run's end, and stop no later than the limit.
func TestReadingsPartWay(t *testing.T) {
	car := hotCar(t)
	for _, minutes := range []units.Minutes{3, 5, 6, 12} {
		r := asked(car, 95)
		r.Next.Minutes = minutes
		a := advised(t, car, r)
		if a.Action == NoneReachesConfidence || len(a.Early) == 0 {
			t.Fatalf("%g min: action %d, early %v", float64(minutes), a.Action, a.Early)
		}
		for _, e := range a.Early {
			if !(e.Minutes < minutes && e.P10 < e.P50 && e.P50 < e.P90 && e.StopAbove > e.P50 && e.StopAbove <= 95 && e.Part == a.Binding) {
				t.Errorf("%g min: %+v", float64(minutes), e)
			}
		}
	}
	r := asked(car, 95)
	r.Next.Minutes = 1.5
	if a := advised(t, car, r); len(a.Early) > 0 {
		t.Errorf("readings within a minute: %+v", a.Early)
	}
	if a := advised(t, car, asked(car, 60)); a.Action == NoneReachesConfidence && len(a.Early) > 0 {
		t.Errorf("early readings of no pick: %+v", a.Early)
	}
}

// TestNextMinutes: heat that cut a run short doesn't say how long the next one is.
func TestNextMinutes(t *testing.T) {
	drive := func(minutes units.Minutes, stopped bool) run.Run {
		r := run.Run{Gearing: drivetrain.Gearing{Pinion: 15, Spur: 68, Internal: 2.5}, Tire: 118, Ambient: 24, Minutes: minutes, StoppedByHeat: stopped}
		r.Peak.Set(run.Motor, 60)
		return r
	}
	for _, c := range []struct {
		runs []run.Run
		want units.Minutes
		from Origin
	}{
		{[]run.Run{drive(9, false), drive(5, false)}, 5, LastRun},
		{[]run.Run{drive(9, false), drive(10, false), drive(5, true)}, 10, FullRun},
		{[]run.Run{drive(4, true), drive(5, true)}, FirstRunMinutes, Default},
		{[]run.Run{drive(15, true), drive(5, true)}, 15, Default},
	} {
		car, err := analyze.FitCar(c.runs)
		if err != nil {
			t.Fatal(err)
		}
		if got, from := NextMinutes(car); got != c.want || from != c.from {
			t.Errorf("%g min from %d, want %g from %d", float64(got), from, float64(c.want), c.from)
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
		{"a limit below the air", func(r *Request) { r.Limits.Set(run.Motor, Limit{Temperature: 20, Origin: Given}) }},
		{"a limit given for what was never measured", func(r *Request) { r.Limits.Set(run.ESC, Limit{Temperature: 70, Origin: Given}) }},
	} {
		r := asked(car, 80)
		c.change(&r)
		if _, err := For(car, r); !errors.As(err, new(*RequestError)) {
			t.Errorf("%s: error %v", c.reason, err)
		}
	}
	r := asked(car, 80)
	r.Limits = run.ByPart[Limit]{}.With(run.ESC, Limit{Temperature: 70, Origin: Default})
	if _, err := For(car, r); !errors.Is(err, ErrNoLimit) {
		t.Errorf("nothing limited that was measured: error %v", err)
	}
}

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
				return car.Forecast(a.With(c.Gearing)).Lasting(minutes).Under(Temperatures(a.Limits)).All
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

// TestPublishedSpeed holds the top speed against a worked example of a full-size car,
// whose 1750 turns a minute are 1 volt's of a motor of kV 1750: 29 in tire, overall
// ratio 2.72, 55.51 mph (wagoneers.com, gears page, read; 55.50768 exactly).
func TestPublishedSpeed(t *testing.T) {
	rollout := drivetrain.Gearing{Pinion: 1, Spur: 1, Internal: 2.72}.Rollout(units.FromInches(29))
	if mph := TopSpeed(rollout, 1750, 1, 1) / 1.609344; math.Abs(mph-55.51) > 0.005 {
		t.Errorf("%.4f mph, want 55.51", mph)
	}
	// Twice the cells turn twice as fast.
	if one, two := TopSpeed(rollout, 1750, 2, 4.2), TopSpeed(rollout, 1750, 4, 4.2); math.Abs(two-2*one) > 1e-9 {
		t.Errorf("2 cells %g km/h, 4 cells %g", one, two)
	}
}

// BenchmarkFor answers for nine pinions from the demo's season, whose fit is not counted.
func BenchmarkFor(b *testing.B) {
	season, err := os.ReadFile("../testdata/demo/season.csv")
	if err != nil {
		b.Fatal(err)
	}
	log, err := runlog.Read("season.csv", bytes.NewReader(season), runlog.Options{})
	if err != nil {
		b.Fatal(err)
	}
	car, err := analyze.FitCar(log.Runs)
	if err != nil {
		b.Fatal(err)
	}
	last := analyze.ConditionsOf(car.Last)
	req := Request{Limits: DefaultLimits(), Confidence: DefaultConfidence, MaxStepUp: DefaultMaxStepUp, Next: last,
		Gearings: Pinions(last.Gearing, teethFrom(last.Gearing.Pinion-4, last.Gearing.Pinion+4), []int{last.Gearing.Spur})}
	for b.Loop() {
		if _, err := For(car, req); err != nil {
			b.Fatal(err)
		}
	}
}
