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

	"regear/plotting/internal/canvas"
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

// scale returns how many pixels of the picture one pixel of the layout takes.
func (s Size) scale() (float64, error) {
	if s.Width < leastWidth || s.Height < leastHeight || s.Width > mostPixels || s.Height > mostPixels {
		return 0, fmt.Errorf("plotting: a picture of %d by %d pixels: from %d by %d to %d by %d can be drawn",
			s.Width, s.Height, leastWidth, leastHeight, mostPixels, mostPixels)
	}
	return math.Max(1, float64(s.Width)/layoutWidth), nil
}

// Write draws f with its title and key as a picture.
//
// It fails with ErrNotFinite on a figure with a number that can't be drawn, on a size
// too small or too large to draw, and on what w reports.
func (f *Figure) Write(w io.Writer, format Format, size Size) error {
	if err := f.check(); err != nil {
		return err
	}
	scale, err := size.scale()
	if err != nil {
		return err
	}
	newCanvas, ok := map[Format]func(canvas.Page) canvas.Canvas{PNG: canvas.PNG, SVG: canvas.SVG, PDF: canvas.PDF}[format]
	if !ok {
		return fmt.Errorf("%q: %w", format, ErrFormat)
	}
	c := newCanvas(canvas.Page{
		Width: size.Width, Height: size.Height, Scale: scale,
		Title: f.Title, Description: join(f.Subtitle, f.Numbers),
	})
	if format == SVG {
		// An SVG is clear where nothing is drawn, and a page behind it may be dark.
		width, height := c.Size()
		c.SetColor(paper)
		c.Fill(vg.Rectangle{Max: vg.Point{X: width, Y: height}}.Path())
	}
	f.draw(draw.New(c))
	return c.Encode(w)
}
