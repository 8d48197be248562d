package canvas

import (
	"bytes"
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"

	xfont "golang.org/x/image/font"
)

// pdf is a vg.Canvas that writes a PDF of one page with text as text, and of the
// fonts only the letters that it uses.
//
// It stands in for gonum's own, which can't set regular and bold text in one document and
// knows no letter beyond Windows-1252.
type pdf struct {
	sheet
	doc   *fpdf.Fpdf
	known map[string]bool // font styles that the document has
}

// PDF returns a canvas that writes a PDF of one page.
func PDF(p Page) Canvas {
	s := newSheet(p)
	doc := fpdf.NewCustom(&fpdf.InitType{
		UnitStr: "pt",
		Size:    fpdf.SizeType{Wd: float64(s.width), Ht: float64(s.height)},
	})
	doc.SetAutoPageBreak(false, 0)
	doc.SetTitle(p.Title, true)
	// The same figure gives the same file, whenever it is drawn.
	doc.SetCatalogSort(true)
	doc.SetCreationDate(time.Unix(0, 0).UTC())
	doc.SetModificationDate(time.Unix(0, 0).UTC())
	doc.AddPage()
	return &pdf{s, doc, map[string]bool{}}
}

// Stroke implements vg.Canvas.
func (c *pdf) Stroke(path vg.Path) {
	if c.lineWidth <= 0 {
		return
	}
	c.doc.SetDrawColor(c.rgb())
	c.doc.SetLineWidth(c.lineWidth)
	c.doc.SetDashPattern(c.dashes, 0)
	c.path(path, "D")
}

// Fill implements vg.Canvas.
func (c *pdf) Fill(path vg.Path) {
	c.doc.SetFillColor(c.rgb())
	c.path(path, "F")
}

func (c *pdf) path(path vg.Path, style string) {
	c.steps(path, func(letter byte, at ...float64) {
		switch letter {
		case 'M':
			c.doc.MoveTo(at[0], at[1])
		case 'L':
			c.doc.LineTo(at[0], at[1])
		case 'C':
			c.doc.CurveBezierCubicTo(at[0], at[1], at[2], at[3], at[4], at[5])
		case 'Z':
			c.doc.ClosePath()
		}
	})
	c.doc.DrawPath(style)
}

// FillString implements vg.Canvas.
func (c *pdf) FillString(face font.Face, p vg.Point, s string) {
	if face.Font.Size == 0 || s == "" {
		return
	}
	style := ""
	if face.Font.Weight == xfont.WeightBold {
		style = "B"
	}
	if !c.known[style] {
		var source bytes.Buffer
		if _, err := face.Face.WriteSourceTo(nil, &source); err != nil {
			c.err = err
			return
		}
		c.doc.AddUTF8FontFromBytes("sans", style, source.Bytes())
		c.known[style] = true
	}
	c.doc.SetFont("sans", style, float64(face.Font.Size))
	c.doc.SetTextColor(c.rgb())
	x, y := c.place(p)
	c.doc.Text(x, y, available(face, s))
}

// Encode implements Canvas.
func (c *pdf) Encode(w io.Writer) error {
	if c.err != nil {
		return c.err
	}
	return c.doc.Output(w)
}
