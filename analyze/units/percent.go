package units

import "math"

// Chance writes a probability p, from 0 to 1, in whole percent. It rounds down, so that a
// chance which misses a wanted confidence is never seen to reach it, and it never claims
// certainty: over 0.99 is "over 99 %", and less than 0.01 is "under 1 %".
func Chance(p float64) string {
	whole := math.Round(100 * p)
	if whole/100 > p {
		whole-- // not the floor of 100*p: that of 0.57 is 56
	}
	switch {
	case p > 0.99:
		return "over 99 %"
	case whole < 1:
		return "under 1 %"
	default:
		return Fixed(whole, 0) + " %"
	}
}

// Percent writes a share, where 1 is the whole, in percent rounded to a number of decimals,
// without trailing zeros.
func Percent(share float64, decimals int) string { return Trimmed(100*share, decimals) + " %" }

// Confidence writes a wanted probability as the driver gave it.
func Confidence(p float64) string { return Percent(p, 6) }
