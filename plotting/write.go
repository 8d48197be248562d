package plotting

import (
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Format is a kind of picture file.
type Format string

// The formats, by the ending of the file's name.
const (
	PNG Format = "png"
	SVG Format = "svg"
	PDF Format = "pdf"
)

// ErrFormat reports a file name whose ending names no format.
var ErrFormat = errors.New("a picture's file name must end in .png, .svg or .pdf")

// FormatOf returns the format that a file name asks for by its ending.
func FormatOf(path string) (Format, error) {
	switch f := Format(strings.ToLower(strings.TrimPrefix(filepath.Ext(path), "."))); f {
	case PNG, SVG, PDF:
		return f, nil
	}
	return "", fmt.Errorf("%q: %w", path, ErrFormat)
}

// Size is the size of a picture in pixels.
type Size struct{ Width, Height int }

// DefaultSize suits a screen and a page.
var DefaultSize = Size{1200, 750}

// The sizes that a figure can be laid out in.
const (
	leastWidth, leastHeight = 320, 300
	mostPixels              = 8000
)

// layoutWidth is the widest layout, in pixels. A wider picture is the same one enlarged, so
// that it stays readable when it is shown at 600 pixels.
const layoutWidth = 680

// layout returns the size that the figure is laid out in, and how many pixels of the
// picture one of its pixels takes.
func (s Size) layout() (width, height vg.Length, scale float64, err error) {
	if s.Width < leastWidth || s.Height < leastHeight || s.Width > mostPixels || s.Height > mostPixels {
		return 0, 0, 0, fmt.Errorf("plotting: a picture of %d by %d pixels: from %d by %d to %d by %d can be drawn",
			s.Width, s.Height, leastWidth, leastHeight, mostPixels, mostPixels)
	}
	scale = math.Max(1, float64(s.Width)/layoutWidth)
	return vg.Length(float64(s.Width) / scale), vg.Length(float64(s.Height) / scale), scale, nil
}

// Write draws f with its title and key as a picture.
//
// It fails with ErrNotFinite on a figure with a number that can't be drawn, on a size
// too small or too large to draw, and on what w reports.
func (f *Figure) Write(w io.Writer, format Format, size Size) error {
	if err := f.check(); err != nil {
		return err
	}
	width, height, scale, err := size.layout()
	if err != nil {
		return err
	}
	switch format {
	case PNG:
		c := newPNG(width, height, size, scale)
		f.Draw(draw.New(c))
		return c.writeTo(w)
	case SVG:
		c := newSVG(width, height)
		// An SVG is clear where nothing is drawn, and a page behind it may be dark.
		c.SetColor(paper)
		c.Fill(rectangle(vg.Rectangle{Max: vg.Point{X: width, Y: height}}))
		f.Draw(draw.New(c))
		return c.writeTo(w, size, f.Title, join(f.Subtitle, f.Numbers))
	case PDF:
		c := newPDF(width, height)
		f.Draw(draw.New(c))
		return c.writeTo(w, f.Title)
	default:
		return fmt.Errorf("%q: %w", format, ErrFormat)
	}
}
