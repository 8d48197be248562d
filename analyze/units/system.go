package units

import (
	"fmt"
	"math"
	"strconv"
)

// System is a system of units that drivers read: what temperatures and lengths are shown in.
// Its methods round, so they are for text alone.
type System uint8

// The systems.
const (
	Metric System = iota // °C, mm
	US                   // °F, inches
)

// Systems lists every system.
var Systems = []System{Metric, US}

var systems = [...]struct{ name, temperature, length string }{Metric: {"metric", "°C", "mm"}, US: {"us", "°F", "in"}}

// String returns the system's name in flags and files.
func (s System) String() string { return systems[s].name }

// ParseSystem returns the system called name, as String writes it.
func ParseSystem(name string) (System, error) {
	for _, s := range Systems {
		if s.String() == name {
			return s, nil
		}
	}
	return 0, fmt.Errorf("there are no units %q: write metric or us", name)
}

// TemperatureUnit returns the sign of the temperature unit.
func (s System) TemperatureUnit() string { return systems[s].temperature }

// LengthUnit returns the sign of the length unit.
func (s System) LengthUnit() string { return systems[s].length }

// Temperature returns a reading as a number on the system's scale.
func (s System) Temperature(c Celsius) float64 {
	if s == US {
		return c.Fahrenheit()
	}
	return float64(c)
}

// Difference returns a difference of temperatures in the system's degrees.
func (s System) Difference(r Rise) float64 {
	if s == US {
		return r.fahrenheitDegrees()
	}
	return float64(r)
}

// Length returns a length as a number in the system's unit.
func (s System) Length(m Millimeters) float64 {
	if s == US {
		return m.Inches()
	}
	return float64(m)
}

// Peak writes a forecast temperature without its unit: whole degrees, no finer than a
// driver's thermometer.
func (s System) Peak(c Celsius) string { return wholeDegrees(s.Temperature(c)) }

// Forecast writes a forecast temperature.
func (s System) Forecast(c Celsius) string { return s.Peak(c) + " " + s.TemperatureUnit() }

// Rise writes a difference of temperatures in whole degrees.
func (s System) Rise(r Rise) string { return wholeDegrees(s.Difference(r)) + " " + s.TemperatureUnit() }

// wholeDegrees writes whole degrees. A forecast far beyond the log can run to any
// height; past what any part could reach the digits would say nothing.
func wholeDegrees(x float64) string {
	const most = 999
	if x > most {
		return "over " + Fixed(most, 0)
	}
	return Fixed(x, 0)
}

// Reading writes a temperature that somebody set or read so that it is recognised:
// with a decimal where it has one, and whole where only the conversion gave it one
// (71 °C is 159.8 °F, and meant as 160).
func (s System) Reading(c Celsius) string { return s.ReadingNumber(c) + " " + s.TemperatureUnit() }

// ReadingNumber writes what Reading does without its unit.
func (s System) ReadingNumber(c Celsius) string {
	const conversion = 0.25
	x := s.Temperature(c)
	if math.Abs(x-math.Round(x)) < conversion {
		return Fixed(x, 0)
	}
	return Trimmed(x, 1)
}

// Tire writes a diameter as it would be measured.
func (s System) Tire(m Millimeters) string { return s.TireNumber(m) + " " + s.LengthUnit() }

// TireNumber writes what Tire does without its unit.
func (s System) TireNumber(m Millimeters) string { return Trimmed(s.Length(m), s.lengthDecimals()) }

// Rollout writes a rollout without its unit, to the step that tells teeth apart.
func (s System) Rollout(m Millimeters) string { return Fixed(s.Length(m), s.lengthDecimals()) }

func (s System) lengthDecimals() int { return 1 + int(s) } // of 0.1 mm or 0.01 in

// String writes minutes as a driver plans them.
func (m Minutes) String() string { return Trimmed(float64(m), 1) + " min" }

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

// Fixed rounds to a number of decimals and writes them all. It never writes "-0".
func Fixed(x float64, decimals int) string {
	return strconv.FormatFloat(rounded(x, decimals), 'f', decimals, 64)
}

// Trimmed rounds to a number of decimals and leaves trailing zeros out. It never writes "-0".
func Trimmed(x float64, decimals int) string {
	return strconv.FormatFloat(rounded(x, decimals), 'f', -1, 64)
}

func rounded(x float64, decimals int) float64 {
	scale := math.Pow10(decimals)
	return math.Round(x*scale)/scale + 0 // turns -0 into 0
}

// Signs are the signs of units that a line break must not part from the number before
// them. The inch is left out, as "in" is a word as well.
var Signs = [...]string{"%", "°C", "°F", "mm", "min"}
