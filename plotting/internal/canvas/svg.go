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
	page Page
	body bytes.Buffer
}

// SVG returns a canvas that writes an SVG element, to stand in a page or alone.
func SVG(p Page) Canvas { return &svg{sheet: newSheet(p), page: p} }

// Stroke implements vg.Canvas.
func (c *svg) Stroke(path vg.Path) {
	if c.now.lineWidth <= 0 {
		return
	}
	c.body.WriteString(`<path fill="none"`)
	c.paint("stroke", "line")
	c.attribute("stroke-width", float64(c.now.lineWidth))
	if len(c.now.dashes) > 0 {
		c.body.WriteString(` stroke-dasharray="`)
		for i, d := range c.now.dashes {
			if i > 0 {
				c.body.WriteByte(' ')
			}
			c.number(float64(d))
		}
		c.body.WriteByte('"')
		if c.now.offset != 0 {
			c.attribute("stroke-dashoffset", float64(c.now.offset))
		}
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
	if i, ok := c.now.color.(Ink); ok {
		fmt.Fprintf(&c.body, ` class="plot-%s-%s"`, class, i.Name)
	}
	r, g, b := c.rgb()
	fmt.Fprintf(&c.body, ` %s="#%02x%02x%02x"`, attribute, r, g, b)
}

func (c *svg) attribute(name string, value float64) {
	c.body.WriteByte(' ')
	c.body.WriteString(name)
	c.body.WriteString(`="`)
	c.number(value)
	c.body.WriteByte('"')
}

// number writes a value to a hundredth of a pixel, which nobody sees and which hides how
// one processor rounds from how another does.
func (c *svg) number(v float64) {
	v = math.Round(v*100) / 100
	if v == 0 {
		v = 0 // no negative zero
	}
	c.body.Write(strconv.AppendFloat(c.body.AvailableBuffer(), v, 'f', -1, 64))
}

// point writes a point in the coordinates of the SVG, which counts down from the top.
func (c *svg) point(p vg.Point) {
	x, y := c.place(p)
	c.number(x)
	c.body.WriteByte(' ')
	c.number(y)
}

// path writes the path's data and closes the element.
func (c *svg) path(path vg.Path) {
	c.body.WriteString(` d="`)
	for _, step := range curves(path) {
		switch step.Type {
		case vg.MoveComp:
			c.step('M', step.Pos)
		case vg.LineComp:
			c.step('L', step.Pos)
		case vg.CurveComp:
			c.step('C', step.Control[0], step.Control[1], step.Pos)
		case vg.CloseComp:
			c.body.WriteByte('Z')
		}
	}
	c.body.WriteString("\"/>\n")
}

func (c *svg) step(letter byte, points ...vg.Point) {
	c.body.WriteByte(letter)
	for i, p := range points {
		if i > 0 {
			c.body.WriteByte(' ')
		}
		c.point(p)
	}
}

// FillString implements vg.Canvas.
func (c *svg) FillString(face font.Face, p vg.Point, s string) {
	if face.Font.Size == 0 || s == "" {
		return
	}
	x, y := c.place(p)
	c.body.WriteString("<text")
	c.paint("fill", "fill")
	c.attribute("font-size", float64(face.Font.Size))
	if face.Font.Weight == xfont.WeightBold {
		c.body.WriteString(` font-weight="bold"`)
	}
	c.attribute("x", x)
	c.attribute("y", y)
	c.attribute("textLength", float64(face.Width(s)))
	c.body.WriteString(` lengthAdjust="spacingAndGlyphs"`)
	if angle := c.angle(); angle != 0 {
		c.body.WriteString(` transform="rotate(`)
		c.number(-angle * 180 / math.Pi)
		c.body.WriteByte(' ')
		c.point(p)
		c.body.WriteString(`)"`)
	}
	c.body.WriteByte('>')
	_ = xml.EscapeText(&c.body, []byte(s)) // a bytes.Buffer does not fail
	c.body.WriteString("</text>\n")
}

// Encode implements Canvas.
func (c *svg) Encode(w io.Writer) error {
	if c.err != nil {
		return c.err
	}
	var head bytes.Buffer
	fmt.Fprintf(&head, `<svg xmlns="http://www.w3.org/2000/svg" role="img" width="%d" height="%d" viewBox="0 0 %s %s"`+
		` font-family="Liberation Sans, Arial, Helvetica, sans-serif">`+"\n<title>",
		c.page.Width, c.page.Height, units(c.width), units(c.height))
	_ = xml.EscapeText(&head, []byte(c.page.Title))
	head.WriteString("</title>\n<desc>")
	_ = xml.EscapeText(&head, []byte(c.page.Description))
	head.WriteString("</desc>\n")
	for _, part := range [][]byte{head.Bytes(), c.body.Bytes(), []byte("</svg>\n")} {
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
}

// units writes a length in units of the drawing, with every digit.
func units(l vg.Length) string { return strconv.FormatFloat(float64(l), 'f', -1, 64) }
