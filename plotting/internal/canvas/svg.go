package canvas

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"

	xfont "golang.org/x/image/font"
)

// svg is a vg.Canvas that writes SVG with text as text.
//
// Colours are presentation attributes, so that a page with a strict content policy shows
// them, and each carries a class by which the page's style sheet can replace it. Every
// text carries the width that it was laid out for, so that it fits in whatever font
// the reader has.
type svg struct {
	sheet
	body bytes.Buffer
}

// SVG returns a canvas that writes an SVG element, to stand in a page or alone.
func SVG(p Page) Canvas { return &svg{sheet: newSheet(p)} }

// Stroke implements vg.Canvas.
func (c *svg) Stroke(path vg.Path) {
	if c.lineWidth <= 0 {
		return
	}
	c.body.WriteString(`<path fill="none"`)
	c.paint("stroke", "line")
	c.attribute("stroke-width", c.lineWidth)
	if len(c.dashes) > 0 {
		c.attribute("stroke-dasharray", c.dashes...)
	}
	c.path(path)
}

// Fill implements vg.Canvas.
func (c *svg) Fill(path vg.Path) {
	c.body.WriteString("<path")
	c.paint("fill", "fill")
	c.path(path)
}

// paint writes the colour as an attribute, and its name, if it has one, as a class.
func (c *svg) paint(attribute, class string) {
	if i, ok := c.color.(Ink); ok {
		fmt.Fprintf(&c.body, ` class="plot-%s-%s"`, class, i.Name)
	}
	r, g, b := c.rgb()
	fmt.Fprintf(&c.body, ` %s="#%02x%02x%02x"`, attribute, r, g, b)
}

func (c *svg) attribute(name string, values ...float64) {
	c.body.WriteString(" " + name + `="`)
	c.numbers(values...)
	c.body.WriteByte('"')
}

// numbers writes values to a hundredth of a pixel, which nobody sees and which hides how
// one processor rounds from how another does.
func (c *svg) numbers(values ...float64) {
	for i, v := range values {
		if i > 0 {
			c.body.WriteByte(' ')
		}
		v = math.Round(v*100)/100 + 0 // no negative zero
		c.body.Write(strconv.AppendFloat(c.body.AvailableBuffer(), v, 'f', -1, 64))
	}
}

// path writes the path's data and closes the element.
func (c *svg) path(path vg.Path) {
	c.body.WriteString(` d="`)
	c.steps(path, func(letter byte, at ...float64) {
		c.body.WriteByte(letter)
		c.numbers(at...)
	})
	c.body.WriteString("\"/>\n")
}

// FillString implements vg.Canvas.
func (c *svg) FillString(face font.Face, p vg.Point, s string) {
	if face.Font.Size == 0 || s == "" {
		return
	}
	c.body.WriteString("<text")
	c.paint("fill", "fill")
	c.attribute("font-size", float64(face.Font.Size))
	if face.Font.Weight == xfont.WeightBold {
		c.body.WriteString(` font-weight="bold"`)
	}
	x, y := c.place(p)
	c.attribute("x", x)
	c.attribute("y", y)
	c.attribute("textLength", float64(face.Width(s)))
	fmt.Fprintf(&c.body, ` lengthAdjust="spacingAndGlyphs">%s</text>`+"\n", escaped(s))
}

// Encode implements Canvas. It writes the picture with its title and description.
func (c *svg) Encode(w io.Writer) error {
	if c.err != nil {
		return c.err
	}
	_, err := fmt.Fprintf(w, `<svg xmlns="http://www.w3.org/2000/svg" role="img" width="%d" height="%d" viewBox="0 0 %v %v"`+
		` font-family="Liberation Sans, Arial, Helvetica, sans-serif">`+"\n<title>%s</title>\n<desc>%s</desc>\n%s</svg>\n",
		c.page.Width, c.page.Height, float64(c.width), float64(c.height),
		escaped(c.page.Title), escaped(c.page.Description), c.body.Bytes())
	return err
}

// escaped returns text as it stands in XML.
func escaped(s string) string {
	var b bytes.Buffer
	_ = xml.EscapeText(&b, []byte(s)) // a bytes.Buffer does not fail
	return b.String()
}
