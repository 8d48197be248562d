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
		if s.squares.sum != 0 || s.exact.value() != 1 || s.answered.value() != 1 || s.teeth.sum != 0 || s.needless.sum != 0 || s.enough.value() != 1 {
			t.Errorf("set %v: %+v", set, s)
		}
		if covered := s.content.value(); math.Abs(covered-0.8) > 0.001 {
			t.Errorf("set %v: true 80 %% intervals hold %.4f", set, covered)
		}
		for i, stated := range s.stated {
			if actual := s.actual[i]; math.Abs(stated.sum-actual.sum) > 1e-9 {
				t.Errorf("set %v: bin %d states %+v and gets %+v", set, i, stated, actual)
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
	if s.content.n != 2 || math.Abs(s.content.sum-0.4) > 1e-12 {
		t.Errorf("the intervals hold %+v, want 4 of 10 readings in one and none in the other", s.content)
	}
	if s.holds != (mean{0.95, 1}) || s.enough != (mean{1, 1}) {
		t.Errorf("pick 14 holds %+v, enough %+v", s.holds, s.enough)
	}
	if s.answered != (mean{1, 1}) || s.teeth != (mean{1, 1}) || s.exact != (mean{0, 1}) || s.needless != (mean{}) {
		t.Errorf("one tooth below the best, 15: %+v", s)
	}
	if s.stated[9] != (mean{0.9, 1}) || s.actual[9] != (mean{0.95, 1}) {
		t.Errorf("stated 90 %% and more: %+v, in truth %+v", s.stated[9], s.actual[9])
	}
}

func TestJudgeSilence(t *testing.T) {
	none := Answer{Forecasts: make([]Forecast, 2)}
	var s score
	s.add(handGarage(0.9, 0.5), none) // a pinion was there to pick
	s.add(handGarage(0.5, 0.3), none) // none was
	s.add(handGarage(0.5, 0.3), Answer{Pick: 15, Forecasts: make([]Forecast, 2)})
	if s.answered != (mean{0, 1}) || s.needless != (mean{1, 2}) || s.holds != (mean{0.3, 1}) {
		t.Errorf("%+v", s)
	}
}
