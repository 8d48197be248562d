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
// middle ones. There must be one at least. It leaves the values in another order: those up to
// the middle first, which is as far as they need to be sorted (Hoare's FIND, 1961, from memory).
func median[F ~float64](values []F) F {
	half := len(values) / 2
	for low, high := 0, len(values)-1; low < high; {
		i, j, pivot := low, high, values[half]
		for i <= j {
			switch {
			case values[i] < pivot:
				i++
			case values[j] > pivot:
				j--
			default:
				values[i], values[j] = values[j], values[i]
				i, j = i+1, j-1
			}
		}
		if j < half {
			low = i
		}
		if i > half {
			high = j
		}
	}
	if len(values)%2 == 1 {
		return values[half]
	}
	return (slices.Max(values[:half]) + values[half]) / 2
}
