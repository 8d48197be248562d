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
	cover   coverage
	outline outline // of what is being drawn
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
	for _, line := range c.flatten(path) {
		c.outline.polygon(line.points)
	}
	c.paint()
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
			c.outline.stroke(dash, float64(c.now.lineWidth)*c.scale/2)
			c.paint()
		}
	}
}

// FillString implements vg.Canvas.
func (c *pngCanvas) FillString(face font.Face, p vg.Point, s string) {
	// At one unit a pixel, a font gives its outlines as they were drawn.
	units := fixed.Int26_6(face.Face.UnitsPerEm())
	scale := float64(face.Font.Size) / float64(units)
	var (
		buffer sfnt.Buffer
		before sfnt.GlyphIndex
		x      float64
	)
	for i, r := range available(face, s) {
		glyph, err := face.Face.GlyphIndex(&buffer, r)
		if err != nil {
			c.err = err
			return
		}
		if kern, err := face.Face.Kern(&buffer, before, glyph, units, 0); err == nil && i > 0 {
			x += float64(kern) * scale
		}
		segments, err := face.Face.LoadGlyph(&buffer, glyph, units<<6, nil)
		if err != nil {
			c.err = err
			return
		}
		c.glyph(segments, func(q fixed.Point26_6) spot {
			return c.spot(p.Add(vg.Point{X: vg.Length(x + float64(q.X)/64*scale), Y: vg.Length(-float64(q.Y) / 64 * scale)}))
		})
		advance, err := face.Face.GlyphAdvance(&buffer, glyph, units, 0)
		if err != nil {
			c.err = err
			return
		}
		x += float64(advance) * scale
		before = glyph
	}
}

// glyph fills the outlines of a letter.
func (c *pngCanvas) glyph(segments sfnt.Segments, at func(fixed.Point26_6) spot) {
	var t track
	for _, s := range segments {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			c.outline.polygon(t.points)
			t.points = append(t.points[:0], at(s.Args[0]))
		case sfnt.SegmentOpLineTo:
			t.add(at(s.Args[0]))
		case sfnt.SegmentOpQuadTo:
			from, control, to := t.end(), at(s.Args[0]), at(s.Args[1])
			t.bend(from.toward(control, 2.0/3), to.toward(control, 2.0/3), to)
		case sfnt.SegmentOpCubeTo:
			t.bend(at(s.Args[0]), at(s.Args[1]), at(s.Args[2]))
		}
	}
	c.outline.polygon(t.points)
	c.paint()
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

// paint lays the present colour over what the outline covers, and begins a new one.
func (c *pngCanvas) paint() {
	over := c.of(c.now.color)
	c.cover.each(c.outline, func(y, x int, covered []float32) {
		c.lay(over, c.picture.Pix[y*c.picture.Stride+x:], covered)
	})
	c.outline = c.outline[:0]
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
