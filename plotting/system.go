package plotting

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"regear/analyze/units"
)

// System is the system of units that a figure is labelled in.
type System uint8

// The systems.
const (
	Metric System = iota // °C and mm
	US                   // °F and inches
)

// temperature returns a reading as the number that the axis carries.
func (s System) temperature(c units.Celsius) float64 {
	if s == US {
		return c.Fahrenheit()
	}
	return float64(c)
}

// degrees is the unit of temperature.
func (s System) degrees() string {
	if s == US {
		return "°F"
	}
	return "°C"
}

// kelvins returns a difference as the number that the axis carries.
func (s System) kelvins(r units.Rise) float64 {
	if s == US {
		return r.FahrenheitDegrees()
	}
	return float64(r)
}

// length returns a length as the number that the axis carries.
func (s System) length(m units.Millimeters) float64 {
	if s == US {
		return m.Inches()
	}
	return float64(m)
}

// lengthUnit is the unit of length.
func (s System) lengthUnit() string {
	if s == US {
		return "in"
	}
	return "mm"
}

// set writes a temperature that somebody set or read: with a decimal where it has one,
// and whole where only the conversion gave it one (71 °C is 159.8 °F, and meant as 160).
func (s System) set(c units.Celsius) string {
	const conversion = 0.25
	x := s.temperature(c)
	if math.Abs(x-math.Round(x)) < conversion {
		x = math.Round(x)
	}
	return trimmed(x, 1) + " " + s.degrees()
}

// span writes two forecast temperatures, in whole degrees with one unit.
func (s System) span(low, high units.Celsius) string {
	return fmt.Sprintf("%s–%s %s", trimmed(s.temperature(low), 0), trimmed(s.temperature(high), 0), s.degrees())
}

// tire writes a diameter as it would be measured.
func (s System) tire(m units.Millimeters) string {
	if s == US {
		return trimmed(m.Inches(), 2) + " in"
	}
	return trimmed(float64(m), 1) + " mm"
}

// minutes writes a run's length as a driver planned it.
func minutes(m units.Minutes) string { return trimmed(float64(m), 1) + " min" }

// trimmed rounds to a number of decimals at most, and never writes "-0".
func trimmed(x float64, decimals int) string {
	scale := math.Pow10(decimals)
	return strconv.FormatFloat(math.Round(x*scale)/scale+0, 'f', -1, 64)
}

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
