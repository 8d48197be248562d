package units

import (
	"math"
	"strconv"
	"testing"
)

// shortest writes a number so that it reads back as the same.
func shortest(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// same reports whether two numbers differ by no more than the rounding of one
// conversion to another unit and back.
func same(a, b float64) bool { return math.Abs(a-b) <= 4e-16*math.Max(math.Abs(a), math.Abs(b)) }

func FuzzParseTemperature(f *testing.F) {
	for _, seed := range []string{"80C", "176 °F", "-40f", "21,5 ºC", "1e2C", "80", "", "°", "C80", "\xff"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		c, err := ParseTemperature(text)
		if err != nil {
			return
		}
		if !(c >= AbsoluteZero) || math.IsInf(float64(c), 0) {
			t.Fatalf("%q is read as %g °C", text, c)
		}
		if back, err := ParseTemperature(shortest(float64(c)) + " °C"); err != nil || back != c {
			t.Fatalf("%q is %g °C, which reads as %g, %v", text, c, back, err)
		}
		// On the Fahrenheit scale a reading keeps its digits but for the 32.
		if back, err := ParseTemperature(shortest(c.Fahrenheit()) + "F"); math.IsInf(c.Fahrenheit(), 0) {
			if err == nil {
				t.Fatalf("an endless reading is read as %g °C", back)
			}
		} else if c > AbsoluteZero+1e-9 && (err != nil || math.Abs(float64(back-c)) > 1e-13+4e-16*math.Abs(float64(c))) {
			t.Fatalf("%q is %g °C, which in °F reads as %g °C, %v", text, c, back, err)
		}
	})
}

func FuzzParseLength(f *testing.F) {
	for _, seed := range []string{"140mm", "5.5 in", `5.5"`, "14 CM", "140", "1e308in", "", "mm", "4 1/8 in", "4⅛\""} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		m, err := ParseLength(text)
		if err != nil {
			return
		}
		if math.IsNaN(float64(m)) || math.IsInf(float64(m), 0) {
			t.Fatalf("%q is read as %g mm", text, m)
		}
		if back, err := ParseLength(shortest(float64(m)) + "mm"); err != nil || back != m {
			t.Fatalf("%q is %g mm, which reads as %g, %v", text, m, back, err)
		}
		if back, err := ParseLength(shortest(m.Inches()) + " in"); math.Abs(float64(m)) > 1e-300 && math.Abs(float64(m)) < 1e307 && (err != nil || !same(float64(back), float64(m))) {
			t.Fatalf("%q is %g mm, which in inch reads as %g mm, %v", text, m, back, err)
		}
	})
}

func FuzzParseMinutes(f *testing.F) {
	for _, seed := range []string{"12.5", "12:30", `12'30"`, "0:12:30", "12'", "-1", `30"`, ":", ""} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		m, err := ParseMinutes(text)
		if err != nil {
			return
		}
		if !(m >= 0) || math.IsInf(float64(m), 0) {
			t.Fatalf("%q is read as %g minutes", text, m)
		}
		if back, err := ParseMinutes(shortest(float64(m))); err != nil || back != m {
			t.Fatalf("%q is %g minutes, which read as %g, %v", text, m, back, err)
		}
		if m > 1000 {
			return
		}
		seconds := int(math.Round(float64(m) * 60))
		clock := strconv.Itoa(seconds/60) + ":" + strconv.Itoa(seconds%60)
		if back, err := ParseMinutes(clock); err != nil || math.Abs(float64(back)*60-float64(seconds)) > 1e-9 {
			t.Fatalf("%q is %s, which reads as %g minutes, %v", text, clock, back, err)
		}
	})
}
