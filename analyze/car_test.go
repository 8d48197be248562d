package analyze

import (
	"math"
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

// TestRestsBefore: a run's date is when it ended, so that the rest before it is what lies
// between the end of the run before and its own, less its minutes.
func TestRestsBefore(t *testing.T) {
	one := func(day, hour, minute int, minutes units.Minutes) *run.Run {
		r := atTime(hour, minute, ran(driven(15, minutes, 20), aDay(day), 60))
		return &r
	}
	untimed := func(r *run.Run) *run.Run { r.HasTime = false; return r }
	first := one(1, 10, 0, 8)
	for _, c := range []struct {
		what string
		then *run.Run
		rest units.Minutes // -1: followed nothing
	}{
		{"13 minutes later, 8 of them driven", one(1, 10, 13, 8), 5},
		{"half a minute of driving more", one(1, 10, 13, 8.5), 4.5},
		{"half an hour of rest", one(1, 10, 38, 8), 30},
		{"a minute more", one(1, 10, 39, 8), -1},
		{"a minute too early, as clocks are read", one(1, 10, 7, 8), 0},
		{"two minutes too early", one(1, 10, 6, 8), 0},
		{"three minutes too early", one(1, 10, 5, 8), -1},
		{"the next day", one(2, 10, 13, 8), -1},
		{"without a time of its own", untimed(one(1, 10, 13, 8)), -1},
	} {
		for _, runs := range [][]*run.Run{{first, c.then}, {c.then, first}} {
			before := restsBefore(runs, nil)
			for i, r := range runs {
				got := before[i]
				if r == first || c.rest < 0 {
					if got.run != nil {
						t.Errorf("%s: %+v, want none", c.what, got)
					}
					continue
				}
				if got.run != first || math.Abs(float64(got.rest-c.rest)) > 1e-12 {
					t.Errorf("%s: %+v, want a rest of %g minutes", c.what, got, c.rest)
				}
			}
		}
	}
	early := *first
	early.HasTime = false
	if got := restsBefore([]*run.Run{&early, one(1, 10, 13, 8)}, nil); got[1].run != nil {
		t.Errorf("after a run without a time: %+v, want none", got[1])
	}
	third := one(1, 10, 26, 8)
	if got := restsBefore([]*run.Run{third, first, one(1, 10, 13, 8)}, nil); got[0].run == first || got[0].rest != 5 {
		t.Errorf("the third follows %+v, want the second", got[0])
	}
	// Of runs of one moment, the later row is the later run.
	together := make([]*run.Run, 40)
	for i := range together {
		together[i] = one(1, 9, 55+i%6, 8) // up to 10:00
	}
	if got := restsBefore(append(together, one(1, 10, 13, 8)), nil); got[40].run != together[35] {
		t.Errorf("after six runs of one moment: %+v, want the last row", got[40])
	}
	// A run that is left out tells nothing of what came before, but stands between.
	if got := restsBefore([]*run.Run{first, third}, []*run.Run{one(1, 10, 13, 8)}); got[1].run != nil {
		t.Errorf("after a run that is left out: %+v, want none", got[1])
	}
	if got := restsBefore(nil, nil); len(got) != 0 {
		t.Errorf("no runs: %v", got)
	}
}

// TestWhatIsLeftOfAStart: after one time constant exp(-1) = 0.36788 of a start's heat is
// left, and a run that followed another has rested as well, and keeps a share alone.
func TestWhatIsLeftOfAStart(t *testing.T) {
	const perTau = 0.36787944117144233
	for _, c := range []struct {
		what  string
		start start
		want  float64 // after 6 minutes, with τ = 6 and half the heat left
	}{
		{"at the air", start{}, 0},
		{"logged", start{rise: 40}, 40 * perTau},
		{"below the air", start{rise: -5}, -5 * perTau},
		{"followed at once", start{rise: 40, followed: true}, 0.5 * 40 * perTau},
		{"followed after 12 minutes", start{rise: 40, followed: true, rest: 12}, 0.5 * 40 * perTau * perTau * perTau},
	} {
		if got := c.start.left(6, 6, 0.5); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %g K, want %g", c.what, got, c.want)
		}
	}
}

// TestHowARunStarts: as it was logged; without that, with the heat of the run before, if
// that is known and above the air of now.
func TestHowARunStarts(t *testing.T) {
	f := &Fit{Part: run.Motor, Prior: Prior{HeatLeft: []Weighted{{0, 0.5}, {1, 0.5}}}}
	cold := ran(driven(15, 8, 22), aDay(1), 60)
	warm := ran(after(30, driven(15, 8, 22)), aDay(1), 60)
	atAir := ran(after(22, driven(15, 8, 22)), aDay(1), 60)
	hot, cool := ran(driven(15, 8, 18), aDay(1), 70), ran(driven(15, 8, 18), aDay(1), 21)
	unread := hot
	unread.Peak = run.Readings{}
	for _, c := range []struct {
		what   string
		run    run.Run
		before before
		want   start
	}{
		{"nothing known", cold, before{}, start{}},
		{"after a run", cold, before{&hot, 5}, start{rise: 48, followed: true, rest: 5}},
		{"after one that stayed below the air of now", cold, before{&cool, 5}, start{}},
		{"after one that no one read", cold, before{&unread, 5}, start{}},
		{"logged", warm, before{&hot, 5}, start{rise: 8}},
		{"logged at the air", atAir, before{&hot, 5}, start{}},
	} {
		if got := f.startOf(&c.run, c.before); got != c.want {
			t.Errorf("%s: %+v, want %+v", c.what, got, c.want)
		}
	}
	f.Prior.HeatLeft = []Weighted{{0, 1}}
	if got := f.startOf(&cold, before{&hot, 5}); got != (start{}) {
		t.Errorf("a part that keeps no heat: %+v", got)
	}
}
