package units

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/xuri/excelize/v2"
)

// TestConversionsAreThoseOfTheDefinitions holds conversions against fixed points that
// follow by hand from t/°F = 9/5 t/°C + 32 and from the inch of exactly 25.4 mm.
// TestSpreadsheetConvertsAlike confirms both.
func TestConversionsAreThoseOfTheDefinitions(t *testing.T) {
	for _, c := range []struct {
		fahrenheit float64
		celsius    Celsius
		why        string
	}{
		{32, 0, "melting ice"},
		{212, 100, "boiling water"},
		{-40, -40, "where the scales meet"},
		{-459.67, AbsoluteZero, "absolute zero"},
		{98.6, 37, "exact by 66.6/1.8"},
		{140, 60, "108/1.8"},
		{160, 640.0 / 9, "128/1.8"},
	} {
		if got := FromFahrenheit(c.fahrenheit); math.Abs(float64(got-c.celsius)) > 1e-13*300 {
			t.Errorf("%g °F is %.15g °C, want %.15g (%s)", c.fahrenheit, got, c.celsius, c.why)
		}
		if got := c.celsius.Fahrenheit(); math.Abs(got-c.fahrenheit) > 1e-13*500 {
			t.Errorf("%g °C is %.15g °F, want %.15g (%s)", c.celsius, got, c.fahrenheit, c.why)
		}
	}
	for _, c := range []struct {
		inches      float64
		millimeters Millimeters
	}{{1, 25.4}, {5.5, 139.7}, {10, 254}, {36, 914.4}, {63360, 1609344}} {
		if got := FromInches(c.inches); math.Abs(float64(got/c.millimeters)-1) > 1e-15 {
			t.Errorf("%g inch are %.15g mm, want %.15g", c.inches, got, c.millimeters)
		}
		if got := c.millimeters.Inches(); math.Abs(got/c.inches-1) > 1e-15 {
			t.Errorf("%g mm are %.15g inch, want %.15g", c.millimeters, got, c.inches)
		}
	}
}

// TestSpreadsheetConvertsAlike holds conversions against the spreadsheet function CONVERT,
// as excelize computes it.
func TestSpreadsheetConvertsAlike(t *testing.T) {
	sheet := excelize.NewFile()
	convert := func(x float64, from, to string) float64 {
		t.Helper()
		if err := sheet.SetCellFormula("Sheet1", "A1", fmt.Sprintf("CONVERT(%.17g,%q,%q)", x, from, to)); err != nil {
			t.Fatal(err)
		}
		text, err := sheet.CalcCellValue("Sheet1", "A1")
		if err != nil {
			t.Fatal(err)
		}
		value, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		return value
	}
	for _, x := range []float64{-40, 0, 25.4, 98.6, 160} {
		for _, c := range []struct {
			from, to string
			got      float64
		}{
			{"F", "C", float64(FromFahrenheit(x))},
			{"C", "F", Celsius(x).Fahrenheit()},
			{"in", "mm", float64(FromInches(x))},
			{"mm", "in", Millimeters(x).Inches()},
		} {
			if want := convert(x, c.from, c.to); math.Abs(c.got-want) > 1e-12*300 {
				t.Errorf("%g %s: %.15g %s, want %.15g", x, c.from, c.got, c.to, want)
			}
		}
	}
}

// TestDifferenceHasNoZeroPoint asks that a difference is converted without the 32.
func TestDifferenceHasNoZeroPoint(t *testing.T) {
	if got := Rise(0).fahrenheitDegrees(); got != 0 {
		t.Errorf("no rise is %g °F", got)
	}
	if got := Rise(50).fahrenheitDegrees(); got != 90 {
		t.Errorf("50 K are %g °F, want 90", got)
	}
	random := rand.New(rand.NewPCG(1, 0))
	for range 1000 {
		low, high := Celsius(200*random.Float64()-50), Celsius(200*random.Float64()-50)
		rise := high.Above(low)
		if math.Abs(float64(low.Plus(rise)-high)) > 1e-12 {
			t.Fatalf("%g above %g makes %g", rise, low, low.Plus(rise))
		}
		if got, want := rise.fahrenheitDegrees(), high.Fahrenheit()-low.Fahrenheit(); math.Abs(got-want) > 1e-11 {
			t.Fatalf("a rise of %g °F lies between readings %g °F apart", got, want)
		}
		if back := FromFahrenheit(low.Fahrenheit()); math.Abs(float64(back-low)) > 1e-12 {
			t.Fatalf("%g °C comes back as %g", low, back)
		}
	}
}

func TestParseTemperature(t *testing.T) {
	for text, want := range map[string]Celsius{
		"80C": 80, "80c": 80, "80 C": 80, "80°C": 80, "80 °C": 80, "80 ° C": 80, "80ºC": 80, " 80 °c ": 80,
		"176F": 80, "176 °F": 80, "176f": 80, "-40F": -40, "-40C": -40, "+21.5C": 21.5, "21,5C": 21.5, ".5C": 0.5,
		"7e1C": 70, "-273.15C": AbsoluteZero, "0C": 0,
	} {
		got, err := ParseTemperature(text)
		if err != nil || math.Abs(float64(got-want)) > 1e-12 {
			t.Errorf("%q: %g, %v; want %g", text, got, err, want)
		}
	}
	refused(t, ParseTemperature, map[string]bool{
		"80": true, "176 ": true, "-3": true, // without a unit
		"": false, "C": false, "°F": false, "hot": false, "80K": false, "80CF": false, "80 degrees": false,
		"1,234.5C": false, "1.2.3C": false, "--5C": false, "0x50C": false, "8_0C": false, "NaNC": false, "InfC": false,
		"1e999C": false, "-274C": false, "-460F": false, "80 C 3": false, "80C\x00": false, "\xff80C": false,
	})
}

func TestParseLength(t *testing.T) {
	for text, want := range map[string]Millimeters{
		"140mm": 140, "140 MM": 140, "14cm": 140, "5.5in": 139.7, "5,5 in": 139.7, "5.5 inch": 139.7,
		"5.5 Inches": 139.7, `5.5"`: 139.7, "5.5″": 139.7, "0mm": 0, "1e2mm": 100,
	} {
		got, err := ParseLength(text)
		if err != nil || math.Abs(float64(got-want)) > 1e-12 {
			t.Errorf("%q: %g, %v; want %g", text, got, err, want)
		}
	}
	refused(t, ParseLength, map[string]bool{
		"140": true, "5.5": true,
		"": false, "mm": false, "140m": false, "140 ft": false, "1,234.5mm": false, "NaNmm": false, "five inches": false,
		"1e999mm": false, "140mmmm": false,
		// finite as written, but not once in millimetres
		"1e308in": false, "1e308cm": false, "-1e308 inch": false,
	})
}

func TestParseMinutes(t *testing.T) {
	for text, want := range map[string]Minutes{
		"12.5": 12.5, "12,5": 12.5, "12": 12, " 12 ": 12, "0": 0, "12:30": 12.5, "0:45": 0.75, "12'30": 12.5,
		`12'30"`: 12.5, "12′30″": 12.5, "12’30”": 12.5, "12'": 12, "1:05": 1 + 5.0/60, "0:12:30": 12.5, "1:00:00": 60,
		"90:00": 90, "1e1": 10,
	} {
		got, err := ParseMinutes(text)
		if err != nil || math.Abs(float64(got-want)) > 1e-12 {
			t.Errorf("%q: %g, %v; want %g", text, got, err, want)
		}
	}
	refused(t, ParseMinutes, map[string]bool{
		"": false, ":": false, "12:": false, ":30": false, "12:60": false, "12:99": false, "1:60:00": false, "1:2:3:4": false,
		"-5": false, "-5:30": false, "5:-30": false, "12:3o": false, "12:30.5": false, "soon": false, "12min": false,
		"NaN": false, "Inf": false, "99999999:00": false,
		// seconds alone, and marks where none belong
		`30"`: false, `1"2`: false, `12'30"5`: false, `"12"`: false, `12"30'`: false, "12''": false,
	})
}

func TestParseNumber(t *testing.T) {
	for text, want := range map[string]float64{
		"12": 12, "12.5": 12.5, "12,5": 12.5, "-3": -3, "+3": 3, "1e3": 1000, "1E-3": 0.001, " 7 ": 7, "010": 10, "1,234": 1.234,
	} {
		if got, err := ParseNumber(text); err != nil || got != want {
			t.Errorf("%q: %g, %v; want %g", text, got, err, want)
		}
	}
	refused(t, ParseNumber, map[string]bool{
		"": false, "   ": false, "n/a": false, "NaN": false, "Inf": false, "-Infinity": false, "0x1p4": false, "1_000": false,
		"1.234,5": false, "1,234.5": false, "1 000": false, "1e": false, "e1": false, ".": false, "-": false, "1e309": false, "٣": false,
	})
}

// refused asks that every text is refused, with a message, and as being without a unit
// where that is what is wrong with it.
func refused[T any](t *testing.T, parse func(string) (T, error), texts map[string]bool) {
	t.Helper()
	for text, noUnit := range texts {
		got, err := parse(text)
		if err == nil {
			t.Errorf("%q is read as %v", text, got)
			continue
		}
		if err.Error() == "" || errors.Is(err, ErrNoUnit) != noUnit {
			t.Errorf("%q is refused with %q", text, err)
		}
	}
}

// A word is not told to be empty.
func TestWordIsNotEmpty(t *testing.T) {
	for _, text := range []string{"hot", "C", "NaN", "٣٠"} {
		_, errTemperature := ParseTemperature(text)
		_, errLength := ParseLength(text)
		for _, err := range []error{errTemperature, errLength} {
			if err == nil || err.Error() != "not a number" {
				t.Errorf("%q: %v", text, err)
			}
		}
	}
}

// TestSystemsWrite holds what drivers read against what they would write by hand.
func TestSystemsWrite(t *testing.T) {
	for _, c := range []struct{ name, got, want string }{
		{"a reading as given", Metric.Reading(80), "80 °C"},
		{"with a decimal", Metric.Reading(70.5), "70.5 °C"},
		{"near a whole degree", Metric.Reading(70.24), "70 °C"},
		{"a third of a degree", Metric.Reading(70.3), "70.3 °C"},
		{"given in °F, shown in °C", Metric.Reading(FromFahrenheit(140)), "60 °C"},
		{"given in °C, shown in °F", US.Reading(71), "160 °F"},
		{"0.6 °F above a whole degree", US.Reading(FromFahrenheit(158.6)), "158.6 °F"},
		{"just below zero", Metric.Reading(-0.1), "0 °C"},
		{"a forecast in whole degrees", Metric.Forecast(70.6), "71 °C"},
		{"its number", US.Peak(100), "212"},
		{"a forecast beyond what any part reaches", US.Forecast(1200), "over 999 °F"},
		{"a difference", Metric.Rise(10.4), "10 °C"},
		{"a difference has no zero point", US.Rise(10), "18 °F"},
		{"a tire", US.Tire(FromInches(4.65)), "4.65 in"},
		{"a tire in mm", Metric.Tire(118.04), "118 mm"},
		{"a rollout", Metric.Rollout(37.04), "37.0"},
		{"a rollout in inches", US.Rollout(37.071), "1.46"},
		{"minutes", Minutes(12.25).String(), "12.3 min"},
		{"whole minutes", Minutes(12).String(), "12 min"},
		{"never -0", Fixed(-0.04, 1), "0.0"},
		{"nor without decimals", Trimmed(-0.04, 1), "0"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.name, c.got, c.want)
		}
	}
}

// TestSystemsAreNamed as flags and files name them.
func TestSystemsAreNamed(t *testing.T) {
	for _, s := range Systems {
		if got, err := ParseSystem(s.String()); err != nil || got != s {
			t.Errorf("%v comes back as %v, %v", s, got, err)
		}
	}
	if got, err := ParseSystem("imperial"); err == nil {
		t.Errorf("imperial is read as %v", got)
	}
}

func TestChance(t *testing.T) {
	for p, want := range map[float64]string{
		0: "under 1 %", 0.0099: "under 1 %", 0.01: "1 %", 0.29: "29 %", 0.57: "57 %", 0.7999: "79 %", math.Nextafter(0.8, 0): "79 %", 0.8: "80 %",
		0.99: "99 %", 0.9901: "over 99 %", 1: "over 99 %",
	} {
		if got := Chance(p); got != want {
			t.Errorf("Chance(%g) = %q, want %q", p, got, want)
		}
	}
}

func TestPercent(t *testing.T) {
	for _, c := range []struct {
		share    float64
		decimals int
		want     string
	}{
		{0.8, 0, "80 %"}, {0.125, 0, "13 %"}, {0.125, 1, "12.5 %"}, {0, 2, "0 %"}, {-0.001, 0, "0 %"}, {1, 6, "100 %"},
	} {
		if got := Percent(c.share, c.decimals); got != c.want {
			t.Errorf("Percent(%g, %d) = %q, want %q", c.share, c.decimals, got, c.want)
		}
	}
	for p, want := range map[float64]string{0.8: "80 %", 0.85: "85 %", 0.999: "99.9 %", 0.57: "57 %"} {
		if got := Confidence(p); got != want {
			t.Errorf("Confidence(%g) = %q, want %q", p, got, want)
		}
	}
}

// Minutes and seconds as they are written in words.
func TestMinutesInWords(t *testing.T) {
	for text, want := range map[string]Minutes{"12 min 30": 12.5, "12 min 30 s": 12.5, "12m30s": 12.5, "6 mn 15 sec.": 6.25, "9min. 45 sek": 9.75} {
		if got, err := ParseMinutes(text); err != nil || got != want {
			t.Errorf("%q is read as %g, %v, want %g", text, got, err, want)
		}
	}
	for _, text := range []string{"12 min", "12 m 60", "12 mm 30", "m30", "12 min 30 min"} {
		if got, err := ParseMinutes(text); err == nil {
			t.Errorf("%q is read as %g", text, got)
		}
	}
}

// Inches as tape measures show them. The fractions are eighths and sixteenths, exact in binary.
func TestParseInches(t *testing.T) {
	for text, want := range map[string]float64{
		"4 1/8": 4.125, "4-1/8": 4.125, "4 - 1/8": 4.125, "4⅛": 4.125, "4 ⅛": 4.125, "1/2": 0.5, "½": 0.5, "4 1 / 8": 4.125,
		"5 13/16": 5.8125, "4.125": 4.125, "4,125": 4.125, " 5 ": 5, "2 1⁄4": 2.25,
	} {
		if got, err := ParseInches(text); err != nil || got != want {
			t.Errorf("%q is read as %g, %v, want %g", text, got, err, want)
		}
	}
	for _, text := range []string{"", "-1/8", "4 8/8", "4 9/8", "4 1/0", "1/8 4", "4 1/8 in", "4/", "/8", "4.5 1/8", "1/2/3", "5/9/2026"} {
		if got, err := ParseInches(text); err == nil {
			t.Errorf("%q is read as %g", text, got)
		}
	}
	for text, want := range map[string]Millimeters{"4 1/8 in": 104.775, "4⅛\"": 104.775, `4-1/8"`: 104.775, "½in": 12.7} {
		if got, err := ParseLength(text); err != nil || math.Abs(float64(got-want)) > 1e-9 {
			t.Errorf("%q is read as %g, %v, want %g", text, got, err, want)
		}
	}
	if _, err := ParseLength("4 1/8"); !errors.Is(err, ErrNoUnit) {
		t.Errorf("a fraction without its unit: %v", err)
	}
}
