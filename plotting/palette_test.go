package plotting

import (
	"image/color"
	"math"
	"testing"
)

// The checks of the palette. sRGB and its matrix to XYZ: IEC 61966-2-1; L*a*b* and its
// colour difference: CIE 1976; contrast and its thresholds: WCAG 2.2, success criteria
// 1.4.3 (text 4.5) and 1.4.11 (graphics 3); how the eyes of dichromats mix colours: Machado,
// Oliveira and Fernandes 2009, severity 1, all from memory.

type triple [3]float64

func (m matrix) times(v triple) triple {
	var out triple
	for i := range m {
		for j := range v {
			out[i] += m[i][j] * v[j]
		}
	}
	return out
}

type matrix [3]triple

var toXYZ = matrix{
	{0.4124564, 0.3575761, 0.1804375},
	{0.2126729, 0.7151522, 0.0721750},
	{0.0193339, 0.1191920, 0.9503041},
}

var eyes = map[string]matrix{
	"normal":       {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	"protanopia":   {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"deuteranopia": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"tritanopia":   {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
}

// linear returns a colour in linear light.
func linear(c color.NRGBA) triple {
	one := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return triple{one(c.R), one(c.G), one(c.B)}
}

func contrast(a, b color.NRGBA) float64 {
	x, y := toXYZ.times(linear(a))[1], toXYZ.times(linear(b))[1]
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// lab returns L*, a* and b* of a colour in linear light.
func lab(c triple) triple {
	white := toXYZ.times(triple{1, 1, 1})
	xyz := toXYZ.times(c)
	f := func(i int) float64 {
		t := math.Max(0, xyz[i]) / white[i]
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	return triple{116*f(1) - 16, 500 * (f(0) - f(1)), 200 * (f(1) - f(2))}
}

func difference(a, b triple) float64 {
	return math.Sqrt((a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1]) + (a[2]-b[2])*(a[2]-b[2]))
}

// TestColourScience checks the checks: black on white has a contrast of 21 by WCAG's
// definition and a difference of 100 by CIE's; sRGB red has L*a*b* 53.24, 80.09, 67.20
// (published by many colour calculators, from memory); and no eye sees a hue in grey.
func TestColourScience(t *testing.T) {
	black, white := color.NRGBA{A: 255}, color.NRGBA{255, 255, 255, 255}
	if c := contrast(black, white); math.Abs(c-21) > 1e-5 {
		t.Errorf("contrast %g", c)
	}
	if d := difference(lab(linear(black)), lab(linear(white))); math.Abs(d-100) > 1e-5 {
		t.Errorf("difference %g", d)
	}
	if red := lab(linear(color.NRGBA{R: 255, A: 255})); difference(red, triple{53.24, 80.09, 67.20}) > 0.02 {
		t.Errorf("red %v", red)
	}
	for name, eye := range eyes {
		for _, row := range eye {
			if sum := row[0] + row[1] + row[2]; math.Abs(sum-1) > 2e-6 {
				t.Errorf("%s: a row adds up to %g", name, sum)
			}
		}
	}
}

func TestPalette(t *testing.T) {
	for _, c := range []struct {
		ink   ink
		least float64
	}{
		{text, 7}, {quiet, 4.5}, {first, 4.5}, {danger, 4.5}, {third, 4.5}, // written
		{second, 3}, // drawn only: labelInk sees to it
	} {
		if got := contrast(c.ink.NRGBA, paper.NRGBA); got < c.least {
			t.Errorf("%s on paper: contrast %.2f, want %g", c.ink.Name, got, c.least)
		}
	}
	for _, back := range []ink{lane, band} {
		if got := contrast(text.NRGBA, back.NRGBA); got < 7 {
			t.Errorf("text on %s: contrast %.2f", back.Name, got)
		}
		if got := contrast(danger.NRGBA, back.NRGBA); got < 3 {
			t.Errorf("the limit on %s: contrast %.2f", back.Name, got)
		}
	}
	for r := Forecast; r <= Missed; r++ {
		if got := contrast(r.labelInk().NRGBA, paper.NRGBA); got < 4.5 {
			t.Errorf("what names role %d: contrast %.2f", r, got)
		}
	}

	// What stands in one figure must be told apart: by 30 units at least, where about 2.3
	// can just be seen, by every eye; and in grey by 12 of lightness.
	for figure, inks := range map[string][]ink{
		"temperatures": {first, second, danger, band, paper},
		"chances":      {first, second, third, bar, paper},
	} {
		for i, a := range inks {
			for _, b := range inks[:i] {
				light := math.Abs(lab(linear(a.NRGBA))[0] - lab(linear(b.NRGBA))[0])
				strong := contrast(a.NRGBA, paper.NRGBA) > 3 && contrast(b.NRGBA, paper.NRGBA) > 3
				if strong && light < 12 {
					t.Errorf("%s: %s and %s differ by %.1f of lightness", figure, a.Name, b.Name, light)
				}
				for name, eye := range eyes {
					d := difference(lab(eye.times(linear(a.NRGBA))), lab(eye.times(linear(b.NRGBA))))
					if strong && d < 30 {
						t.Errorf("%s: %s and %s differ by %.1f for %s", figure, a.Name, b.Name, d, name)
					}
				}
			}
		}
	}
}
