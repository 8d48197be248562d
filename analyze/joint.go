package analyze

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"regear/analyze/run"
	"regear/analyze/units"
)

// Limits are the temperatures that parts should stay under. A part without a
// limit is absent.
type Limits = run.ByPart[units.Celsius]

// Chance is the probability that a run stays under limits.
type Chance struct {
	All  float64 // every limited and measured part under its own
	Part run.ByPart[float64]
}

// Before a log tells, two parts' residuals in one run are believed to correlate as
// sharedScatter says, with the evidence of sharedRuns runs: both follow the same
// driver and the same day. Common practice, no source.
const (
	sharedScatter = 0.6
	sharedRuns    = 8
)

// Under returns the probability that a run under conditions cond stays under the limits:
// see [Forecast.Under].
func (c *Car) Under(cond Conditions, limits Limits) Chance { return c.Forecast(cond).Under(limits) }

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
// together, shrunk towards sharedScatter, in [0, maxCorrelation]. A part without a fit
// is nil.
func residualCorrelation(parts []*measured) float64 {
	sum, n := sharedScatter*sharedRuns, float64(sharedRuns)
	for i, p := range parts {
		for _, q := range parts[:i] {
			if p == nil || q == nil {
				continue
			}
			if r, both := commonCorrelation(p, q); both > 0 {
				sum += both * r
				n += both
			}
		}
	}
	return min(max(sum/n, 0), maxCorrelation)
}

// commonCorrelation returns the correlation of two parts' residuals about 0, and the
// number of runs that both fits used in full; 0 runs where it can't be given.
func commonCorrelation(p, q *measured) (correlation, both float64) {
	var pp, qq, pq float64
	// Both keep the log's order, so one pass pairs them.
	for i, j := 0, 0; i < len(p.at) && j < len(q.at); {
		switch {
		case p.at[i] < q.at[j]:
			i++
		case p.at[i] > q.at[j]:
			j++
		default:
			if !p.stoppedByHeat(i) {
				pp += p.residual[i] * p.residual[i]
				qq += q.residual[j] * q.residual[j]
				pq += p.residual[i] * q.residual[j]
				both++
			}
			i++
			j++
		}
	}
	if scale := math.Sqrt(pp * qq); scale > 0 {
		return pq / scale, both
	}
	return 0, 0
}
