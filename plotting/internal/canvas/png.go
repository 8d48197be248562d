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
	c.Canvas.SetColor(to)
	exact := color.RGBAModel.Convert(to).(color.RGBA)
	c.place(exact, exact)
}

// FillString implements vg.Canvas.
func (c *pixels) FillString(face font.Face, p vg.Point, s string) {
	c.Canvas.FillString(face, p, available(face, s))
}

// place returns the place in the palette of a colour that is shown as another. Once the
// palette is full, that is the place of the nearest.
func (c *pixels) place(drawn, shown color.RGBA) uint8 {
	i, ok := c.known[drawn]
	if ok {
		return i
	}
	if i, ok = c.known[shown]; !ok {
		if len(c.palette) < mostColours {
			c.palette = append(c.palette, shown)
		}
		i = uint8(c.palette.Index(shown))
		c.known[shown] = i
	}
	c.known[drawn] = i
	return i
}

const (
	mostColours = 256 // of a palette
	shadeStep   = 17  // between the levels of a channel: 0, 17, … 255
)

// Encode implements Canvas. Of the shades at the edges of lines and letters, those that
// nobody can tell apart become one.
func (c *pixels) Encode(w io.Writer) error {
	picture := image.NewPaletted(c.drawn.Bounds(), nil)
	var last color.RGBA
	var at uint8
	for i := range picture.Pix {
		p := c.drawn.Pix[4*i:][:4]
		now := color.RGBA{p[0], p[1], p[2], p[3]}
		if now != last || i == 0 {
			last, at = now, c.place(now, color.RGBA{level(p[0]), level(p[1]), level(p[2]), 0xff})
		}
		picture.Pix[i] = at
	}
	picture.Palette = c.palette
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	return e.Encode(w, picture)
}

// level rounds a channel to a level.
func level(v uint8) uint8 { return uint8((int(v) + shadeStep/2) / shadeStep * shadeStep) }
