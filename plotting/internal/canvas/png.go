//go:build !minimal

package canvas

import (
	"image"
	"image/color"
	"image/png"
	"io"
	"math"

	"git.sr.ht/~sbinet/gg"
	"golang.org/x/image/draw"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// pixels is gonum's canvas of pixels with a palette: with one byte a pixel instead of
// three, and without the encoder's search for the best filter of each row, a picture is
// written in a third of the time.
type pixels struct {
	*vgimg.Canvas
	drawn   *image.RGBA
	known   map[color.RGBA]uint8 // places in the palette
	palette color.Palette
}

// PNG returns a canvas of pixels. The scale is rounded to a whole number of pixels an inch
// of 72 units.
func PNG(p Page) Canvas {
	drawn := image.NewRGBA(image.Rect(0, 0, p.Width, p.Height))
	context := gg.NewContextForRGBA(drawn)
	context.SetLineCapButt()
	context.InvertY()
	context.SetInterpolator(draw.NearestNeighbor) // letters are drawn pixel by pixel already
	dpi := int(math.Round(float64(vg.Inch) * p.Scale))
	return &pixels{
		Canvas: vgimg.NewWith(vgimg.UseImageWithContext(drawn, context), vgimg.UseDPI(dpi)),
		drawn:  drawn, known: map[color.RGBA]uint8{},
	}
}

// SetColor implements vg.Canvas. The palette has every colour that was drawn with.
func (c *pixels) SetColor(to color.Color) {
	if to == nil {
		to = color.Black
	}
	c.Canvas.SetColor(to)
	c.place(color.RGBAModel.Convert(to).(color.RGBA))
}

// FillString implements vg.Canvas.
func (c *pixels) FillString(face font.Face, p vg.Point, s string) {
	c.Canvas.FillString(face, p, available(face, s))
}

const (
	mostColours = 256 // of a palette
	shadeStep   = 17  // between the levels of a channel: 0, 17, … 255
)

// place returns a colour's place in the palette, which it enters; once the palette is
// full, that of the nearest.
func (c *pixels) place(shown color.RGBA) uint8 {
	at, ok := c.known[shown]
	if !ok {
		if len(c.palette) < mostColours {
			c.palette = append(c.palette, shown)
		}
		at = uint8(c.palette.Index(shown))
		c.known[shown] = at
	}
	return at
}

// Encode implements Canvas. Shades at the edges of lines and letters that nobody can tell
// apart become one.
func (c *pixels) Encode(w io.Writer) error {
	picture := image.NewPaletted(c.drawn.Bounds(), nil)
	var last color.RGBA
	var at uint8
	for i := range picture.Pix {
		p := c.drawn.Pix[4*i:][:4]
		if now := (color.RGBA{p[0], p[1], p[2], 0xff}); now != last {
			var exact bool
			if at, exact = c.known[now]; !exact {
				at = c.place(color.RGBA{level(p[0]), level(p[1]), level(p[2]), 0xff})
			}
			last = now
		}
		picture.Pix[i] = at
	}
	picture.Palette = c.palette
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	return e.Encode(w, picture)
}

// level rounds a channel to a level.
func level(v uint8) uint8 { return uint8((int(v) + shadeStep/2) / shadeStep * shadeStep) }
