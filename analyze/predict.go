package analyze

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"regear/analyze/units"
)

// Prediction is the distribution of one part's peak in one further run, on a day
// of its own. It is a mixture of Student t distributions of ln(rise), one for each
// time constant and day effect that the log leaves possible.
type Prediction struct {
	// Outside is true where the rollout lies outside those that the fit has seen.
	Outside bool

	ambient units.Celsius
	parts   []mixed
}

// mixed is one component of a Prediction:
// peak = ambient + carry + exp(location + scale·T) with T a Student t.
type mixed struct {
	weight          float64
	plateau         float64 // location of a run without end
	carry           units.Rise
	location, scale float64
	df              float64
}

// t returns the component's Student t in standard form.
func (m *mixed) t() distuv.StudentsT { return distuv.StudentsT{Sigma: 1, Nu: m.df} }

// Predict returns the distribution of the part's peak in a run under c.
func (f *Fit) Predict(c Conditions) Prediction {
	row := f.design.next(&c)
	unseen := f.unseenVariance(c)
	out := Prediction{
		Outside: !f.Tested.Contains(c.Rollout()),
		ambient: c.Ambient,
		parts:   make([]mixed, len(f.components)),
	}
	x := mat.NewVecDense(len(row), row)
	for i := range f.components {
		k := &f.components[i]
		out.parts[i] = mixed{
			weight:  k.weight,
			plateau: mat.Dot(x, k.mean),
			scale:   math.Sqrt(k.variance() * (k.dayScatter() + unseen + k.leverage(x))),
			df:      k.df(),
		}
	}
	f.last(out.parts, &c)
	return out
}

// last fills in what depends on the run's length. All else in a prediction does not, so
// that one serves for many lengths: see [Forecast.Lasting].
func (f *Fit) last(parts []mixed, c *Conditions) {
	for i := range parts {
		m, tau := &parts[i], f.components[i].tau
		m.carry = carried(c, f.Part, tau)
		m.location = m.plateau + math.Log(heating(c.Minutes, tau))
	}
}

// unseenVariance returns the variance, in units of σ², that labels add which the
// log never saw: their own, and that of the one label that the level contains.
func (f *Fit) unseenVariance(c Conditions) float64 {
	own := f.Prior.Label * f.Prior.Label / (f.Prior.Scatter * f.Prior.Scatter)
	return own * (f.design.surfaces.unseen(c.Surface) + f.design.coolings.unseen(c.Cooling))
}

// CDF returns the probability that the peak is at most c.
func (p Prediction) CDF(c units.Celsius) float64 {
	sum := 0.0
	for i := range p.parts {
		m := &p.parts[i]
		rise := c.Above(p.ambient) - m.carry
		if rise <= 0 {
			continue
		}
		sum += m.weight * studentCDF((math.Log(float64(rise))-m.location)/m.scale, m.df)
	}
	return math.Min(sum, 1)
}

// Quantile returns the peak that is not exceeded with probability q, 0 < q < 1.
func (p Prediction) Quantile(q float64) units.Celsius {
	// Components of one fit have seen the same runs, so they share their t.
	t := p.parts[0].t().Quantile(q)
	rise := quantile(q, len(p.parts), func(i int) float64 {
		m := &p.parts[i]
		return float64(m.carry) + math.Exp(m.location+m.scale*t)
	}, func(rise float64) float64 { return p.CDF(p.ambient.Plus(units.Rise(rise))) })
	return p.ambient.Plus(units.Rise(rise))
}

// quantile returns the q-quantile of a mixture of n components from its CDF and each
// component's own q-quantile, which bracket the mixture's.
func quantile(q float64, n int, own func(i int) float64, cdf func(float64) float64) float64 {
	low, high := own(0), own(0)
	for i := 1; i < n; i++ {
		low, high = math.Min(low, own(i)), math.Max(high, own(i))
	}
	return Root(func(v float64) float64 { return cdf(v) - q }, low, high, quantileWidth)
}

// quantileWidth is the relative width to which a quantile is found: a hundredth of
// what any answer prints.
const quantileWidth = 1e-6

// Exponent returns how heat scales with rollout at the gearing of c: the local
// d ln(rise) / d ln(rollout) with its interval at level.
func (f *Fit) Exponent(c Conditions, level float64) Estimate {
	row := f.design.next(&c)
	slope := make([]float64, len(row))
	slope[colExponent] = 1
	slope[colBend] = 2 * row[colExponent]
	return f.estimate(slope, level)
}

// estimate returns the middle and the interval of a linear combination of the
// coefficients over all components.
func (f *Fit) estimate(x []float64, level float64) Estimate {
	at := make([]mixed, len(f.components))
	for i := range f.components {
		k := &f.components[i]
		location, scale2 := k.along(x)
		at[i] = mixed{
			weight: k.weight, location: location, scale: math.Sqrt(scale2),
			df: k.df(),
		}
	}
	of := func(q float64) float64 {
		t := at[0].t().Quantile(q)
		return quantile(q, len(at), func(i int) float64 { return at[i].location + at[i].scale*t },
			func(v float64) float64 {
				sum := 0.0
				for i := range at {
					sum += at[i].weight * studentCDF((v-at[i].location)/at[i].scale, at[i].df)
				}
				return sum
			})
	}
	return Estimate{Value: of(0.5), Low: of((1 - level) / 2), High: of((1 + level) / 2), Level: level}
}

// Estimate is a value with the interval that holds it with probability Level.
type Estimate struct {
	Value, Low, High, Level float64
}

// TimeConstant returns the part's time constant in minutes: the geometric mean over
// what the log leaves possible.
func (f *Fit) TimeConstant() units.Minutes {
	sum := 0.0
	for i := range f.components {
		sum += f.components[i].weight * math.Log(f.components[i].tau)
	}
	return units.Minutes(math.Exp(sum))
}

// Scatter returns the run-to-run scatter of ln(rise) within a day: the root of
// the mean scale of σ².
func (f *Fit) Scatter() float64 {
	sum := 0.0
	for i := range f.components {
		sum += f.components[i].weight * f.components[i].variance()
	}
	return math.Sqrt(sum)
}

// Source says what an answer was informed by.
type Source uint8

// From the most cautious to the most telling.
const (
	FromPrior Source = iota // the log says nothing about the exponent
	FromBoth
	FromLog // the log's own information outweighs the prior's
)

// InformedBy says how much of the exponent at the gearing of c the log itself
// tells. Precisions add, so the log outweighs the prior where it halves the variance.
func (f *Fit) InformedBy(c Conditions) Source {
	if f.Tested.Low == f.Tested.High {
		return FromPrior
	}
	var after, before float64
	for i := range f.components {
		k := &f.components[i]
		row := mat.NewVecDense(f.design.columns(), nil)
		row.SetVec(colExponent, 1)
		after += k.weight * k.leverage(row)
	}
	before = f.Prior.Exponent.SD * f.Prior.Exponent.SD / (f.Prior.Scatter * f.Prior.Scatter)
	if after < before/2 {
		return FromLog
	}
	return FromBoth
}
