package canvas

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"testing"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// TestNotDrawn checks that what a canvas leaves out is reported and not lost.
func TestNotDrawn(t *testing.T) {
	from, by, to := vg.Point{X: 1, Y: 1}, vg.Point{X: 4, Y: 9}, vg.Point{X: 8, Y: 2}
	var arc, parabola vg.Path
	arc.Arc(from, 5, 0, math.Pi)
	parabola.Move(from)
	parabola.QuadTo(by, to)
	for name, draw := range map[string]func(vg.Canvas){
		"arc":      func(c vg.Canvas) { c.Fill(arc) },
		"parabola": func(c vg.Canvas) { c.Stroke(parabola) },
		"dashes":   func(c vg.Canvas) { c.SetLineDash([]vg.Length{3, 2}, 1) },
		"turned":   func(c vg.Canvas) { c.Rotate(1) },
		"moved":    func(c vg.Canvas) { c.Translate(by) },
		"scaled":   func(c vg.Canvas) { c.Scale(1, 2) },
		"image":    func(c vg.Canvas) { c.DrawImage(vg.Rectangle{Min: from, Max: to}, image.Black) },
	} {
		for kind, make := range map[string]func(Page) Canvas{"SVG": SVG, "PDF": PDF} {
			c := make(Page{Width: 100, Height: 50, Scale: 1})
			draw(c)
			if err := c.Encode(io.Discard); !errors.Is(err, ErrNotDrawn) {
				t.Errorf("%s on %s: %v", name, kind, err)
			}
		}
	}
}

// TestPalette compares a picture with the pixels that gonum drew: what was drawn in a colour
// has it exactly, and the shades at edges differ by no more than half a level.
func TestPalette(t *testing.T) {
	white, dark, tint := color.NRGBA{255, 255, 255, 255}, color.NRGBA{3, 73, 89, 255}, color.NRGBA{207, 227, 232, 255}
	draw := func(c vg.Canvas) {
		face := plot.DefaultTextHandler.Cache().Lookup(font.Font{Typeface: "Liberation", Variant: "Sans"}, 13)
		for i, ink := range []color.Color{tint, dark, white} {
			var path vg.Path
			path.Move(vg.Point{X: 60, Y: 50})
			path.Arc(vg.Point{X: 60, Y: 50}, vg.Length(40-15*i), 0, 2*math.Pi)
			c.SetColor(ink)
			c.Fill(path)
			c.FillString(face, vg.Point{X: 10.3, Y: vg.Length(10 + 30*i)}, "under 80 °C")
			var line vg.Path
			line.Move(vg.Point{X: 5, Y: vg.Length(3 + 30*i)})
			line.Line(vg.Point{X: 115, Y: vg.Length(7 + 30*i)})
			c.SetLineWidth(2)
			c.SetLineDash([]vg.Length{7, 5}, 0)
			c.Stroke(line)
		}
	}
	ours := PNG(Page{Width: 200, Height: 150, Scale: 1.5})
	draw(ours)
	var out bytes.Buffer
	if err := ours.Encode(&out); err != nil {
		t.Fatal(err)
	}
	got, err := png.Decode(&out)
	if err != nil {
		t.Fatal(err)
	}
	plain := vgimg.NewWith(vgimg.UseWH(200/1.5, 100), vgimg.UseDPI(108))
	draw(plain)
	exact := map[color.Color]bool{white: true, dark: true, tint: true}
	shades := 0
	for y := range 150 {
		for x := range 200 {
			g := color.NRGBAModel.Convert(got.At(x, y)).(color.NRGBA)
			w := color.NRGBAModel.Convert(plain.Image().At(x, y)).(color.NRGBA)
			most := math.Abs(float64(g.R) - float64(w.R))
			most = max(most, math.Abs(float64(g.G)-float64(w.G)), math.Abs(float64(g.B)-float64(w.B)))
			if exact[w] && g != w || most > shadeStep/2+1 {
				t.Fatalf("%d,%d: %v, drawn as %v", x, y, g, w)
			}
			if !exact[w] {
				shades++
			}
		}
	}
	if shades < 500 {
		t.Errorf("%d shades: nothing is smoothed", shades)
	}
}

// TestMissingLetters checks that a letter which the font lacks leaves a question mark.
func TestMissingLetters(t *testing.T) {
	face := plot.DefaultTextHandler.Cache().Lookup(font.Font{Typeface: "Liberation", Variant: "Sans"}, 13)
	if got := available(face, "heron 鷺 °–…"); got != "heron ? °–…" {
		t.Errorf("%q", got)
	}
}
