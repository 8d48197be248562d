package canvas

import (
	"errors"
	"image"
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
)

// sheet is what the SVG and the PDF canvas share: the state of a vg.Canvas, and where
// its points lie when counted down from the top, as both formats do.
type sheet struct {
	width, height vg.Length
	now           sheetState
	pushed        []sheetState
	err           error
}

// sheetState is what Push keeps and Pop brings back.
type sheetState struct {
	color     color.Color
	lineWidth vg.Length
	dashes    []vg.Length
	offset    vg.Length
	// A point (x, y) lies at (ax + cy + e, bx + dy + f), up from the lower left corner.
	a, b, c, d, e, f float64
}

func newSheet(p Page) sheet {
	width, height := p.size()
	return sheet{width: width, height: height, now: sheetState{color: color.Black, lineWidth: 1, a: 1, d: 1}}
}

// Size implements vg.CanvasSizer.
func (s *sheet) Size() (width, height vg.Length) { return s.width, s.height }

// SetLineWidth implements vg.Canvas.
func (s *sheet) SetLineWidth(w vg.Length) { s.now.lineWidth = w }

// SetLineDash implements vg.Canvas.
func (s *sheet) SetLineDash(dashes []vg.Length, offset vg.Length) {
	s.now.dashes, s.now.offset = dashes, offset
}

// SetColor implements vg.Canvas.
func (s *sheet) SetColor(c color.Color) {
	if c == nil {
		c = color.Black
	}
	s.now.color = c
}

// rgb returns the colour in bytes. Nothing in a figure is translucent.
func (s *sheet) rgb() (r, g, b uint8) {
	c := color.NRGBAModel.Convert(s.now.color).(color.NRGBA)
	return c.R, c.G, c.B
}

// Push implements vg.Canvas.
func (s *sheet) Push() { s.pushed = append(s.pushed, s.now) }

// Pop implements vg.Canvas.
func (s *sheet) Pop() {
	last := len(s.pushed) - 1
	s.now, s.pushed = s.pushed[last], s.pushed[:last]
}

// Translate implements vg.Canvas.
func (s *sheet) Translate(p vg.Point) {
	n := &s.now
	n.e, n.f = n.e+n.a*float64(p.X)+n.c*float64(p.Y), n.f+n.b*float64(p.X)+n.d*float64(p.Y)
}

// Rotate implements vg.Canvas.
func (s *sheet) Rotate(angle float64) {
	n := &s.now
	sin, cos := math.Sincos(angle)
	n.a, n.b, n.c, n.d = n.a*cos+n.c*sin, n.b*cos+n.d*sin, n.c*cos-n.a*sin, n.d*cos-n.b*sin
}

// Scale implements vg.Canvas.
func (s *sheet) Scale(x, y float64) {
	n := &s.now
	n.a, n.b, n.c, n.d = n.a*x, n.b*x, n.c*y, n.d*y
}

// DrawImage implements vg.Canvas. No figure holds an image; Encode reports one that was
// drawn all the same.
func (s *sheet) DrawImage(vg.Rectangle, image.Image) {
	s.err = errors.New("canvas: an image can't be drawn")
}

// place returns where a point lies on the sheet, down from its top left corner.
func (s *sheet) place(p vg.Point) (x, y float64) {
	n := &s.now
	px, py := float64(p.X), float64(p.Y)
	return n.a*px + n.c*py + n.e, float64(s.height) - (n.b*px + n.d*py + n.f)
}

// angle returns by how much text is turned, in radians.
func (s *sheet) angle() float64 { return math.Atan2(s.now.b, s.now.a) }

// curves returns a path in moves, lines, cubic curves and closes alone.
func curves(path vg.Path) vg.Path {
	out := make(vg.Path, 0, len(path))
	var here vg.Point
	for _, step := range path {
		switch {
		case step.Type == vg.ArcComp:
			out = appendArc(out, step)
		case step.Type == vg.CurveComp && len(step.Control) == 1:
			// The same parabola as a cubic curve.
			toward := func(p vg.Point) vg.Point { return p.Add(step.Control[0].Sub(p).Scale(2.0 / 3)) }
			out.CubeTo(toward(here), toward(step.Pos), step.Pos)
		default:
			out = append(out, step)
		}
		here = out[len(out)-1].Pos
	}
	return out
}

// appendArc adds an arc in pieces of at most a quarter circle, whose cubic curves miss
// it by less than 0.03 % of its radius.
func appendArc(path vg.Path, arc vg.PathComp) vg.Path {
	pieces := math.Ceil(math.Abs(arc.Angle) / (math.Pi / 2))
	piece := arc.Angle / max(pieces, 1)
	reach := vg.Length(4.0 / 3 * math.Tan(piece/4))
	at := func(angle float64) (on, forward vg.Point) {
		sin, cos := math.Sincos(angle)
		x, y := vg.Length(cos)*arc.Radius, vg.Length(sin)*arc.Radius
		return arc.Pos.Add(vg.Point{X: x, Y: y}), vg.Point{X: -y, Y: x}
	}
	from, out := at(arc.Start)
	path.Line(from)
	for k := 1.0; k <= pieces; k++ {
		to, in := at(arc.Start + k*piece)
		path.CubeTo(from.Add(out.Scale(reach)), to.Sub(in.Scale(reach)), to)
		from, out = to, in
	}
	return path
}
