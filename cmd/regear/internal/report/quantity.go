package report

import (
	"fmt"
	"math"
	"strconv"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/units"
)

// Units are the units of text output. JSON and CSV are always metric.
type Units uint8

// The systems of units that drivers read.
const (
	Metric Units = iota // °C, mm
	US                  // °F, inches
)

// degree returns the temperature unit's sign.
func (u Units) degree() string {
	if u == US {
		return "°F"
	}
	return "°C"
}

func (u Units) degrees(c units.Celsius) float64 {
	if u == US {
		return c.Fahrenheit()
	}
	return float64(c)
}

// forecast writes a temperature that was computed: whole degrees, no finer than a
// driver's thermometer.
func (u Units) forecast(c units.Celsius) string { return u.peak(c) + " " + u.degree() }

// peak writes the same without its unit.
func (u Units) peak(c units.Celsius) string { return wholeDegrees(u.degrees(c)) }

// peaks writes the three temperatures of a forecast.
func (u Units) peaks(p advise.PartForecast) string {
	return u.peak(p.P10) + "–" + u.peak(p.P50) + "–" + u.peak(p.P90)
}

// wholeDegrees writes whole degrees. A forecast far beyond the log can run to any
// height; past what any part could reach the digits would say nothing.
func wholeDegrees(x float64) string {
	const most = 999
	if x > most {
		return "over " + whole(most)
	}
	return whole(x)
}

// given writes a temperature that somebody set or read so that it is recognised:
// with a decimal where it has one, and whole where only the conversion gave it one
// (71 °C is 159.8 °F, and meant as 160).
func (u Units) given(c units.Celsius) string { return u.givenNumber(c) + " " + u.degree() }

func (u Units) givenNumber(c units.Celsius) string {
	const conversion = 0.25
	x := u.degrees(c)
	if math.Abs(x-math.Round(x)) < conversion {
		return whole(x)
	}
	return trimmed(x, 1)
}

// rise writes a difference of temperatures in whole degrees.
func (u Units) rise(r units.Rise) string { return wholeDegrees(u.degreesOf(r)) + " " + u.degree() }

// degreesOf returns a difference of temperatures, which has no zero point to shift.
func (u Units) degreesOf(r units.Rise) float64 {
	if u == US {
		return r.FahrenheitDegrees()
	}
	return float64(r)
}

// lengthUnit returns the length unit's sign.
func (u Units) lengthUnit() string {
	if u == US {
		return "in"
	}
	return "mm"
}

// tire writes a diameter as it would be measured.
func (u Units) tire(m units.Millimeters) string {
	if u == US {
		return trimmed(m.Inches(), 2) + " in"
	}
	return trimmed(float64(m), 1) + " mm"
}

// rollout writes a rollout without its unit, to the step that tells teeth apart.
func (u Units) rollout(m units.Millimeters) string {
	if u == US {
		return fixed(m.Inches(), 2)
	}
	return fixed(float64(m), 1)
}

// span writes the rollouts between which runs lie.
func (u Units) span(s analyze.Span) string {
	low, high := u.rollout(s.Low), u.rollout(s.High)
	if low == high {
		return low + " " + u.lengthUnit()
	}
	return low + " to " + high + " " + u.lengthUnit()
}

// whole rounds to a whole number and never writes "-0".
func whole(x float64) string { return fixed(x, 0) }

// fixed rounds to a number of decimals and writes them all.
func fixed(x float64, decimals int) string {
	scale := math.Pow10(decimals)
	// Adding 0 turns -0 into 0.
	return strconv.FormatFloat(math.Round(x*scale)/scale+0, 'f', decimals, 64)
}

// trimmed rounds to a number of decimals and leaves trailing zeros out.
func trimmed(x float64, decimals int) string {
	scale := math.Pow10(decimals)
	return strconv.FormatFloat(math.Round(x*scale)/scale+0, 'f', -1, 64)
}

// minutes writes a run's length as a driver planned it.
func minutes(m units.Minutes) string { return trimmed(float64(m), 1) + " min" }

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
