package analyze

import "slices"

// median returns the middle one of the values in rising order, or halfway between the two
// middle ones. There must be one at least. It leaves the values in rising order.
func median(values []float64) float64 {
	slices.Sort(values)
	half := len(values) / 2
	if len(values)%2 == 1 {
		return values[half]
	}
	return (values[half-1] + values[half]) / 2
}

// medianDistance returns the median of how far values in rising order lie from middle. The
// farthest is always one of the ends.
func medianDistance(values []float64, middle float64) float64 {
	n := len(values)
	takeFarthest := func() float64 {
		last := len(values) - 1
		below, above := middle-values[0], values[last]-middle
		if below > above {
			values = values[1:]
			return below
		}
		values = values[:last]
		return above
	}
	for len(values) > n/2+1 {
		takeFarthest()
	}
	farthest := takeFarthest()
	if n%2 == 1 {
		return farthest
	}
	return (farthest + takeFarthest()) / 2
}
