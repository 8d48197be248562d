package canvas

import (
	"errors"
	"image"
	"io"
	"math"
	"testing"

	"gonum.org/v1/plot/vg"
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
