package analyze

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"regear/analyze/runlog"
	"regear/analyze/units"
)

// Limits are the temperatures that parts should stay under. A part without a
// limit is absent.
type Limits map[runlog.Part]units.Celsius

// Chance is the probability that a run stays under limits.
type Chance struct {
	All  float64 // every limited and measured part under its own
	Part map[runlog.Part]float64
}

// Before a log tells, two parts' residuals in one run are believed to correlate as
// sharedScatter says, with the evidence of sharedRuns runs: both follow the same
// driver and the same day. Common practice, no source.
const (
	sharedScatter = 0.6
	sharedRuns    = 8
)

// Under returns the probability that a run under conditions c stays under the limits.
//
// Parts share the driver and the day, so the chance of all lies between the product
// of the parts' chances and the smallest of them. A normal copula joins them: with
// z_p = Φ⁻¹(chance of p) and the correlation ρ of the parts' residuals,
//
//	chance of all = ∫ Π_p Φ((z_p + √ρ u) / √(1-ρ)) φ(u) du
func (c *Car) Under(cond Conditions, limits Limits) Chance {
	out := Chance{Part: make(map[runlog.Part]float64, len(limits))}
	chances := make([]float64, 0, len(limits))
	for _, f := range c.Fits() {
		limit, ok := limits[f.Part]
		if !ok {
			continue
		}
		p := f.Predict(cond).CDF(limit)
		out.Part[f.Part] = p
		chances = append(chances, p)
	}
	out.All = jointChance(chances, c.correlation)
	return out
}

// maxCorrelation keeps the copula's integrand wider than the step of its integral.
const maxCorrelation = 0.95

// The copula's integral is a sum over evenly spaced u. Such a sum errs by about
// exp(-2π²(w/step)²) where w is the width of what it sums, here √(1-ρ)/√ρ ≥ 0.22.
var copulaNodes, copulaWeights = func() (u, w []float64) {
	const step, end = 0.125, 8.0
	for x := -end; x <= end; x += step {
		u, w = append(u, x), append(w, step*distuv.UnitNormal.Prob(x))
	}
	return u, w
}()

// jointChance returns the chance that all events happen, each of the given chance,
// under a normal copula of equal correlation.
func jointChance(chances []float64, correlation float64) float64 {
	switch len(chances) {
	case 0:
		return 1
	case 1:
		return chances[0]
	}
	z := make([]float64, len(chances))
	for i, p := range chances {
		if p <= 0 {
			return 0
		}
		z[i] = distuv.UnitNormal.Quantile(min(p, 1-1e-15))
	}
	shared, own := math.Sqrt(correlation), math.Sqrt(1-correlation)
	sum := 0.0
	for k, u := range copulaNodes {
		product := 1.0
		for _, zi := range z {
			product *= distuv.UnitNormal.CDF((zi + shared*u) / own)
		}
		sum += copulaWeights[k] * product
	}
	return sum
}

// residualCorrelation returns how strongly the parts' residuals of one run move
// together, shrunk towards sharedScatter, in [0, maxCorrelation].
func (c *Car) residualCorrelation(runs []*runlog.Run) float64 {
	fits := c.Fits()
	sum, n := sharedScatter*sharedRuns, float64(sharedRuns)
	for i, f := range fits {
		for _, g := range fits[:i] {
			if r, both := commonCorrelation(runs, f, g); both > 0 {
				sum += both * r
				n += both
			}
		}
	}
	return min(max(sum/n, 0), maxCorrelation)
}

// commonCorrelation returns the correlation of two parts' residuals about 0, and the
// number of runs that both fits used in full; 0 runs where it can't be given.
func commonCorrelation(runs []*runlog.Run, f, g *Fit) (correlation, both float64) {
	var ff, gg, fg float64
	// Both fits keep the log's order, so one pass pairs them.
	i, j := 0, 0
	for _, r := range runs {
		inF, inG := i < len(f.used) && f.used[i] == r, j < len(g.used) && g.used[j] == r
		if inF && inG && !r.StoppedByHeat {
			ff += f.residuals[i] * f.residuals[i]
			gg += g.residuals[j] * g.residuals[j]
			fg += f.residuals[i] * g.residuals[j]
			both++
		}
		if inF {
			i++
		}
		if inG {
			j++
		}
	}
	if scale := math.Sqrt(ff * gg); scale > 0 {
		return fg / scale, both
	}
	return 0, 0
}
