package analyze

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// A run that heat stopped says that a full run would have gone higher: the driver eased off
// or the cut-off cut in. By how much is the excess. It is believed to be about as large at
// every stop of one log, since driver and cut-off are the same: e on average, with a
// spread of excessSpread e. Then a stop is a reading of e more that scatters by so much
// beside the usual, and a log with any number of them stays normal. What e is, the log
// decides, as it decides on the scatter: where stops lie far below what the other runs
// lead to expect, e is large, and they weigh next to nothing; where they lie above, e is
// small, and they pull.

// excessSpread is the spread of the excess within one log, as a share of its mean. Common
// practice, no source. It is a third, so that an excess below 0 is next to impossible: stops
// above what other runs read then never pass for stops with a large excess.
const excessSpread = 1. / 3

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
	if len(a.bounds) == 0 {
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
	for i := range a.bounds {
		b := &a.bounds[i]
		x, y := mat.NewVecDense(len(b.x), b.x), b.y[k]+excess
		s.n++
		s.xx.SymRankOne(s.xx, weight, x)
		s.xy.AddScaledVec(s.xy, weight*y, x)
		s.yy += weight * y * y
		s.logDet -= math.Log(weight)
		day := &days[b.day]
		day.n += weight
		floats.AddScaled(day.x, weight, b.x)
		day.y[k] += weight * y // the other worlds' sums are not asked for
	}
	for d := range days {
		s.shareDay(&days[d], k, lambda, 1)
	}
	return s
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
