package plotting

import (
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"strings"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// pngCanvas is a vg.Canvas that draws pixels, one byte each.
//
// It stands in for gonum's own because a picture waits longest for fresh memory: at the
// default size that one touches eight bytes a pixel, and this one a single byte.
type pngCanvas struct {
	sheet
	scale float64 // pixels of the picture to one of the layout
	shades
	cover coverage
}

func newPNG(width, height vg.Length, size Size, scale float64) *pngCanvas {
	return &pngCanvas{
		sheet: newSheet(width, height), scale: scale,
		shades: newShades(size),
		cover:  newCoverage(size),
	}
}

// Fill implements vg.Canvas.
func (c *pngCanvas) Fill(path vg.Path) {
	var o outline
	for _, line := range c.flatten(path) {
		o.polygon(line.points)
	}
	c.paint(o)
}

// Stroke implements vg.Canvas.
func (c *pngCanvas) Stroke(path vg.Path) {
	if c.now.lineWidth <= 0 {
		return
	}
	dashes := make([]float64, len(c.now.dashes))
	for i, d := range c.now.dashes {
		dashes[i] = float64(d) * c.scale
	}
	for _, line := range c.flatten(path) {
		for _, dash := range line.dash(dashes, float64(c.now.offset)*c.scale) {
			var o outline
			o.stroke(dash, float64(c.now.lineWidth)*c.scale/2)
			c.paint(o)
		}
	}
}

// FillString implements vg.Canvas.
func (c *pngCanvas) FillString(face font.Face, p vg.Point, s string) {
	var (
		buffer sfnt.Buffer
		last   sfnt.GlyphIndex
		x      float64
	)
	// At one unit a pixel, a font gives its outlines as they were drawn.
	units := fixed.Int26_6(face.Face.UnitsPerEm())
	scale := float64(face.Font.Size) / float64(units)
	for i, r := range available(face, s) {
		glyph, err := face.Face.GlyphIndex(&buffer, r)
		if err != nil {
			c.err = err
			return
		}
		if kern, err := face.Face.Kern(&buffer, last, glyph, units, 0); err == nil && i > 0 {
			x += float64(kern) * scale
		}
		outlines, err := face.Face.LoadGlyph(&buffer, glyph, units<<6, nil)
		if err != nil {
			c.err = err
			return
		}
		at := func(q fixed.Point26_6) vg.Point {
			return p.Add(vg.Point{X: vg.Length(x + float64(q.X)/64*scale), Y: vg.Length(-float64(q.Y) / 64 * scale)})
		}
		c.Fill(glyphPath(outlines, at))
		advance, err := face.Face.GlyphAdvance(&buffer, glyph, units, 0)
		if err != nil {
			c.err = err
			return
		}
		x += float64(advance) * scale
		last = glyph
	}
}

// glyphPath turns a glyph's outlines into a path.
func glyphPath(segments sfnt.Segments, at func(fixed.Point26_6) vg.Point) vg.Path {
	var path vg.Path
	for _, s := range segments {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			path.Move(at(s.Args[0]))
		case sfnt.SegmentOpLineTo:
			path.Line(at(s.Args[0]))
		case sfnt.SegmentOpQuadTo:
			path.QuadTo(at(s.Args[0]), at(s.Args[1]))
		case sfnt.SegmentOpCubeTo:
			path.CubeTo(at(s.Args[0]), at(s.Args[1]), at(s.Args[2]))
		}
	}
	return path
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

// paint lays the present colour over what an outline covers.
func (c *pngCanvas) paint(o outline) {
	over := c.of(c.now.color)
	c.cover.each(o, func(y, x int, covered []float32) {
		c.lay(over, c.picture.Pix[y*c.picture.Stride+x:], covered)
	})
}

// writeTo writes the picture.
func (c *pngCanvas) writeTo(w io.Writer) error {
	if c.err != nil {
		return c.err
	}
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	return e.Encode(w, c.picture)
}

// shades is a picture with a palette that grows as it is drawn on.
//
// The palette's inks stay as they are. Of the shades between them, at the edges of lines
// and letters, those that nobody can tell apart become one.
type shades struct {
	picture *image.Paletted
	known   map[color.RGBA]uint8
	// blends holds what becomes of each colour when another is laid over it with a share
	// in blendSteps, so far as it was asked; one more than the index, so that 0 is none.
	blends map[uint8]*[mostShades][blendSteps]uint16
}

const (
	blendSteps = 16
	shadeStep  = 17 // between the levels of a channel: 0, 17, … 255
	mostShades = 256
)

// newShades returns a sheet of paper.
func newShades(size Size) shades {
	s := shades{
		picture: image.NewPaletted(image.Rect(0, 0, size.Width, size.Height), nil),
		known:   map[color.RGBA]uint8{},
		blends:  map[uint8]*[mostShades][blendSteps]uint16{},
	}
	for _, i := range inks {
		s.of(i)
	}
	return s
}

// of returns the palette's index of a colour, which it adds; once the palette is full,
// of the nearest.
func (s *shades) of(c color.Color) uint8 {
	want := color.RGBAModel.Convert(c).(color.RGBA)
	i, ok := s.known[want]
	if !ok {
		if len(s.picture.Palette) < mostShades {
			s.picture.Palette = append(s.picture.Palette, want)
		}
		i = uint8(s.picture.Palette.Index(want))
		s.known[want] = i
	}
	return i
}

// lay covers a share of each pixel of a row with a colour.
func (s *shades) lay(over uint8, row []uint8, covered []float32) {
	blends := s.blends[over]
	if blends == nil {
		blends = new([mostShades][blendSteps]uint16)
		s.blends[over] = blends
	}
	for k, share := range covered {
		switch steps := int(share*blendSteps + 0.5); steps {
		case 0:
		case blendSteps:
			row[k] = over
		default:
			b := &blends[row[k]][steps]
			if *b == 0 {
				*b = 1 + uint16(s.of(mix(s.picture.Palette[row[k]], s.picture.Palette[over], steps)))
			}
			row[k] = uint8(*b - 1)
		}
	}
}

// mix returns a colour between two, at a level of each channel.
func mix(under, over color.Color, steps int) color.RGBA {
	a, b := color.RGBAModel.Convert(under).(color.RGBA), color.RGBAModel.Convert(over).(color.RGBA)
	channel := func(u, o uint8) uint8 {
		exact := (float64(u)*float64(blendSteps-steps) + float64(o)*float64(steps)) / blendSteps
		return uint8(math.Round(exact/shadeStep) * shadeStep)
	}
	return color.RGBA{channel(a.R, b.R), channel(a.G, b.G), channel(a.B, b.B), 0xff}
}
