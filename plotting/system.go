package plotting

import (
	"fmt"
	"math"
	"strings"

	"regear/analyze/units"
)

// degreeSpan writes two forecast temperatures, in whole degrees with one unit.
func degreeSpan(s units.System, low, high units.Celsius) string {
	return fmt.Sprintf("%s–%s %s", trimmed(s.Temperature(low), 0), trimmed(s.Temperature(high), 0), s.TemperatureUnit())
}

// minutes writes a run's length as a driver planned it.
func minutes(m units.Minutes) string { return m.String() }

func trimmed(x float64, decimals int) string { return units.Trimmed(x, decimals) }

// chance writes a probability in whole percent, rounded down, so that one which misses
// the wanted confidence is never seen to reach it. It never claims certainty.
func chance(p float64) string {
	const rounding = 1e-9
	switch percent := math.Floor(100*p + rounding); {
	case p > 0.99:
		return "over 99 %"
	case percent < 1:
		return "under 1 %"
	default:
		return trimmed(percent, 0) + " %"
	}
}

// shortChance is chance where room is scarce.
func shortChance(p float64) string {
	return strings.NewReplacer("over ", ">", "under ", "<").Replace(chance(p))
}

// wanted writes a confidence as the driver gave it.
func wanted(confidence float64) string { return trimmed(100*confidence, 6) + " %" }
