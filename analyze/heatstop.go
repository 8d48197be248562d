package analyze

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// A run that heat stopped says that a full run would have gone higher, though hardly
// twice as high: the driver eased off or the cut-off cut in. By how much is the excess.
// It is believed to be about as large at every stop of one log, since driver and cut-off
// are the same: e on average, with a spread of excessSpread e. Then a stop is a reading of e
// more that scatters by so much beside the usual, and a log with any number of them stays
// normal. What e is, the log decides, as it decides on the scatter: where stops lie above
// what the other runs lead to expect, e is small, and they pull.
//
// Stops may also come from something else: a hand on the can, a cut-off set low. Then
// the excess is anything up to looseExcess, and all that a stop says is that a full run
// would have gone higher, which adds nothing to a fit that expects so anyway.

// excessSpread is the spread of the excess within one log, as a share of its mean, and
// looseExcess the most that ln(rise) may have been cut short by. Common practice, no source.
const (
	excessSpread = 0.5
	looseExcess  = 3
)

// loose is the excess of stops that tell nothing but that they lie below.
var loose = math.Inf(1)

// bound is a run that heat stopped: its response is at least y.
type bound struct {
	x   []float64
	y   []float64 // one for each world
	day int       // which of the days with heat stops
}

// withStops returns the sums of a log in which heat stops count, for a world, a day
// effect, a variance σ² and an excess e.
func (a *accumulated) withStops(k, share int, variance, excess float64) sums {
	s := a.sums(k, share)
	if len(a.bounds) == 0 || excess == loose {
		return s
	}
	lambda := a.shares[share].lambda
	days := make([]daySums, len(a.stopDays))
	for d := range days {
		days[d] = a.stopDays[d].clone()
		s.shareDay(&days[d], k, lambda, -1)
	}
	spread := excessSpread * excess
	weight := variance / (variance + spread*spread)
	y := make([]float64, len(a.jacobian))
	for i := range a.bounds {
		b := &a.bounds[i]
		for j := range y {
			y[j] = b.y[j] + excess
		}
		x := mat.NewVecDense(len(b.x), b.x)
		s.n++
		s.xx.SymRankOne(s.xx, weight, x)
		s.xy.AddScaledVec(s.xy, weight*y[k], x)
		s.yy += weight * y[k] * y[k]
		s.logDet -= math.Log(weight)
		days[b.day].add(weight, b.x, y)
	}
	for d := range days {
		s.shareDay(&days[d], k, lambda, 1)
	}
	return s
}

// below returns the logarithm of how likely loose stops are in a world: that each full
// response lies above its bound, times the density of the excess.
func (a *accumulated) below(c *component, k int) float64 {
	sum := 0.0
	for i := range a.bounds {
		b := &a.bounds[i]
		mean, variance := c.along(c.basis.at(b.x))
		// The day's plain runs have told of the day.
		own := c.variance * (1 + c.day/(1+c.day*a.stopDays[b.day].n))
		sum += math.Log(distuv.UnitNormal.CDF((mean-b.y[k])/math.Sqrt(variance+own)) / looseExcess)
	}
	return sum
}

// shareDay takes what a day's runs have in common out of the sums (sign 1), or puts it
// back (sign -1).
func (s *sums) shareDay(d *daySums, k int, lambda, sign float64) {
	c := sign * lambda / (1 + lambda*d.n)
	x, y := mat.NewVecDense(len(d.x), d.x), d.y[k]
	s.xx.SymRankOne(s.xx, -c, x)
	s.xy.AddScaledVec(s.xy, -c*y, x)
	s.yy -= c * y * y
	s.logDet += sign * math.Log1p(lambda*d.n)
}
