package report

import (
	"fmt"
	"math"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/units"
)

// longest writes the longest run that holds, in whole minutes rounded down.
func longest(m units.Minutes) string {
	if m < 1 {
		return "under 1"
	}
	return whole(math.Floor(float64(m)))
}

// chance writes a probability in whole percent. It rounds down, so that a chance
// which misses a wanted confidence is never printed as reaching it, and it never
// claims certainty.
func chance(p float64) string {
	const rounding = 1e-9
	switch percent := math.Floor(p*100 + rounding); {
	case p > 0.99:
		return "over 99 %"
	case percent < 1:
		return "under 1 %"
	default:
		return whole(percent) + " %"
	}
}

// wanted writes a confidence as the driver gave it.
func wanted(confidence float64) string { return trimmed(confidence*100, 6) + " %" }

// share writes a share of a whole in whole percent.
func share(x float64) string { return whole(x*100) + " %" }

// speedChange writes a change of road speed for a table.
func speedChange(x float64) string {
	switch percent := math.Round(x * 100); {
	case percent > 0:
		return "+" + whole(percent) + " %"
	case percent < 0:
		return "-" + whole(-percent) + " %"
	default:
		return "0 %"
	}
}

// speedPhrase says what a change of road speed means.
func speedPhrase(x float64) string {
	switch percent := math.Round(x * 100); {
	case percent > 0:
		return fmt.Sprintf("about %s %% faster flat out", whole(percent))
	case percent < 0:
		return fmt.Sprintf("about %s %% slower flat out", whole(-percent))
	case x == 0:
		return "no change of speed"
	default:
		return "hardly a change of speed"
	}
}

// significant writes three significant digits, for numbers of any size.
func significant(x float64) string {
	if x == 0 {
		return "0"
	}
	digits := 2 - int(math.Floor(math.Log10(math.Abs(x))))
	return fixed(x, max(digits, 0))
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

// whole rounds to a whole number.
func whole(x float64) string { return units.Fixed(x, 0) }

func fixed(x float64, decimals int) string { return units.Fixed(x, decimals) }

func trimmed(x float64, decimals int) string { return units.Trimmed(x, decimals) }

func minutes(m units.Minutes) string { return m.String() }
