package analyze

import (
	"math"
	"slices"
)

// Root returns where the continuous f crosses zero between low and high, which
// must bracket it; at equal ends it returns them. It is false position that halves the
// value kept for an end that does not move, which keeps the bracket of bisection and
// nearly the speed of the secant, with a bisection every few steps for functions that are
// all but flat at one end. It stops when the bracket is a relative width wide.
func Root(f func(float64) float64, low, high, width float64) float64 {
	const maxSteps, bisectEvery = 300, 5
	fLow, fHigh := f(low), f(high)
	if fLow == 0 || low == high {
		return low
	}
	if fHigh == 0 {
		return high
	}
	if fLow*fHigh > 0 {
		// Rounding has moved the crossing onto an end.
		if math.Abs(fLow) < math.Abs(fHigh) {
			return low
		}
		return high
	}
	for step := range maxSteps {
		if math.Abs(high-low) <= width*(math.Abs(low)+math.Abs(high)) {
			break
		}
		next := (low*fHigh - high*fLow) / (fHigh - fLow)
		if step%bisectEvery == bisectEvery-1 {
			next = (low + high) / 2
		}
		fNext := f(next)
		if fNext == 0 {
			return next
		}
		if fNext*fHigh < 0 {
			low, fLow = high, fHigh
		} else {
			fLow /= 2
		}
		high, fHigh = next, fNext
	}
	return high
}

// median returns the middle one of the values in rising order, or halfway between the two
// middle ones. There must be one at least. It leaves the values in that order.
func median[F ~float64](values []F) F {
	slices.Sort(values)
	n := len(values)
	return (values[(n-1)/2] + values[n/2]) / 2
}
