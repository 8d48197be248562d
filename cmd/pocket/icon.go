package main

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image/png"

	"git.sr.ht/~sbinet/gg"
)

// draw draws an icon as PNG. It knows as much of SVG as our icon has: a rectangle that fills the
// view box, and strokes of straight lines on it. The ground goes to the edges, and the strokes stay
// in the circle that no phone cuts off (W3C Web App Manifest, "Icon masks": a radius of 2/5 of the
// width).
func draw(svg []byte, size int) ([]byte, error) {
	var icon struct {
		ViewBox string `xml:"viewBox,attr"`
		Rect    struct {
			Fill string `xml:"fill,attr"`
		} `xml:"rect"`
		Strokes []struct {
			D     string  `xml:"d,attr"`
			Color string  `xml:"stroke,attr"`
			Width float64 `xml:"stroke-width,attr"`
		} `xml:"path"`
	}
	if err := xml.Unmarshal(svg, &icon); err != nil {
		return nil, err
	}
	var side float64
	if _, err := fmt.Sscanf(icon.ViewBox, "0 0 %g", &side); err != nil {
		return nil, fmt.Errorf("the icon's view box: %w", err)
	}
	const inCircle = 0.8
	c := gg.NewContext(size, size)
	c.SetHexColor(icon.Rect.Fill)
	c.Clear()
	c.SetLineCapButt()
	c.ScaleAbout(inCircle, inCircle, float64(size)/2, float64(size)/2)
	c.Scale(float64(size)/side, float64(size)/side)
	for _, stroke := range icon.Strokes {
		var x, y float64
		for rest := stroke.D; rest != ""; {
			var err error
			step := bytes.NewReader([]byte(rest))
			switch letter := rest[0]; letter {
			case 'M', 'L':
				_, err = fmt.Fscanf(step, string(letter)+"%g %g", &x, &y)
			case 'H':
				_, err = fmt.Fscanf(step, "H%g", &x)
			default:
				err = fmt.Errorf("the step is not known here")
			}
			if err != nil {
				return nil, fmt.Errorf("the icon's path at %q: %w", rest, err)
			}
			if rest[0] == 'M' {
				c.MoveTo(x, y)
			} else {
				c.LineTo(x, y)
			}
			rest = rest[len(rest)-step.Len():]
		}
		c.SetHexColor(stroke.Color)
		c.SetLineWidth(stroke.Width * float64(size) / side * inCircle)
		c.Stroke()
	}
	var out bytes.Buffer
	err := png.Encode(&out, c.Image())
	return out.Bytes(), err
}
