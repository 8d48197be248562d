package analyze

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
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

// heatStop is a run that heat stopped: its response is at least y.
type heatStop struct {
	x []float64
	y []float64 // one for each world
}

// sums returns the regression's sums under one of the day shares, a variance σ² and an excess
// e of the heat stops.
func (a *accumulated) sums(share int, variance, excess float64) sums {
	all, lambda := a.plain.plus(&a.shared[share]), a.dayShares[share].Value
	spread := excessSpread * excess
	weight := variance / (variance + spread*spread)
	for i := range a.stopDays {
		plain := &a.stopDays[i]
		day := daySums{n: plain.n, x: slices.Clone(plain.x), y: slices.Clone(plain.y)}
		for _, stop := range plain.stops {
			y := slices.Clone(stop.y)
			floats.AddConst(excess, y)
			all.n++
			all.add(weight, stop.x, y)
			all.logDet -= math.Log(weight)
			day.add(weight, stop.x, y)
		}
		all.share(plain, lambda, -1)
		all.share(&day, lambda, 1)
	}
	return all
}
