package analyze

import (
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"regear/analyze/run"
	"regear/analyze/units"
)

var hindsightLimits = Limits{}.With(run.Motor, 75).With(run.ESC, 65)

// TestHindsightKnowsThePastAlone asks that each replay is the forecast of the runs
// before it, and that no later run changes it.
func TestHindsightKnowsThePastAlone(t *testing.T) {
	runs := season(9, 5)
	whole, err := LookBack(runs, hindsightLimits)
	if err != nil {
		t.Fatal(err)
	}
	first, err := LookBack(runs[:6], hindsightLimits)
	if err != nil {
		t.Fatal(err)
	}
	for i, part := range whole.Parts {
		if len(part.Replays) != len(runs)-1 {
			t.Fatalf("%s: %d replays of %d runs", part.Part, len(part.Replays), len(runs))
		}
		if !slices.Equal(part.Replays[:5], first.Parts[i].Replays) {
			t.Errorf("%s: later runs changed the replay of earlier ones", part.Part)
		}
		for k, replay := range part.Replays {
			r := &runs[k+1]
			if replay.When != r.When || replay.HasTime != r.HasTime || replay.Gearing != r.Gearing {
				t.Errorf("%s: run %d is named %v on %v", part.Part, k+1, replay.When, replay.Gearing)
			}
			p := fitted(t, runs[:k+1]).Fit(part.Part).Predict(ConditionsOf(r))
			if low, high := p.Quantile(0.1), p.Quantile(0.9); replay.Low != low || replay.High != high || replay.Before != k+1 {
				t.Errorf("%s: run %d was foreseen at %.1f to %.1f °C, the runs before it say %.1f to %.1f",
					part.Part, k+1, replay.Low, replay.High, low, high)
			}
			if replay.Held != (replay.Low <= replay.Peak && replay.Peak <= replay.High) {
				t.Errorf("%s: run %d held: %v", part.Part, k+1, replay.Held)
			}
			limit, limited := hindsightLimits.Of(part.Part)
			if replay.HasLimit != limited || limited && replay.Chance != p.CDF(limit) {
				t.Errorf("%s: run %d had a chance of %g, the runs before it say %g", part.Part, k+1, replay.Chance, p.CDF(limit))
			}
		}
	}
}

// TestHindsightLeavesHeatStopsUnjudged counts them instead.
func TestHindsightLeavesHeatStopsUnjudged(t *testing.T) {
	runs := season(6, 2)
	runs[3] = stopped(runs[3])
	h, err := LookBack(runs, Limits{})
	if err != nil {
		t.Fatal(err)
	}
	if h.HeatStops != len(run.Parts) || len(h.Parts[0].Replays) != 4 || len(h.Reliability) != 0 {
		t.Errorf("%d heat stops, %d replays, %d bands of chances", h.HeatStops, len(h.Parts[0].Replays), len(h.Reliability))
	}
}

// TestTrust sets the verdict where R's pbinom(held, replays, 0.8) puts it: 0.0104 for 3
// of 8, 0.0563 for 4 of 8, 0.1084 for 20 of 29 (R 4.2.2, computed 2026-11-25).
func TestTrust(t *testing.T) {
	for _, c := range []struct {
		held, replays int
		want          Trust
	}{
		{7, 7, TooFewReplays}, {0, 7, TooFewReplays},
		{3, 8, Doubtful}, {4, 8, Earned}, {8, 8, Earned},
		{20, 29, Earned},
	} {
		if got := trust(c.held, c.replays); got != c.want {
			t.Errorf("%d of %d: verdict %d, want %d", c.held, c.replays, got, c.want)
		}
	}
}

// The typical miss of 15, -1, 6, -5, 19, 5 and 7 K is the fourth in size, 6 K, and that of an
// even number lies between the two in the middle. The mean is 46/7 K.
func TestTypicalMissIsTheMiddleOne(t *testing.T) {
	missed := func(misses ...units.Celsius) (p PartHindsight) {
		for _, m := range misses {
			p.Replays = append(p.Replays, Replay{Middle: 60, Peak: 60 + m})
		}
		p.conclude()
		return p
	}
	if p := missed(15, -1, 6, -5, 19, 5, 7); p.TypicalMiss != 6 || math.Abs(float64(p.MeanMiss)-46.0/7) > 1e-12 {
		t.Errorf("typically %g K off, on average %g", p.TypicalMiss, p.MeanMiss)
	}
	if p := missed(-2, 9, 4, 0); p.TypicalMiss != 3 {
		t.Errorf("typically %g K off", p.TypicalMiss)
	}
	if p := missed(-2); p.TypicalMiss != 2 {
		t.Errorf("typically %g K off", p.TypicalMiss)
	}
}

// TestReliabilityByHand counts four forecasts in two bands.
func TestReliabilityByHand(t *testing.T) {
	stated := func(chance float64, under bool) Replay { return Replay{Chance: chance, HasLimit: true, Under: under} }
	got := reliability([]PartHindsight{{Replays: []Replay{
		stated(0.9, true), stated(1, false), stated(0.1, false), stated(0.0, false), {Chance: 0.5},
	}}})
	want := []Reliability{
		{Low: 0, High: 0.2, N: 2, Stated: 0.05, Happened: 0},
		{Low: 0.8, High: 1, N: 2, Stated: 0.95, Happened: 0.5},
	}
	if !slices.Equal(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
}

// TestHindsightNeedsTwoRuns of the same motor.
func TestHindsightNeedsTwoRuns(t *testing.T) {
	runs := season(2, 1)
	if _, err := LookBack(runs[:1], Limits{}); !errors.Is(err, ErrTooFewRuns) {
		t.Errorf("one run: %v", err)
	}
	runs[1].Motor = "another"
	if _, err := LookBack(runs, Limits{}); !errors.Is(err, ErrTooFewRuns) {
		t.Errorf("two motors: %v", err)
	}
}

// TestHindsightFoldsMotors: letter case and blanks make no other motor, as everywhere.
func TestHindsightFoldsMotors(t *testing.T) {
	runs := season(5, 3)
	runs[0].Motor, runs[1].Motor, runs[2].Motor, runs[3].Motor, runs[4].Motor = "13.5 turns", "13.5 Turns", "13.5turns", "13.5 TURNS", "13.5 turns"
	h, err := LookBack(runs, Limits{})
	if err != nil {
		t.Fatal(err)
	}
	for _, part := range h.Parts {
		if len(part.Replays) != len(runs)-1 {
			t.Errorf("%s: %d replays of %d runs", part.Part, len(part.Replays), len(runs))
		}
		for k, replay := range part.Replays {
			if replay.Before != k+1 {
				t.Errorf("%s: run %d was foreseen from %d runs, want %d", part.Part, k+2, replay.Before, k+1)
			}
		}
	}
}

// TestHindsightKnowsTheClock: a run that began right after another is foreseen hotter than
// the same run an hour later, and as it is where the start was read.
func TestHindsightKnowsTheClock(t *testing.T) {
	var runs []run.Run
	for i := range 6 {
		r := ran(driven(15+i%2, 8, 20), time.Date(2026, time.May, 1+i, 10, 0, 0, 0, time.UTC), 62+units.Celsius(5*(i%2)))
		r.HasTime = true
		runs = append(runs, r)
	}
	foreseen := func(rest units.Minutes, start units.Celsius) units.Celsius {
		r := ran(driven(15, 8, 20), runs[5].When.Add(time.Duration(8+rest)*time.Minute), 70)
		r.HasTime = true
		if start > 0 {
			r.Start.Set(run.Motor, start)
		}
		h, err := LookBack(append(slices.Clone(runs), r), Limits{})
		if err != nil {
			t.Fatal(err)
		}
		replays := h.Parts[0].Replays
		return replays[len(replays)-1].Middle
	}
	soon, late := foreseen(3, 0), foreseen(60, 0)
	if !(soon > late+2) {
		t.Errorf("3 minutes after a run %.1f °C are foreseen, an hour after it %.1f", float64(soon), float64(late))
	}
	if got := foreseen(3, 20); math.Abs(float64(got-late)) > 1e-9 {
		t.Errorf("from a start that was read at the air %.3f °C are foreseen, cold %.3f", float64(got), float64(late))
	}
}
