package analyze

import (
	"slices"

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

// Early is what a part should read part-way through a run.
type Early struct {
	Expected Prediction
	// StopAbove is the reading above which the whole run is more likely than not to pass
	// the part's limit.
	StopAbove units.Celsius
}

// Early foresees a part's reading after some minutes of the run. It reports false where
// [Fit.StopAbove] does. The car must have a fit of the part.
func (f *Forecast) Early(p run.Part, minutes units.Minutes, limit units.Celsius) (Early, bool) {
	stop, ok := f.car.Fit(p).StopAbove(f.next, minutes, limit, f.car.correlation)
	return Early{f.Lasting(minutes).Part(p), stop}, ok
}
