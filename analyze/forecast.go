package analyze

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"regear/analyze/run"
	"regear/analyze/units"
)

// Forecast is what a car's parts will do in one further run, on a day of its own. Each part's
// range, the chance under limits, and both for other lengths take little more to work out.
type Forecast struct {
	car   *Car
	next  Conditions
	parts run.ByPart[Prediction]
}

// Forecast foresees a run under some conditions, whose gearing, tire and minutes must be above
// 0. A start reading of theirs counts, and a part without one starts at the air's temperature.
func (c *Car) Forecast(next Conditions) *Forecast {
	out := &Forecast{car: c, next: next}
	for _, f := range c.Fits() {
		out.parts.Set(f.Part, f.Predict(next))
	}
	return out
}

// Part returns the distribution of a part's peak, as [Fit.Predict] does. The car must have
// a fit of the part.
func (f *Forecast) Part(p run.Part) Prediction { return f.parts.At(p) }

// Lasting returns the forecast of the same run with another length.
func (f *Forecast) Lasting(minutes units.Minutes) *Forecast {
	out := *f
	out.next.Minutes = minutes
	for _, fit := range f.car.Fits() {
		p := f.Part(fit.Part)
		p.parts = slices.Clone(p.parts)
		fit.atLength(p.parts, &out.next)
		out.parts.Set(fit.Part, p)
	}
	return &out
}

// Under returns the probability that the run stays under limits: that every part with a limit
// and a fit peaks at its limit at most. Without such a part it is 1.
//
// Parts share the driver and the day, so the chance of all lies between the product
// of the parts' chances and the smallest of them. A normal copula joins them: with
// z_p = Φ⁻¹(chance of p) and the correlation ρ of the parts' residuals,
//
//	chance of all = ∫ Π_p Φ((z_p + √ρ u) / √(1-ρ)) φ(u) du
//
// One ρ stands for all pairs of parts. It pools their correlations about 0, each over the n_pq
// runs that both fits used and heat did not stop, with 8 runs at 0.6 believed beforehand:
//
//	ρ = (8·0.6 + Σ n_pq r_pq) / (8 + Σ n_pq),   r_pq = Σ e_p e_q / √(Σ e_p² Σ e_q²)
//
// kept within 0 and 0.95. A residual e is by how much a run's ln(rise) lies above the fit under
// the likeliest cell of its grid.
func (f *Forecast) Under(limits Limits) Chance {
	var out Chance
	chances := make([]float64, 0, limits.Len())
	for part, foreseen := range f.parts.All() {
		if limit, ok := limits.Of(part); ok {
			p := foreseen.CDF(limit)
			out.Part.Set(part, p)
			chances = append(chances, p)
		}
	}
	out.All = jointChance(chances, f.car.correlation)
	return out
}

// StopAbove returns the reading of a part after early minutes of the run above which to stop:
// see [Fit.StopAbove]. The car must have a fit of the part.
func (f *Forecast) StopAbove(p run.Part, early units.Minutes, limit units.Celsius) (units.Celsius, bool) {
	return f.car.Fit(p).StopAbove(f.next, early, limit, f.car.correlation)
}

// Limits are the temperatures that parts should stay under. A part without a
// limit is absent.
type Limits = run.ByPart[units.Celsius]

// Chance is the probability that a run stays under limits.
type Chance struct {
	All  float64 // of every part with a limit and a fit
	Part run.ByPart[float64]
}

// Before a log tells, two parts' residuals in one run are believed to correlate as
// sharedScatter says, with the evidence of sharedRuns runs: both follow the same
// driver and the same day. Common practice, no source.
const (
	sharedScatter = 0.6
	sharedRuns    = 8
	// maxCorrelation keeps the copula's integrand wider than the step of its integral.
	maxCorrelation = 0.95
)

// Under returns the probability that a run under conditions cond stays under the limits:
// see [Forecast.Under].
func (c *Car) Under(cond Conditions, limits Limits) Chance { return c.Forecast(cond).Under(limits) }

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
	shared, alone := math.Sqrt(correlation), math.Sqrt(1-correlation)
	sum := 0.0
	for k, u := range copulaNodes {
		product := 1.0
		for _, zi := range z {
			product *= distuv.UnitNormal.CDF((zi + shared*u) / alone)
		}
		sum += copulaWeights[k] * product
	}
	return sum
}

// residualCorrelation returns how strongly the parts' residuals of one run move together: ρ in
// [Forecast.Under]. Runs holds those of the fits, in the same order.
func residualCorrelation(runs []*run.Run, fits []*Fit) float64 {
	sum, n := sharedScatter*sharedRuns, float64(sharedRuns)
	for i, p := range fits {
		for _, q := range fits[:i] {
			if r, both := commonCorrelation(runs, p, q); both > 0 {
				sum += both * r
				n += both
			}
		}
	}
	return min(max(sum/n, 0), maxCorrelation)
}

// commonCorrelation returns the correlation about 0 of two parts' residuals, Σ pq / √(Σ p² Σ q²)
// over the runs that both fits used in full, and how many these are; 0 where it can't be given.
func commonCorrelation(runs []*run.Run, p, q *Fit) (correlation, both float64) {
	var pp, qq, pq float64
	i, j := 0, 0
	for _, r := range runs {
		inP, inQ := i < len(p.used) && p.used[i] == r, j < len(q.used) && q.used[j] == r
		if inP && inQ && !r.StoppedByHeat {
			pp += p.residuals[i] * p.residuals[i]
			qq += q.residuals[j] * q.residuals[j]
			pq += p.residuals[i] * q.residuals[j]
			both++
		}
		if inP {
			i++
		}
		if inQ {
			j++
		}
	}
	if scale := math.Sqrt(pp * qq); scale > 0 {
		return pq / scale, both
	}
	return 0, 0
}
