// Package canvas writes what is drawn on a gonum vg.Canvas as a picture file: [PNG], [SVG]
// or [PDF].
//
// The SVG belongs inside a page: it has no inline style and no id, its text is text, its
// colours can be replaced by classes, and a title and a description stand for it where it
// can't be seen. The PDF embeds the letters that it uses, regular and bold. gonum's own
// canvases of both kinds don't do this.
//
// A drawing is made of straight lines, cubic curves and level text, in opaque colours. The
// same drawing gives the same bytes.
package canvas

import (
	"errors"
	"image"
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

// ErrNotDrawn reports that a drawing has what the SVG and PDF canvases leave out, because no
// drawing of ours needs it: an image, an arc, dashes that begin within one, a turned, moved
// or scaled part, or Push, which would keep these.
var ErrNotDrawn = errors.New("canvas: only lines, cubic curves and level text can be drawn")

// sheet is what the SVG and the PDF canvas share: the state of a vg.Canvas, and where
// its points lie when counted down from the top, as both formats do.
type sheet struct {
	page          Page
	width, height vg.Length
	color         color.Color
	lineWidth     float64
	dashes        []float64
	err           error
}

func newSheet(p Page) sheet {
	return sheet{
		page:  p,
		width: vg.Length(float64(p.Width) / p.Scale), height: vg.Length(float64(p.Height) / p.Scale),
		color: color.Black, lineWidth: 1,
	}
}

// Size implements vg.CanvasSizer.
func (s *sheet) Size() (width, height vg.Length) { return s.width, s.height }

// SetLineWidth implements vg.Canvas.
func (s *sheet) SetLineWidth(w vg.Length) { s.lineWidth = float64(w) }

// SetLineDash implements vg.Canvas.
func (s *sheet) SetLineDash(dashes []vg.Length, offset vg.Length) {
	s.dashes = make([]float64, len(dashes))
	for i, d := range dashes {
		s.dashes[i] = float64(d)
	}
	if offset != 0 {
		s.err = ErrNotDrawn
	}
}

// SetColor implements vg.Canvas.
func (s *sheet) SetColor(c color.Color) {
	if c == nil {
		c = color.Black
	}
	s.color = c
}

// rgb returns the colour's channels, from 0 to 255.
func (s *sheet) rgb() (r, g, b int) {
	c := color.NRGBAModel.Convert(s.color).(color.NRGBA)
	return int(c.R), int(c.G), int(c.B)
}

// Push, Pop, Translate, Rotate, Scale and DrawImage implement vg.Canvas, and draw nothing.
func (s *sheet) Push()                               { s.err = ErrNotDrawn }
func (s *sheet) Pop()                                { s.err = ErrNotDrawn }
func (s *sheet) Translate(vg.Point)                  { s.err = ErrNotDrawn }
func (s *sheet) Rotate(float64)                      { s.err = ErrNotDrawn }
func (s *sheet) Scale(_, _ float64)                  { s.err = ErrNotDrawn }
func (s *sheet) DrawImage(vg.Rectangle, image.Image) { s.err = ErrNotDrawn }

// place returns where a point lies on the sheet, down from its top left corner.
func (s *sheet) place(p vg.Point) (x, y float64) { return float64(p.X), float64(s.height - p.Y) }

// steps calls draw for each step of a path: with M to move, L for a line and C for a cubic
// curve to the last of its points, and Z to close. The points are pairs of x and y, down
// from the top left corner.
func (s *sheet) steps(path vg.Path, draw func(letter byte, at ...float64)) {
	for _, step := range path {
		x, y := s.place(step.Pos)
		switch {
		case step.Type == vg.MoveComp:
			draw('M', x, y)
		case step.Type == vg.LineComp:
			draw('L', x, y)
		case step.Type == vg.CurveComp && len(step.Control) == 2:
			x0, y0 := s.place(step.Control[0])
			x1, y1 := s.place(step.Control[1])
			draw('C', x0, y0, x1, y1, x, y)
		case step.Type == vg.CloseComp:
			draw('Z')
		default:
			s.err = ErrNotDrawn
		}
	}
}
