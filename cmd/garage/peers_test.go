package main

import (
	"math"
	"testing"

	domain "regear/analyze/run"
)

// cars is R's data set of that name: speed, and distance to stop.
var (
	carsSpeed = []float64{4, 4, 7, 7, 8, 9, 10, 10, 10, 11, 11, 12, 12, 12, 12, 13, 13, 13, 13, 14, 14, 14, 14, 15, 15, 15, 16, 16, 17, 17, 17, 18, 18, 18, 18, 19, 19, 19, 20, 20, 20, 20, 20, 22, 23, 24, 24, 24, 24, 25}
	carsDist  = []float64{2, 10, 4, 22, 16, 10, 18, 26, 34, 17, 28, 14, 20, 24, 28, 26, 34, 34, 46, 26, 36, 60, 80, 20, 26, 54, 32, 40, 32, 40, 50, 42, 56, 76, 84, 36, 46, 68, 32, 48, 52, 56, 64, 66, 54, 70, 92, 93, 120, 85}
)

// Prediction intervals of R 4.2.2, predict(lm(dist ~ speed, cars), interval =
// "prediction", level = 0.8).
func TestLeastSquaresAgainstR(t *testing.T) {
	tests := []struct{ speed, fit, low, high float64 }{
		{4, -1.84945985401459, -22.9508440771641, 19.2519243691349},
		{10, 21.7449927007299, 1.35179825085824, 42.1381871506016},
		{15.4, 42.98, 22.7963080835048, 63.1636919164952},
		{30, 100.393167883212, 78.7246756150539, 122.061660151369},
	}
	for _, tt := range tests {
		p := leastSquares(carsSpeed, carsDist, tt.speed, 0, 1)
		for _, c := range []struct{ got, want float64 }{{p.middle, tt.fit}, {p.quantile(0.1), tt.low}, {p.quantile(0.9), tt.high}} {
			if math.Abs(c.got-c.want) > 1e-9 {
				t.Errorf("at speed %g: %.12g, want %.12g", tt.speed, c.got, c.want)
			}
		}
	}
}

// Without a line the t interval is that of a mean; table values of t from the
// NIST/SEMATECH e-Handbook 1.3.6.7.2: t(0.90; 2) = 1.886.
func TestLeastSquaresWithoutALine(t *testing.T) {
	p := leastSquares([]float64{5, 5, 5}, []float64{78, 80, 82}, 6, 0.29, 3)
	if want := 80 + 1.886*2*math.Sqrt(4.0/3); p.middle != 80 || math.Abs(p.quantile(0.9)-want) > 0.002 {
		t.Errorf("three runs at one gearing: %g, 90 %% at %.4f, want 80 and %.4f", p.middle, p.quantile(0.9), want)
	}
	// One run: the scatter alone, and 1.2816 of it up to 90 % of a normal.
	p = leastSquares([]float64{5}, []float64{80}, 6, 0.29, 3)
	if math.Abs(p.quantile(0.9)-(80+1.2816*3)) > 0.001 {
		t.Errorf("one run: 90 %% at %.4f", p.quantile(0.9))
	}
	// Runs that agree to the degree do not state certainty.
	p = leastSquares([]float64{5, 5, 6, 6}, []float64{80, 80, 70, 70}, 5, 0.29, 3)
	if p.scale < 0.29 {
		t.Errorf("perfect agreement: scale %g", p.scale)
	}
}

func TestPeersByHand(t *testing.T) {
	q := handGarage(0, 0, 0, 0).question // 14 to 17 teeth, limit 70 °C
	log := []domain.Run{driven(16, 75, 20), driven(15, 70, 20)}
	tests := []struct {
		peer  peer
		upTo  float64 // °C read with 16 teeth, the middle
		about string
	}{
		{peer{predict: perTooth}, 75.5, "70 and one tooth"},
		{peer{predict: squareLaw}, 20 + 50*math.Pow(16.0/15, 2), "50 K and the square of 16/15"},
	}
	for _, tt := range tests {
		said := tt.peer.predict(readings(log, domain.Motor), seen(withPinion(q.Next, 16), 0))
		if got := said.quantile(0.5); math.Abs(got-tt.upTo) > 1e-9 {
			t.Errorf("%s: %.6f °C, want %.6f", tt.about, got, tt.upTo)
		}
		answer := tt.peer.Advise(log, q)
		if got := answer.Forecasts[1].Chance; math.Abs(got-0.5) > 1e-9 {
			t.Errorf("%s: a limit at the last reading is stated at %g, want one half", tt.about, got)
		}
		if answer.Pick != 14 {
			t.Errorf("%s: picks %d, want 14", tt.about, answer.Pick)
		}
	}
}

// A log that follows a power law to the letter is continued to the letter.
func TestLogLineContinuesAPowerLaw(t *testing.T) {
	var runs []reading
	for _, rollout := range []float64{20, 22, 25, 28} {
		runs = append(runs, reading{rollout: rollout, ambient: 20, peak: 20 + 0.02*math.Pow(rollout, 2.4)})
	}
	p := logLine(runs, reading{rollout: 35, ambient: 30})
	if want := 30 + 0.02*math.Pow(35, 2.4); math.Abs(p.quantile(0.5)-want) > 1e-6 {
		t.Errorf("%.6f °C, want %.6f", p.quantile(0.5), want)
	}
	// With one gearing it scales with the square.
	p = logLine(runs[:1], reading{rollout: 40, ambient: 20})
	if want := 20 + 4*0.02*math.Pow(20, 2.4); math.Abs(p.quantile(0.5)-want) > 1e-6 {
		t.Errorf("one run: %.6f °C, want %.6f", p.quantile(0.5), want)
	}
}

func TestMostAllowed(t *testing.T) {
	q := Question{Next: driven(15, 0, 20), MaxStepUp: 2}
	log := []domain.Run{driven(15, 70, 20), driven(17, 80, 20), driven(16, 70, 20)}
	if got := highestAllowed(log, q); math.Abs(got-18) > 1e-6 {
		t.Errorf("two above the last run's 16 teeth: %g", got)
	}
	q.Next.Tire *= 2 // the rollout of 16 teeth now takes 8
	if got := highestAllowed(log, q); math.Abs(got-10) > 1e-6 {
		t.Errorf("two above 8 teeth: %g", got)
	}
}

// Nobody states what is no chance, on any log.
func TestAdvisersStateChances(t *testing.T) {
	for _, set := range sets {
		for kind := range numKinds {
			g := newGarage(set, kind, 9, 1)
			for _, a := range advisers() {
				for i, f := range a.Advise(g.log, g.question).Forecasts {
					if !f.Known || !(f.Chance >= 0 && f.Chance <= 1) {
						t.Errorf("%s, %v, candidate %d: chance %g", a.Name(), kind, i, f.Chance)
					}
					for part := range g.question.Limits.All() {
						if in := f.Peaks[part]; !in.Known || !(in.Low < in.High) {
							t.Errorf("%s, %v, candidate %d: %v within %+v", a.Name(), kind, i, part, in)
						}
					}
				}
			}
		}
	}
}
