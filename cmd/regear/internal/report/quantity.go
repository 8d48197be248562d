package report

import (
	"fmt"
	"math"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/units"
)

func whole(x float64) string                 { return units.Fixed(x, 0) }
func fixed(x float64, decimals int) string   { return units.Fixed(x, decimals) }
func trimmed(x float64, decimals int) string { return units.Trimmed(x, decimals) }
func minutes(m units.Minutes) string         { return m.String() }
func chance(p float64) string                { return units.Chance(p) }
func wanted(confidence float64) string       { return units.Confidence(confidence) }
func share(x float64) string                 { return units.Percent(x, 0) }

// significant writes three significant digits, for numbers of any size.
func significant(x float64) string {
	if x == 0 {
		return "0"
	}
	digits := 2 - int(math.Floor(math.Log10(math.Abs(x))))
	return fixed(x, max(digits, 0))
}

// PercentNumber writes a share in percent, without the sign.
func PercentNumber(p float64) string { return trimmed(p*100, 6) }

// change says in words how much larger, faster or taller something gets: "6 % faster". It
// is none where it rounds to 0.
func change(x float64, more, less, none string) string {
	switch percent := math.Round(x * 100); {
	case percent > 0:
		return whole(percent) + " % " + more
	case percent < 0:
		return whole(-percent) + " % " + less
	default:
		return none
	}
}

// signedShare writes a change in whole percent: "+6 %".
func signedShare(x float64) string { return signed(x*100) + " %" }

// signed writes a whole number with its sign.
func signed(x float64) string {
	if math.Round(x) > 0 {
		return "+" + whole(x)
	}
	return whole(x)
}

// speedPhrase says what a change of road speed means.
func speedPhrase(x float64) string {
	if words := change(x, "faster flat out", "slower flat out", ""); words != "" {
		return "about " + words
	}
	if x == 0 {
		return "no change of speed"
	}
	return "hardly a change of speed"
}

// tenPercent returns by what share the rise changes with a tenth more rollout.
func tenPercent(exponent float64) float64 { return math.Pow(1.1, exponent) - 1 }

// growth says in words how the rise changes with a tenth more rollout.
func growth(exponent float64) string {
	return change(tenPercent(exponent), "larger", "smaller", "neither larger nor smaller")
}

// signedGrowth writes the same as a signed number for a range.
func signedGrowth(exponent float64) string { return signedShare(tenPercent(exponent)) }

// growthRange writes the range of an exponent as signed growth.
func growthRange(e analyze.Estimate) string {
	return signedGrowth(e.Low) + " to " + signedGrowth(e.High)
}

// longest writes the longest run that holds, in whole minutes rounded down.
func longest(m units.Minutes) string {
	if m < 1 {
		return "under 1"
	}
	return whole(math.Floor(float64(m)))
}

// lengthCell writes the longest run that holds, where it is bounded.
func lengthCell(l advise.Longest) string {
	if !l.Bounded {
		return "over " + whole(float64(advise.MaxMinutes))
	}
	return longest(l.Minutes)
}

// span writes the rollouts between which runs lie.
func span(u units.System, s analyze.Span) string {
	low, high := u.Rollout(s.Low), u.Rollout(s.High)
	if low == high {
		return low + " " + u.LengthUnit()
	}
	return low + " to " + high + " " + u.LengthUnit()
}

// peaks writes the three temperatures of a forecast.
func peaks(u units.System, p advise.PartForecast) string {
	return u.Peak(p.P10) + "–" + u.Peak(p.P50) + "–" + u.Peak(p.P90)
}

// kilometersPerMile is exact by the international inch.
const kilometersPerMile = 1.609344

// speed writes a road speed in both units, the system's own first.
func speed(u units.System, kmh float64) string {
	metric, us := whole(kmh)+" km/h", whole(kmh/kilometersPerMile)+" mph"
	if u == units.US {
		return fmt.Sprintf("%s (%s)", us, metric)
	}
	return fmt.Sprintf("%s (%s)", metric, us)
}
