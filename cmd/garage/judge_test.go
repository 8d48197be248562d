package main

import (
	"math"
	"testing"

	"regear/analyze/drivetrain"
	domain "regear/analyze/run"
	"regear/analyze/units"
)

// Whoever states the truth gets full marks, which no adviser with a log can.
func TestOracleIsPerfect(t *testing.T) {
	for _, set := range sets {
		var s score
		for i := range 2 * int(numKinds) {
			g := newGarage(set, Kind(i)%numKinds, 4, uint64(i))
			s.add(g, g.truth.answer(g.log, g.question))
		}
		if s.squares != 0 || s.exact != s.exists || s.answered != s.exists || s.teeth != 0 || s.needless != 0 || s.enough != s.picks {
			t.Errorf("set %v: %+v", set, s)
		}
		if covered := s.content / float64(s.intervals); math.Abs(covered-0.8) > 0.001 {
			t.Errorf("set %v: true 80 %% intervals hold %.4f", set, covered)
		}
		for i, b := range s.bins {
			if b.n > 0 && math.Abs(b.stated-b.actual) > 1e-9 {
				t.Errorf("set %v: bin %d states %g and gets %g", set, i, b.stated, b.actual)
			}
		}
	}
}

// handGarage has candidates 14 to 17 with the given true chances, a log on 15 and
// readings of 60 to 69 °C for each.
func handGarage(chances ...float64) garage {
	g := garage{truth: truth{chance: chances}}
	g.log = []domain.Run{driven(15, 70, 20)}
	g.question = Question{
		Next:       driven(15, 0, 20),
		Limits:     domain.ByPart[units.Celsius]{}.With(domain.Motor, 70),
		Confidence: 0.8,
		MaxStepUp:  1,
	}
	for i := range chances {
		g.question.Candidates = append(g.question.Candidates, 14+i)
		g.truth.peaks[domain.Motor] = append(g.truth.peaks[domain.Motor], []float64{60, 61, 62, 63, 64, 65, 66, 67, 68, 69})
	}
	return g
}

// driven is a run with a pinion that peaked at a temperature in air of another.
func driven(pinion int, peak, air units.Celsius) domain.Run {
	r := domain.Run{
		When:    noon,
		Gearing: drivetrain.Gearing{Pinion: pinion, Spur: 60, Internal: 2},
		Tire:    100,
		Ambient: air,
		Minutes: 10,
	}
	if peak != 0 {
		r.Peak.Set(domain.Motor, peak)
	}
	return r
}

func TestJudge(t *testing.T) {
	g := handGarage(0.95, 0.85, 0.6, 0.9) // 17 holds by truth but lies too far up
	answer := Answer{Pick: 14, Forecasts: make([]Forecast, 4)}
	for i, chance := range []float64{0.9, 0.75, 0.5} {
		answer.Forecasts[i] = Forecast{Chance: chance, Known: true}
	}
	answer.Forecasts[0].Peaks.Set(domain.Motor, Interval{Low: 61, High: 64})
	answer.Forecasts[1].Peaks.Set(domain.Motor, Interval{Low: 80, High: 90})
	var s score
	s.add(g, answer)

	// By hand: errors 0.05, 0.1, 0.1 and, unknown, 0.5 against 0.9.
	if want := math.Sqrt((0.0025 + 0.01 + 0.01 + 0.16) / 4); math.Abs(s.rms()-want) > 1e-12 {
		t.Errorf("RMS %.6f, want %.6f", s.rms(), want)
	}
	if s.intervals != 2 || math.Abs(s.content-0.4) > 1e-12 {
		t.Errorf("%d intervals hold %g, want 4 of 10 readings in one and none in the other", s.intervals, s.content)
	}
	if s.picks != 1 || s.holds != 0.95 || s.enough != 1 {
		t.Errorf("pick 14 holds %g, enough %d", s.holds, s.enough)
	}
	if s.exists != 1 || s.answered != 1 || s.teeth != 1 || s.exact != 0 || s.needless != 0 {
		t.Errorf("one tooth below the best, 15: %+v", s)
	}
	if b := s.bins[9]; b.n != 1 || b.stated != 0.9 || b.actual != 0.95 {
		t.Errorf("stated 90 %% and more: %+v", b)
	}
}

func TestJudgeSilence(t *testing.T) {
	none := Answer{Forecasts: make([]Forecast, 2)}
	var s score
	s.add(handGarage(0.9, 0.5), none) // a pinion was there to pick
	s.add(handGarage(0.5, 0.3), none) // none was
	s.add(handGarage(0.5, 0.3), Answer{Pick: 15, Forecasts: make([]Forecast, 2)})
	if s.exists != 1 || s.answered != 0 || s.picks != 1 || s.needless != 1 || s.holds != 0.3 {
		t.Errorf("%+v", s)
	}
}
