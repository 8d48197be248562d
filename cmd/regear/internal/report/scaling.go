package report

import (
	"math"

	"regear/analyze/units"
)

// tenPercent returns by what share the rise changes with a tenth more rollout.
func tenPercent(exponent float64) float64 { return math.Pow(1.1, exponent) - 1 }

// growth says in words how the rise changes with a tenth more rollout.
func growth(exponent float64) string {
	switch percent := math.Round(tenPercent(exponent) * 100); {
	case percent > 0:
		return whole(percent) + " % larger"
	case percent < 0:
		return whole(-percent) + " % smaller"
	default:
		return "neither larger nor smaller"
	}
}

// signedGrowth writes the same as a signed number for a range.
func signedGrowth(exponent float64) string { return speedChange(tenPercent(exponent)) }

// riseOf returns the rise whose natural logarithm is ln.
func riseOf(ln float64) units.Rise { return units.Rise(math.Exp(ln)) }
