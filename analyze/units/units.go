// Package units holds the quantities that a run log is made of, each as a type
// of its own, and reads them from text.
//
// A reading on a temperature scale ([Celsius]) and a difference between two
// readings ([Rise]) are different types, so that ten degrees of rise can never be
// converted as if they were a reading of ten degrees. Everything is held in SI-near
// units (°C, K, mm, min) and converted at the door; the package refuses to guess a
// unit that the text does not carry.
package units

// Celsius is a reading on the Celsius scale.
type Celsius float64

// Rise is a difference between two readings in kelvin, which is the same number
// in degrees Celsius.
type Rise float64

// Millimeters is a length in millimetres.
type Millimeters float64

// Minutes is a duration in minutes.
type Minutes float64

const (
	// MillimetersPerInch is exact by the international inch of 1959.
	MillimetersPerInch = 25.4
	// fahrenheitPerKelvin and fahrenheitAtZero define the Fahrenheit scale:
	// °F = °C * 9/5 + 32, exact by definition.
	fahrenheitPerKelvin = 9.0 / 5
	fahrenheitAtZero    = 32
	// AbsoluteZero is the lowest reading that can exist.
	AbsoluteZero Celsius = -273.15
)

// Above returns how far c lies above ambient: c - ambient.
func (c Celsius) Above(ambient Celsius) Rise { return Rise(c - ambient) }

// Plus returns the reading that lies r above c: c + r.
func (c Celsius) Plus(r Rise) Celsius { return c + Celsius(r) }

// Fahrenheit returns the same reading on the Fahrenheit scale: c*9/5 + 32.
func (c Celsius) Fahrenheit() float64 { return float64(c)*fahrenheitPerKelvin + fahrenheitAtZero }

// fahrenheitDegrees returns the same difference in degrees Fahrenheit: r*9/5,
// with no offset, because a difference has no zero point.
func (r Rise) fahrenheitDegrees() float64 { return float64(r) * fahrenheitPerKelvin }

// Inches returns the same length in inches: m/25.4.
func (m Millimeters) Inches() float64 { return float64(m) / MillimetersPerInch }

// FromFahrenheit returns the Celsius reading of a Fahrenheit one: (f-32)*5/9.
func FromFahrenheit(f float64) Celsius { return Celsius((f - fahrenheitAtZero) / fahrenheitPerKelvin) }

// FromInches returns a length given in inches: in*25.4.
func FromInches(in float64) Millimeters { return Millimeters(in * MillimetersPerInch) }
