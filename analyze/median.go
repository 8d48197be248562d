package analyze

import (
	"math/bits"
	"slices"
)

// median returns the middle one of the values of v in rising order, or halfway between
// the two middle ones. It changes the order of v, which must not be empty.
func median(v []float64) float64 {
	half := len(v) / 2
	order(v, half)
	if len(v)%2 == 1 {
		return v[half]
	}
	return (slices.Max(v[:half]) + v[half]) / 2
}

// order puts the value that sorting would put at k there, none above it before it and
// none below it behind it. This is Hoare's selection (1961, from memory); where its
// pivots turn out badly, sorting bounds the time.
func order(v []float64, k int) {
	for rounds := 2 * bits.Len(uint(len(v))); len(v) > 1; rounds-- {
		if rounds == 0 {
			slices.Sort(v)
			return
		}
		first, middle, last := v[0], v[len(v)/2], v[len(v)-1]
		pivot := max(min(first, middle), min(max(first, middle), last))
		i, j := 0, len(v)-1
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			v = v[:j+1]
		case k >= i:
			v, k = v[i:], k-i
		default:
			return // between the two stand values equal to the pivot
		}
	}
}
