package report

import "regear/analyze/units"

// A form shows numbers apart from their units, which stand beside its fields.

// TemperatureUnit is the unit of temperatures in forms.
func (u Units) TemperatureUnit() string { return u.degree() }

// LengthUnit is the unit of lengths in forms.
func (u Units) LengthUnit() string { return u.lengthUnit() }

// TemperatureNumber writes a temperature that somebody set or read.
func (u Units) TemperatureNumber(c units.Celsius) string { return u.givenNumber(c) }

// LengthNumber writes a tire's diameter as it would be measured.
func (u Units) LengthNumber(m units.Millimeters) string {
	if u == US {
		return trimmed(m.Inches(), 2)
	}
	return trimmed(float64(m), 1)
}

// MinutesNumber writes a run's length.
func (u Units) MinutesNumber(m units.Minutes) string { return trimmed(float64(m), 1) }

// PercentNumber writes a share in percent.
func PercentNumber(p float64) string { return trimmed(p*100, 6) }
