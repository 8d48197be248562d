package main

import (
	"math"
	"testing"

	domain "regear/analyze/run"
	"regear/analyze/units"

	"gonum.org/v1/gonum/stat/distuv"
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
		p := peer{}.line(carsSpeed, carsDist, tt.speed)
		for _, c := range []struct{ share, want float64 }{{0.5, tt.fit}, {0.1, tt.low}, {0.9, tt.high}} {
			if got := p.Quantile(c.share); math.Abs(got-c.want) > 1e-9 {
				t.Errorf("at speed %g: %.12g, want %.12g", tt.speed, got, c.want)
			}
		}
	}
}

// Without a line the t interval is that of a mean; table values of t from the
// NIST/SEMATECH e-Handbook 1.3.6.7.2: t(0.90; 2) = 1.886.
func TestLeastSquaresWithoutALine(t *testing.T) {
	tests := []struct {
		name         string
		x, y         []float64
		at           float64
		middle, upTo float64 // 90 %
		tol          float64
	}{
		{"three runs at one gearing", []float64{5, 5, 5}, []float64{78, 80, 82}, 6, 80, 80 + 1.886*2*math.Sqrt(4.0/3), 0.002},
		// The scatter alone, and 1.2816 of it up to 90 % of a normal.
		{"one run", []float64{5}, []float64{80}, 6, 80, 80 + 1.2816*3, 0.001},
	}
	for _, tt := range tests {
		p := lineOnRatio.line(tt.x, tt.y, tt.at)
		if p.Quantile(0.5) != tt.middle || math.Abs(p.Quantile(0.9)-tt.upTo) > tt.tol {
			t.Errorf("%s: %g, 90 %% at %.4f, want %g and %.4f", tt.name, p.Quantile(0.5), p.Quantile(0.9), tt.middle, tt.upTo)
		}
	}
	// Runs that agree to the degree do not state certainty.
	p := lineOnRatio.line([]float64{5, 5, 6, 6}, []float64{80, 80, 70, 70}, 5)
	if scale := p.(distuv.StudentsT).Sigma; scale < 0.29 {
		t.Errorf("perfect agreement: scale %g", scale)
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
		{perTooth, 75.5, "70 and one tooth"},
		{squareLaw, 20 + 50*math.Pow(16.0/15, 2), "50 K and the square of 16/15"},
	}
	for _, tt := range tests {
		next := driven(16, 0, 20)
		if got := float64(tt.peer.peak(tt.peer.predict(log, domain.Motor, &next).Quantile(0.5), &next)); math.Abs(got-tt.upTo) > 1e-9 {
			t.Errorf("%s: %.6f °C, want %.6f", tt.about, got, tt.upTo)
		}
		answer := tt.peer.advise(log, q)
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
	law := func(rollout float64) float64 { return 0.02 * math.Pow(rollout, 2.4) }
	lawful := func(rollout float64, ambient units.Celsius) domain.Run {
		r := driven(15, 0, ambient)
		r.Tire = units.Millimeters(rollout / math.Pi * r.Gearing.FinalDriveRatio())
		r.Peak.Set(domain.Motor, ambient.Plus(units.Rise(law(rollout))))
		return r
	}
	log := []domain.Run{lawful(20, 20), lawful(22, 20), lawful(25, 20), lawful(28, 20)}
	tests := []struct {
		name string
		log  []domain.Run
		next domain.Run
		want float64
	}{
		{"four runs", log, lawful(35, 30), 30 + law(35)},
		{"one run scales with the square", log[:1], lawful(40, 20), 20 + 4*law(20)},
	}
	for _, tt := range tests {
		p := logLine.predict(tt.log, domain.Motor, &tt.next)
		if got := float64(logLine.peak(p.Quantile(0.5), &tt.next)); math.Abs(got-tt.want) > 1e-6 {
			t.Errorf("%s: %.6f °C, want %.6f", tt.name, got, tt.want)
		}
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
			for _, a := range advisers {
				for i, f := range a.advise(g.log, g.question).Forecasts {
					if !f.Known || !(f.Chance >= 0 && f.Chance <= 1) {
						t.Errorf("%s, %v, candidate %d: chance %g", a.name, kind, i, f.Chance)
					}
					for part := range g.question.Limits.All() {
						if in, known := f.Peaks.Of(part); !known || !(in.Low < in.High) {
							t.Errorf("%s, %v, candidate %d: %v within %+v", a.name, kind, i, part, in)
						}
					}
				}
			}
		}
	}
}
