package analyze

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"regear/analyze/run"
)

// TestGridsStandForTheirDistributions: the time constants carry R's dnorm(-2:2), brought to
// the sum 1 (R 4.2.2, computed 2026-11-27); the scatters are weighted as ln σ where 1/σ² is
// gamma with shape runs/2 and rate runs middle²/2, and reach from a quarter to 2.7 middles.
func TestGridsStandForTheirDistributions(t *testing.T) {
	grid := logNormalGrid(6, 0.4)
	for i, want := range []Weighted{
		{6 * math.Exp(-0.8), 0.054488684549643}, {6 * math.Exp(-0.4), 0.244201342003233}, {6, 0.402619946894247},
		{6 * math.Exp(0.4), 0.244201342003233}, {6 * math.Exp(0.8), 0.054488684549643},
	} {
		if apart(grid[i].Value, want.Value) > 1e-12 || apart(grid[i].Weight, want.Weight) > 1e-12 {
			t.Errorf("time constant %d: %v, want %v", i, grid[i], want)
		}
	}

	const middle, runs = 0.07, 3.0
	gamma := distuv.Gamma{Alpha: runs / 2, Beta: runs * middle * middle / 2}
	// density of ln σ: that of 1/σ² times |d σ⁻²/d ln σ|.
	density := func(sigma float64) float64 { return gamma.Prob(1/(sigma*sigma)) * 2 / (sigma * sigma) }
	scatters := scatterGrid(middle, runs)
	total, weight := 0.0, 0.0
	for _, s := range scatters {
		total += density(s.Value)
		weight += s.Weight
	}
	if math.Abs(weight-1) > 1e-12 || apart(scatters[0].Value, middle/4) > 1e-12 || apart(scatters[len(scatters)-1].Value, 2.7*middle) > 1e-12 {
		t.Errorf("weights add up to %.15g, scatters reach from %g to %g", weight, scatters[0].Value, scatters[len(scatters)-1].Value)
	}
	for _, s := range scatters {
		if apart(s.Weight, density(s.Value)/total) > 1e-10 {
			t.Errorf("scatter %g weighs %.12g, want %.12g", s.Value, s.Weight, density(s.Value)/total)
		}
	}
}

// TestPriorsAddUp asks of every part that what is averaged over has weights that sum to 1.
func TestPriorsAddUp(t *testing.T) {
	for _, part := range run.Parts {
		p := PriorOf(part)
		for name, grid := range map[string][]Weighted{
			"drifts": p.Drifts, "scatters": p.Scatters, "day shares": p.DayShares, "heat left": p.HeatLeft,
			"excesses": p.HeatStopExcesses, "time constants": p.TimeConstants,
		} {
			sum := 0.0
			for _, w := range grid {
				sum += w.Weight
			}
			if math.Abs(sum-1) > 1e-12 {
				t.Errorf("%s: the weights of %s add up to %g", part, name, sum)
			}
		}
	}
}
