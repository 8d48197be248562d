package plotting

import (
	"encoding/csv"
	"fmt"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The formulas that the palette is checked with. sRGB and its matrix to XYZ: IEC 61966-2-1;
// L*a*b* and its colour difference: CIE 1976; contrast and its thresholds: WCAG 2.2, success
// criteria 1.4.3 (text 4.5) and 1.4.11 (graphics 3); how the eyes of dichromats mix linear
// light: Machado, Oliveira and Fernandes 2009, severity 1. TestColourScience holds them
// against an R package.

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

// contrast is WCAG's contrast ratio, with its rounded weights of the channels.
func contrast(a, b color.NRGBA) float64 {
	luminance := func(c color.NRGBA) float64 {
		v := linear(c)
		return 0.2126*v[0] + 0.7152*v[1] + 0.0722*v[2]
	}
	x, y := luminance(a), luminance(b)
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

// TestColourScience compares the formulas with testdata/colours.csv, which was made with the
// R package colorspace 2.1-0 (colours.R). CIE's difference of black and white is 100 by
// definition.
func TestColourScience(t *testing.T) {
	file, err := os.Open(filepath.Join("testdata", "colours.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	r := csv.NewReader(file)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	white := color.NRGBA{255, 255, 255, 255}
	for _, row := range rows[1:] {
		var c color.NRGBA
		var want triple
		var ratio float64
		if _, err := fmt.Sscanf(strings.Join(row[2:], " "), "%g %g %g %g", &want[0], &want[1], &want[2], &ratio); err != nil {
			t.Fatal(err)
		}
		if _, err := fmt.Sscanf(row[0], "%02X%02X%02X", &c.R, &c.G, &c.B); err != nil {
			t.Fatal(err)
		}
		if got := lab(eyes[row[1]].times(linear(c))); difference(got, want) > 0.02 {
			t.Errorf("%s for %s: L*a*b* %.3f, want %.3f", row[0], row[1], got, want)
		}
		if got := contrast(c, white); math.Abs(got/ratio-1) > 1e-4 {
			t.Errorf("%s on white: contrast %g, want %g", row[0], got, ratio)
		}
	}
	if d := difference(lab(linear(color.NRGBA{A: 255})), lab(linear(white))); math.Abs(d-100) > 1e-5 {
		t.Errorf("black and white differ by %g", d)
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
	// Areas behind the rest, which must still be seen in the sun. Both bounds are our own.
	for _, area := range []ink{band, bar} {
		if got := contrast(area.NRGBA, paper.NRGBA); got < 1.6 || got > 2 {
			t.Errorf("%s on paper: contrast %.2f, want 1.6 to 2", area.Name, got)
		}
	}
	for r := Forecast; r <= Missed; r++ {
		if got := contrast(r.labelInk().NRGBA, paper.NRGBA); got < 4.5 {
			t.Errorf("what names role %d: contrast %.2f", r, got)
		}
	}

	// What stands in one figure must be told apart: by every eye by 30 units at least, and in
	// grey by 12 of lightness. Both bounds are our own.
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

// TestStyleSheet checks that the pages' style sheet has the palette's colours in the light, and in
// the dark others that can be told from their paper as well.
func TestStyleSheet(t *testing.T) {
	sheet, err := os.ReadFile(filepath.Join("..", "cmd", "regear", "internal", "document", "style.css"))
	if err != nil {
		t.Fatal(err)
	}
	light, dark, _ := strings.Cut(string(sheet), "prefers-color-scheme: dark")
	colour := func(of string, i ink) color.NRGBA {
		t.Helper()
		c := color.NRGBA{A: 255}
		_, value, _ := strings.Cut(of, "--"+i.Name+": ")
		if _, err := fmt.Sscanf(value, "#%02x%02x%02x;", &c.R, &c.G, &c.B); err != nil {
			t.Fatalf("%s: %v", i.Name, err)
		}
		return c
	}
	for i, least := range map[ink]float64{paper: 1, text: 7, quiet: 4.5, grid: 1, lane: 1, first: 4.5, second: 3, third: 4.5, danger: 4.5, band: 1.6, bar: 1.6} {
		if got := colour(light, i); got != i.NRGBA {
			t.Errorf("%s is %v in the style sheet, %v in figures", i.Name, got, i.NRGBA)
		}
		if got := contrast(colour(dark, i), colour(dark, paper)); got < least {
			t.Errorf("%s in the dark: contrast %.2f, want %g", i.Name, got, least)
		}
	}
}
