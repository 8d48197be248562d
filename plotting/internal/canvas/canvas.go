// Package canvas writes what is drawn on a gonum vg.Canvas as a picture file: [PNG], [SVG]
// or [PDF].
//
// The SVG belongs inside a page: it has no inline style and no id, its text is text, its
// colours can be replaced by classes, and a title and a description stand for it where it
// can't be seen. The PDF embeds the letters that it uses, regular and bold. gonum has
// canvases of both kinds, and neither does this.
//
// A drawing is made of straight lines, cubic curves and level text, in opaque colours. The
// same drawing gives the same bytes.
package canvas

import (
	"image/color"
	"io"
	"strings"

	"golang.org/x/image/font/sfnt"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// Page is the page that a picture is drawn on.
type Page struct {
	Width, Height int // of the picture, in pixels
	// Scale is how many pixels of the picture one unit of the drawing takes.
	Scale float64
	// Title and Description say in words what the picture shows. An SVG has both, a PDF
	// the title.
	Title, Description string
}

// Canvas is a page to draw on.
type Canvas interface {
	vg.CanvasSizer
	// Encode writes the picture. It fails on what w reports, and with [ErrNotDrawn].
	Encode(w io.Writer) error
}

// Ink is an opaque colour with a name. In an SVG the name becomes the class
// "plot-fill-NAME" or "plot-line-NAME", by which a page's style sheet can replace the
// colour.
type Ink struct {
	color.NRGBA
	Name string
}

// available replaces the letters that a font lacks by question marks.
func available(face font.Face, s string) string {
	var buffer sfnt.Buffer
	return strings.Map(func(r rune) rune {
		if glyph, err := face.Face.GlyphIndex(&buffer, r); err != nil || glyph == 0 {
			return '?'
		}
		return r
	}, s)
}
