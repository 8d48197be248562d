package plotting

import (
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"strings"

	"golang.org/x/image/font/sfnt"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

func (f *Figure) writePNG(w io.Writer, size Size, scale float64) error {
	const pointsPerInch = 72
	// A raster canvas takes whole dots an inch.
	dpi := int(math.Round(pointsPerInch * scale))
	inch := func(pixels int) vg.Length { return vg.Length(pixels) / vg.Length(dpi) * vg.Inch }
	c := vgimg.NewWith(vgimg.UseWH(inch(size.Width), inch(size.Height)), vgimg.UseDPI(dpi))
	f.Draw(draw.New(rasterCanvas{c}))
	var picture image.Image = c.Image()
	if full, ok := picture.(*image.RGBA); ok {
		picture = indexed(full)
	}
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	return e.Encode(w, picture)
}

// rasterCanvas writes question marks instead of empty boxes for letters that the font
// lacks.
type rasterCanvas struct{ *vgimg.Canvas }

// FillString implements vg.Canvas.
func (c rasterCanvas) FillString(face font.Face, p vg.Point, s string) {
	c.Canvas.FillString(face, p, available(face, s))
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

// indexed returns the picture with one byte a pixel, which takes half the time to write
// and a third of the room, or the picture itself if it has too many colours.
//
// The palette's own colours stay as they are. Of the shades between them, at the edges
// of lines and letters, those that nobody can tell apart become one.
func indexed(full *image.RGBA) image.Image {
	const (
		levels  = 16                 // of each channel of a shade
		between = 255 / (levels - 1) // the distance of two levels
		none    = -1
	)
	small := image.NewPaletted(full.Rect, nil)
	whole := map[[3]uint8]int{}
	add := func(c color.RGBA) int {
		small.Palette = append(small.Palette, c)
		return len(small.Palette) - 1
	}
	for _, i := range inks {
		whole[[3]uint8{i.R, i.G, i.B}] = add(color.RGBA{i.R, i.G, i.B, 0xff})
	}
	var shades [levels * levels * levels]int
	for k := range shades {
		shades[k] = none
	}
	level := func(v uint8) int { return (int(v) + between/2) / between }

	var last [3]uint8
	at := none
	for k := range small.Pix {
		now := [3]uint8(full.Pix[4*k : 4*k+3])
		if now != last || at == none {
			last = now
			known := false
			if at, known = whole[now]; !known {
				r, g, b := level(now[0]), level(now[1]), level(now[2])
				shade := &shades[(r*levels+g)*levels+b]
				if *shade == none {
					*shade = add(color.RGBA{uint8(r * between), uint8(g * between), uint8(b * between), 0xff})
				}
				at = *shade
			}
			if at > math.MaxUint8 {
				return full
			}
		}
		small.Pix[k] = uint8(at)
	}
	return small
}
