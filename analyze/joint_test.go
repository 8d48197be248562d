package analyze

import (
	"math"
	"testing"

	"regear/analyze/run"
)

// TestResidualCorrelationByHand: eight runs at 0.6 are believed before, and every pair of
// parts adds its runs at their correlation about 0, Σpq/√(Σp²Σq²), within 0 and 0.95.
func TestResidualCorrelationByHand(t *testing.T) {
	log := make([]*run.Run, 100)
	for i := range log {
		log[i] = &run.Run{StoppedByHeat: i == 3}
	}
	// of returns a part that was read in some runs, with these residuals.
	of := func(at []int, residuals ...float64) *Fit {
		f := &Fit{residuals: residuals}
		for _, i := range at {
			f.used = append(f.used, log[i])
		}
		return f
	}
	motor := of([]int{0, 1, 2, 3}, 0.1, -0.2, 0.2, 5)
	// In the runs 0 and 2: Σpq = 0.02, Σp² = 0.05, Σq² = 0.02.
	esc := of([]int{0, 2, 3, 4}, -0.1, 0.1, -5, 7)
	pair := 0.01 / math.Sqrt(0.05*0.02)
	// In the runs 1 and 2 with the motor: Σpq = 0.06, Σp² = 0.08, Σq² = 0.05; in 2 alone
	// with the ESC: 1.
	battery := of([]int{1, 2}, -0.1, 0.2)

	all := make([]int, len(log))
	same, opposite := make([]float64, len(log)), make([]float64, len(log))
	for i := range all {
		all[i] = i
		same[i] = 0.05 * float64(1-2*(i%2))
		opposite[i] = -same[i]
	}
	for _, c := range []struct {
		what  string
		parts []*Fit
		want  float64
	}{
		{"nothing known", nil, 0.6},
		{"one part", []*Fit{motor}, 0.6},
		{"two parts, two runs in common that heat did not stop", []*Fit{motor, esc}, (4.8 + 2*pair) / 10},
		{"three parts", []*Fit{motor, esc, battery}, (4.8 + 2*pair + 2*0.06/math.Sqrt(0.08*0.05) + 1) / 13},
		{"no residuals to speak of", []*Fit{of([]int{0, 1}, 0, 0), of([]int{0, 1}, 0.1, 0.1)}, 0.6},
		{"always alike", []*Fit{of(all, same...), of(all, same...)}, 0.95},
		{"always opposite", []*Fit{of(all, same...), of(all, opposite...)}, 0},
	} {
		if got := residualCorrelation(log, c.parts); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %.12g, want %.12g", c.what, got, c.want)
		}
	}
}
