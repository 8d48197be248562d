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

// believing returns a fit of one component, in which the coefficients are what after says,
// one by one, and whose log has its middle at the gearing of c and so many days.
func believing(prior Prior, after map[int]Belief, c Conditions, days int) *Fit {
	d := &design{lnRollout: math.Log(float64(c.Rollout())), lnTire: math.Log(float64(c.Tire)), lnCells: math.Log(float64(c.Cells)), air: c.Ambient, knowsCells: true}
	for day := range days {
		d.days = append(d.days, run.DayOf(aDay(1+day)))
	}
	standard := make([]Belief, d.columns())
	xx := sumsOf([]float64{0}, [][]float64{make([]float64, d.columns())}).xx
	for j := range standard {
		standard[j].SD = 1
	}
	base, err := newBasis(standard, xx)
	if err != nil {
		panic(err)
	}
	k := component{weight: 1, variance: 0.01}
	k.posterior = posterior{basis: base, mean: make([]float64, d.columns()), variance: make([]float64, d.columns())}
	for j, belief := range after {
		// The basis of a log that tells nothing may stand in any order.
		unit := make([]float64, d.columns())
		unit[j] = 1
		coordinates := base.at(unit).coordinates
		for i, w := range coordinates {
			if math.Abs(w) > 0.5 {
				k.mean[i], k.posterior.variance[i] = w*belief.Mean, belief.SD*belief.SD
			}
		}
	}
	return &Fit{Part: run.Motor, Prior: prior, design: d, Tested: Span{100, 200}, bases: []*basis{base}, components: []component{k}}
}

// TestInformedByTheLog: precisions add, so that a log which tells as much as the rule halves
// its variance. The log's own estimate is then the posterior's with the rule's taken out: by
// how much the posterior was moved from the rule, over 1 - ratio of the variances. With a
// ratio v, it lies a moved·v/(1-v) beyond the posterior's middle, and the 80 % interval ends
// 1.2815515655 spreads from there.
func TestInformedByTheLog(t *testing.T) {
	prior := Prior{Exponent: Belief{1.5, 0.9}, Bend: Belief{10, 0.8}}
	here := driven(16, 9, 22)
	const z80 = 1.2815515655446004
	// moves to the end of the interval, of the rule's spread, at a ratio of 0.4
	end := 0.9 * z80 * math.Sqrt(0.4) * 0.6 / 0.4
	for _, c := range []struct {
		what         string
		ratio, moved float64
		want         Source
	}{
		{"a little more than the rule", 0.499, 0, FromLog},
		{"a little less", 0.501, 0, FromBoth},
		{"its own estimate just inside, above", 0.4, 0.999 * end, FromLog},
		{"just outside, above", 0.4, 1.001 * end, FromBoth},
		{"just inside, below", 0.4, -0.999 * end, FromLog},
		{"just outside, below", 0.4, -1.001 * end, FromBoth},
	} {
		f := believing(prior, map[int]Belief{colExponent: {1.5 + c.moved, 0.9 * math.Sqrt(c.ratio)}}, here, 1)
		if got := f.InformedBy(here); got != c.want {
			t.Errorf("%s: source %d, want %d", c.what, got, c.want)
		}
	}
	// One gearing tells nothing, whatever else is believed.
	f := believing(prior, map[int]Belief{colExponent: {1.5, 0.1}}, here, 1)
	f.Tested = Span{150, 150}
	if got := f.InformedBy(here); got != FromPrior {
		t.Errorf("one gearing: source %d", got)
	}
	// Two teeth up, the rule's bend adds to its exponent.
	f = believing(prior, map[int]Belief{colExponent: {1.5, 0.5}, colBend: {10, 0.1}}, here, 1)
	if got := f.InformedBy(driven(18, 9, 22)); got != FromLog {
		t.Errorf("as the rule says, away from the middle: source %d", got)
	}
}

// TestRunsHotter: a growth is told that is both large and sure. Sure is a chance of 0.95
// that there is any, which is a mean of 1.6449 spreads.
func TestRunsHotter(t *testing.T) {
	here := driven(16, 9, 22)
	for _, c := range []struct {
		what           string
		growth, spread float64 // spread in units of the mean
		days           int
		want           float64 // growth told; 0: none
	}{
		{"large and sure", 0.2, 1 / 1.75, 5, 0.2},
		{"large, not sure", 0.2, 1 / 1.55, 5, 0},
		{"sure, not large", 0.05, 0.01, 5, 0},
		{"just large enough", 0.0801, 0.01, 5, 0.0801},
		{"just not", 0.0799, 0.01, 5, 0},
		{"over half the way", 0.2, 0.01, 3, math.Sqrt(1.2) - 1},
		{"cooler", -0.2, -0.01, 5, 0},
	} {
		mean := math.Log1p(c.growth)
		f := believing(Prior{}, map[int]Belief{colDrift: {mean, mean * c.spread}}, here, c.days)
		told := 0.0
		for _, w := range f.hotter() {
			told = w.(RunsHotter).Growth
		}
		if math.Abs(told-c.want) > 1e-6 {
			t.Errorf("%s: growth %g, want %g", c.what, told, c.want)
		}
	}
}
