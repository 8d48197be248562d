package analyze

import "slices"

// median returns the middle one of the values in rising order, or halfway between the two
// middle ones. There must be one at least.
func median(values []float64) float64 {
	sorted := slices.Sorted(slices.Values(values))
	half := len(sorted) / 2
	if len(sorted)%2 == 1 {
		return sorted[half]
	}
	return (sorted[half-1] + sorted[half]) / 2
}
