package analyze

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"regear/analyze/units"
)

// Prediction is the distribution of one part's peak in one further run, on a day
// of its own. It is a mixture of normal distributions of ln(rise), one for each cell of
// the grid that the log leaves possible.
type Prediction struct {
	// Outside is true where the rollout lies outside those that the fit has seen.
	Outside bool

	ambient units.Celsius
	parts   []mixed
}

// mixed is one component of a Prediction:
// peak = ambient + carry + exp(location + scale·Z) with Z standard normal.
type mixed struct {
	weight          float64
	tau             float64
	plateau         float64 // location of a run without end
	carry           units.Rise
	location, scale float64
}

// Predict returns the distribution of the part's peak in a run under c, whose gearing, tire
// and minutes must be above 0.
func (f *Fit) Predict(c Conditions) Prediction {
	unseen := f.unseenVariance(c)
	out := Prediction{
		Outside: !f.Tested.Contains(c.Rollout()),
		ambient: c.Ambient,
	}
	parts := make([]mixed, len(f.components))
	at := f.places(f.design.next(&c))
	for i := range f.components {
		k := &f.components[i]
		mean, variance := k.along(at[k.base])
		parts[i] = mixed{weight: k.weight, tau: k.tau, plateau: mean, scale: math.Sqrt(variance + k.ofNewDay() + unseen)}
	}
	out.parts = merge(parts)
	f.atLength(out.parts, &c)
	return out
}

// merge replaces components that are all but the same by one of the same mean and
// variance. A grid's cells are many and their forecasts much alike, and all that is asked of a
// forecast goes through its components.
func merge(parts []mixed) []mixed {
	const scaleStep, plateauStep = 0.05, 0.1 // in ln(scale), and in scales
	type kind struct {
		tau            float64
		scale, plateau int
	}
	merged := make([]mixed, 0, len(parts))
	where := map[kind]int{}
	for _, m := range parts {
		scale := math.Round(math.Log(m.scale) / scaleStep)
		key := kind{m.tau, int(scale), int(math.Round(m.plateau / (plateauStep * math.Exp(scale*scaleStep))))}
		at, known := where[key]
		if !known {
			where[key] = len(merged)
			merged = append(merged, m)
			continue
		}
		all := &merged[at]
		weight := all.weight + m.weight
		share, off := m.weight/weight, m.plateau-all.plateau
		all.scale = math.Sqrt((1-share)*all.scale*all.scale + share*m.scale*m.scale + share*(1-share)*off*off)
		all.plateau += share * off
		all.weight = weight
	}
	return merged
}

// places returns where a row stands in each of the fit's bases.
func (f *Fit) places(x []float64) []place {
	all := make([]place, len(f.bases))
	for i, b := range f.bases {
		all[i] = b.at(x)
	}
	return all
}

// atLength fills in what depends on the run's length. All else in a prediction does not,
// so that one serves for many lengths: see [Forecast.Lasting].
func (f *Fit) atLength(parts []mixed, c *Conditions) {
	for i := range parts {
		m := &parts[i]
		m.carry = carried(c, f.Part, m.tau)
		m.location = m.plateau + math.Log(Heating(c.Minutes, m.tau))
	}
}

// unseenVariance returns the variance that labels add which the log never saw: their
// own, and that of the one label that the level contains.
func (f *Fit) unseenVariance(c Conditions) float64 {
	return f.Prior.Label * f.Prior.Label * (f.design.surfaces.unseen(c.Surface) + f.design.coolings.unseen(c.Cooling))
}

// CDF returns the probability that the peak is at most c: with Φ the standard normal's,
//
//	Σ weight · Φ((ln(c - ambient - carry) - location) / scale)
//
// over the components. One whose carry is above c - ambient adds nothing.
func (p Prediction) CDF(c units.Celsius) float64 {
	sum := 0.0
	for i := range p.parts {
		m := &p.parts[i]
		rise := c.Above(p.ambient) - m.carry
		if rise <= 0 {
			continue
		}
		sum += m.weight * distuv.UnitNormal.CDF((math.Log(float64(rise))-m.location)/m.scale)
	}
	return math.Min(sum, 1)
}

// Quantile returns the peak that is not exceeded with probability q, 0 < q < 1: where
// [Prediction.CDF] is q, to a relative width of 1e-7 of the rise.
func (p Prediction) Quantile(q float64) units.Celsius {
	z := distuv.UnitNormal.Quantile(q)
	rise := quantile(q, len(p.parts), func(i int) float64 {
		m := &p.parts[i]
		return float64(m.carry) + math.Exp(m.location+m.scale*z)
	}, func(rise float64) float64 { return p.CDF(p.ambient.Plus(units.Rise(rise))) })
	return p.ambient.Plus(units.Rise(rise))
}

// quantile returns the q-quantile of a mixture of n components from its CDF and each
// component's own q-quantile, which bracket the mixture's.
func quantile(q float64, n int, of func(i int) float64, cdf func(float64) float64) float64 {
	low, high := of(0), of(0)
	for i := 1; i < n; i++ {
		low, high = math.Min(low, of(i)), math.Max(high, of(i))
	}
	return Root(func(v float64) float64 { return cdf(v) - q }, low, high, quantileWidth)
}

// quantileWidth is the relative width to which a quantile is found: a thousandth of
// what any answer prints.
const quantileWidth = 1e-7

// Exponent returns how heat scales with rollout at the gearing and tire of c: the local
//
//	d ln(rise) / d ln(rollout) = exponent + 2 bend·x,   x = ln(rollout) from the log's middle
//
// with its interval at level. At one tire, the exponent of the final drive ratio is its
// negative.
func (f *Fit) Exponent(c Conditions, level float64) Estimate { return f.estimate(f.slope(c), level) }

// ExponentBelow returns the probability that the exponent at the gearing of c, as in
// [Fit.Exponent], is less than a given one.
func (f *Fit) ExponentBelow(c Conditions, exponent float64) float64 {
	return f.combination(f.slope(c)).cdf(exponent)
}

// NoRule returns the probability that the exponent follows no general rule: the weight of the
// cells whose exponent has [Prior].NoRule.
func (f *Fit) NoRule() float64 {
	return f.expect(func(k *component) float64 {
		if k.ruled {
			return 0
		}
		return 1
	})
}

func (f *Fit) slope(c Conditions) []float64 {
	row := f.design.next(&c)
	slope := make([]float64, len(row))
	slope[colExponent] = 1
	slope[colBend] = 2 * row[colExponent]
	return slope
}

// combinations is the distribution of a linear combination of the coefficients: a
// mixture of normals.
type combinations []mixed

func (f *Fit) combination(x []float64) combinations {
	at := f.places(x)
	all := make(combinations, len(f.components))
	for i := range f.components {
		k := &f.components[i]
		mean, variance := k.along(at[k.base])
		all[i] = mixed{weight: k.weight, location: mean, scale: math.Sqrt(variance)}
	}
	return all
}

func (c combinations) cdf(v float64) float64 {
	sum := 0.0
	for i := range c {
		sum += c[i].weight * distuv.UnitNormal.CDF((v-c[i].location)/c[i].scale)
	}
	return sum
}

func (c combinations) moments() (mean, variance float64) {
	for i := range c {
		mean += c[i].weight * c[i].location
	}
	for i := range c {
		off := c[i].location - mean
		variance += c[i].weight * (c[i].scale*c[i].scale + off*off)
	}
	return mean, variance
}

// estimate returns the middle and the interval of a linear combination of the
// coefficients over all components.
func (f *Fit) estimate(x []float64, level float64) Estimate {
	c := f.combination(x)
	of := func(q float64) float64 {
		z := distuv.UnitNormal.Quantile(q)
		return quantile(q, len(c), func(i int) float64 { return c[i].location + c[i].scale*z }, c.cdf)
	}
	return Estimate{Value: of(0.5), Low: of((1 - level) / 2), High: of((1 + level) / 2), Level: level}
}

// Estimate is a value with the interval that holds it with probability Level. As much
// probability lies below Low as above High. From a Fit, Value is the median.
type Estimate struct {
	Value, Low, High, Level float64
}

func (f *Fit) expect(of func(*component) float64) float64 {
	sum := 0.0
	for i := range f.components {
		sum += f.components[i].weight * of(&f.components[i])
	}
	return sum
}

// TimeConstant returns the part's time constant in minutes: the geometric mean
// exp(Σ weight · ln τ) over what the log leaves possible.
func (f *Fit) TimeConstant() units.Minutes {
	return units.Minutes(math.Exp(f.expect(func(k *component) float64 { return math.Log(k.tau) })))
}

// Scatter returns by how much ln(rise) scatters between the runs of one day, so that 0.09 is
// 9 % of the rise: √(Σ weight · σ²) over what the log leaves possible. Where runs of
// different days scatter by s, and the day effect's variance is λ times that within a day,
// σ² = s²/(1+λ).
func (f *Fit) Scatter() float64 {
	return math.Sqrt(f.expect(func(k *component) float64 { return k.variance }))
}

// WarmStarts returns how many runs may have begun noticeably warm from the run before,
// without a start reading, and the share of that heat that is taken to have been left: a
// driver may have cooled the car.
func (f *Fit) WarmStarts() (runs int, heatLeft float64) {
	return f.followed, f.expect(func(k *component) float64 { return k.heatLeft })
}

// Source says what an answer was informed by.
type Source uint8

// From the most cautious to the most telling.
const (
	FromPrior Source = iota // the log says nothing about the exponent
	FromBoth
	FromLog // the log's own information outweighs the prior's
)

// ScalingLevel is the level of every interval of how heat scales.
const ScalingLevel = 0.8

// InformedBy says how much of the exponent at the gearing of c the log itself tells.
// Precisions add, so the log outweighs the general rule where it halves the variance. It
// is said to decide only where its own estimate, the posterior's with the rule taken out
// again, lies inside the stated interval at ScalingLevel.
func (f *Fit) InformedBy(c Conditions) Source {
	if f.Tested.one() {
		return FromPrior
	}
	slope := f.slope(c)
	mean, variance := f.combination(slope).moments()
	ruleVariance := f.Prior.Exponent.SD * f.Prior.Exponent.SD
	if variance >= ruleVariance/2 {
		return FromBoth
	}
	ruleMean := f.Prior.Exponent.Mean + slope[colBend]*f.Prior.Bend.Mean
	logMean := (mean/variance - ruleMean/ruleVariance) / (1/variance - 1/ruleVariance)
	if e := f.estimate(slope, ScalingLevel); logMean < e.Low || logMean > e.High {
		return FromBoth
	}
	return FromLog
}

// StopAbove returns the reading after early minutes of a run under c above which the whole
// run is more likely than not to pass a limit, and no more than the limit. It reports false
// where the run is more likely than not to pass the limit whatever is read.
//
// Both temperatures of one run come from the same coefficients and the same day. They also
// share a part of the scatter within a day, as the parts of one run do: see [Forecast.Under].
// The rest is the reading's own. With x and y the logarithms of the two rises, in every component
//
//	E(y|x) = E(y) + cov/var (x - E(x)),   var(y|x) = var - cov²/var
//
// and the components are weighed anew by how well they foresee x.
func (f *Fit) StopAbove(c Conditions, early units.Minutes, limit units.Celsius, shared float64) (units.Celsius, bool) {
	// For each component: the two rises' expected logarithms, what is left of the start, and
	// the variance of either with the part that both have in common.
	type pair struct {
		weight, then, last, startLeft, room, common, total float64
	}
	at := f.places(f.design.next(&c))
	unseen := f.unseenVariance(c)
	partWay := c
	partWay.Minutes = early
	pairs := make([]pair, len(f.components))
	for i := range pairs {
		k := &f.components[i]
		mean, variance := k.along(at[k.base])
		pairs[i] = pair{
			weight: k.weight, then: mean + math.Log(Heating(early, k.tau)), last: mean + math.Log(Heating(c.Minutes, k.tau)),
			startLeft: float64(carried(&partWay, f.Part, k.tau)), room: float64(limit.Above(c.Ambient) - carried(&c, f.Part, k.tau)),
			common: variance + unseen + k.variance*(k.day+shared), total: variance + unseen + k.ofNewDay(),
		}
	}
	holds := func(rise float64) float64 {
		var all, under float64
		for i := range pairs {
			p := &pairs[i]
			made := rise - p.startLeft
			if made <= 0 {
				continue
			}
			x := math.Log(made) - p.then
			weight := p.weight / made * math.Exp(-x*x/(2*p.total)) / math.Sqrt(p.total)
			all += weight
			if p.room > 0 {
				y := math.Log(p.room) - p.last - p.common/p.total*x
				under += weight * distuv.UnitNormal.CDF(y/math.Sqrt(p.total-p.common*p.common/p.total))
			}
		}
		if all == 0 {
			return 0 // far outside all that is foreseen
		}
		return under / all
	}
	const least = 1.0 // K; less is no reading of a warm part
	most := float64(limit.Above(c.Ambient))
	switch {
	case holds(least) < 0.5:
		return 0, false
	case holds(most) >= 0.5:
		return limit, true // the limit itself is always a reason to stop
	}
	return c.Ambient.Plus(units.Rise(Root(func(rise float64) float64 { return holds(rise) - 0.5 }, least, most, quantileWidth))), true
}

// Narrowing returns the spread of ln(rise) that the fit expects of a run under
// target: now, and after one further run under test whose outcome is not yet known. Both
// start at the air's temperature.
//
// With variance and covariance over everything the log leaves open (coefficients, day, time
// constant, scatter),
//
//	var(target | test) = var(target) - cov(target, test)² / var(test)
//
// which is exact for one component and linear where they are mixed.
func (f *Fit) Narrowing(target, test Conditions) (now, after float64) {
	atTarget, atTest := f.places(f.design.next(&target)), f.places(f.design.next(&test))
	var meanX, meanZ, xx, zz, xz float64
	for i := range f.components {
		k := &f.components[i]
		x, z := atTarget[k.base], atTest[k.base]
		mx, vx := k.along(x)
		mz, vz := k.along(z)
		mx += math.Log(Heating(target.Minutes, k.tau))
		mz += math.Log(Heating(test.Minutes, k.tau))
		xx += k.weight * (mx*mx + vx + k.ofNewDay())
		zz += k.weight * (mz*mz + vz + k.ofNewDay())
		xz += k.weight * (mx*mz + k.together(x, z))
		meanX += k.weight * mx
		meanZ += k.weight * mz
	}
	variance := xx - meanX*meanX
	covariance := xz - meanX*meanZ
	left := variance - covariance*covariance/(zz-meanZ*meanZ)
	return math.Sqrt(variance), math.Sqrt(math.Max(0, left))
}
