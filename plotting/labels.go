package plotting

import (
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
)

// labels writes everything that is named in place, where it hides least.
func (s *stage) labels() {
	for _, c := range s.f.Callouts {
		s.block(c.Role.labelInk(), c.Lines, func(size vg.Point) []vg.Point { return s.around(c, size) })
	}
	for _, r := range s.rulers() {
		s.block(r.Role.labelInk(), []string{r.Label}, func(size vg.Point) []vg.Point {
			if r.upright {
				return s.beside(r.from.X, size)
			}
			return s.along(r.from.Y, size)
		})
	}
	for _, c := range s.f.Curves {
		if c.Label != "" {
			s.block(c.Role.labelInk(), []string{c.Label}, func(size vg.Point) []vg.Point { return s.over(c.Points, size) })
		}
	}
	for _, c := range s.f.Cuts {
		s.block(Forecast.labelInk(), []string{c.Label}, func(size vg.Point) []vg.Point { return s.inside(c, size) })
	}
}

// labelGap is the room between a label and what it names.
const labelGap = 4

// along returns where a label may stand along a level at the height y.
func (s *stage) along(y vg.Length, size vg.Point) []vg.Point {
	var corners []vg.Point
	for _, share := range []vg.Length{0, 1, 0.25, 0.5, 0.75} {
		x := s.Min.X + labelGap + share*(s.Max.X-s.Min.X-size.X-2*labelGap)
		corners = append(corners, vg.Point{X: x, Y: y + labelGap}, vg.Point{X: x, Y: y - labelGap - size.Y})
	}
	return corners
}

// beside returns where a label may stand along an upright line at x: from the floor and
// from the ceiling, with room for others.
func (s *stage) beside(x vg.Length, size vg.Point) []vg.Point {
	var corners []vg.Point
	for line := vg.Length(0); line < 4; line++ {
		up := labelGap + line*(size.Y+labelGap)
		for _, y := range []vg.Length{s.Min.Y + up, s.Max.Y - up - size.Y} {
			corners = append(corners, vg.Point{X: x + labelGap, Y: y}, vg.Point{X: x - labelGap - size.X, Y: y})
		}
	}
	return corners
}

// inside returns where the label of a cut may stand without hiding another label: below or
// above its arrows, or beside them. The arrows tell of the cut without it.
func (s *stage) inside(c Cut, size vg.Point) []vg.Point {
	const arrow = 18
	from, to, y := s.x(c.From), s.x(c.To), s.y(c.Edge)-arrow-size.Y
	if c.Edge != s.f.Y.High {
		y = s.y(c.Edge) + arrow
	}
	var corners []vg.Point
	for _, share := range []vg.Length{0.5, 0.25, 0.75, 0, 1} {
		corners = append(corners, vg.Point{X: from + share*(to-from) - size.X/2, Y: y})
	}
	corners = append(corners, vg.Point{X: min(from, to) - labelGap - size.X, Y: s.y(c.Edge) - labelGap - size.Y})
	return slices.DeleteFunc(corners, func(corner vg.Point) bool { return s.room.hidesLabel(s.room.moved(corner, size)) })
}

// over returns where a label may stand over or under a curve, from its end backwards.
func (s *stage) over(points []XY, size vg.Point) []vg.Point {
	var corners []vg.Point
	for k := len(points) - 1; k >= len(points)/2; k-- {
		p := s.at(points[k])
		corners = append(corners,
			vg.Point{X: p.X - size.X, Y: p.Y + labelGap}, vg.Point{X: p.X - size.X, Y: p.Y - size.Y - labelGap})
	}
	return corners
}

// around returns where a callout's lines may stand: below, above or beside its bar.
func (s *stage) around(c Callout, size vg.Point) []vg.Point {
	const gap, side = labelGap + 2, 10
	low, high, middle := s.at(XY{c.X, c.Low}), s.at(XY{c.X, c.High}), s.at(XY{c.X, c.Middle})
	left, centre, right := low.X-side-size.X, low.X-size.X/2, low.X+side
	return []vg.Point{
		{X: centre, Y: low.Y - gap - size.Y}, {X: centre, Y: high.Y + gap},
		{X: right, Y: low.Y - gap - size.Y}, {X: left, Y: high.Y + gap},
		{X: right, Y: low.Y - gap}, {X: left, Y: high.Y - size.Y + gap},
		{X: right, Y: middle.Y - size.Y/2}, {X: left, Y: middle.Y - size.Y/2},
	}
}

// block writes lines, the first of several in bold, on paper of their own, if there is a corner
// for them.
func (s *stage) block(i ink, lines []string, corners func(size vg.Point) []vg.Point) {
	const pad = 2
	l := lettering{size: s.text, ink: i}
	var size vg.Point
	for k, line := range lines {
		l.bold = k == 0 && len(lines) > 1
		size.X = max(size.X, l.width(line)+2*pad)
		size.Y += l.lead()
	}
	wanted := corners(size)
	if len(wanted) == 0 {
		return
	}
	r := s.room.place(size, wanted)
	s.fill(paper, r.Path())
	for k, line := range lines {
		l.bold = k == 0 && len(lines) > 1
		s.write(l, r.Min.X+pad, r.Max.Y-vg.Length(k+1)*l.lead()+0.28*l.size, line)
	}
}

// placer finds room for labels where they hide least.
type placer struct {
	frame vg.Rectangle
	taken []place
}

// place is room that is taken, and how much it matters to hide it.
type place struct {
	vg.Rectangle
	weight vg.Length
}

// How much it matters to hide an area, a line or a dot, and another label.
const (
	areaWeight  = 1
	markWeight  = 25
	labelWeight = 200
)

func (p *placer) take(r vg.Rectangle, weight vg.Length) { p.taken = append(p.taken, place{r, weight}) }

// place returns where a label of the given size fits best: at the first of the wanted
// corners (lower left ones, moved into the frame) where it hides least. It takes that
// room, with some distance around it.
func (p *placer) place(size vg.Point, corners []vg.Point) vg.Rectangle {
	const distance = 5
	var best vg.Rectangle
	least := vg.Length(math.Inf(1))
	for _, corner := range corners {
		r := p.moved(corner, size)
		hidden := vg.Length(0)
		for _, t := range p.taken {
			hidden += t.weight * overlap(r, t.Rectangle)
		}
		if hidden < least {
			best, least = r, hidden
		}
	}
	p.take(around(middle(best), size.X/2+distance, size.Y/2), labelWeight)
	return best
}

// moved returns a label at a corner, moved into the frame.
func (p *placer) moved(corner, size vg.Point) vg.Rectangle {
	corner.X = max(min(corner.X, p.frame.Max.X-size.X), p.frame.Min.X)
	corner.Y = max(min(corner.Y, p.frame.Max.Y-size.Y), p.frame.Min.Y)
	return vg.Rectangle{Min: corner, Max: corner.Add(size)}
}

// hidesLabel reports whether a label would hide one that was placed before.
func (p *placer) hidesLabel(r vg.Rectangle) bool {
	return slices.ContainsFunc(p.taken, func(t place) bool { return t.weight == labelWeight && overlap(r, t.Rectangle) > 0 })
}

// overlap returns the area that two rectangles share.
func overlap(a, b vg.Rectangle) vg.Length {
	w := min(a.Max.X, b.Max.X) - max(a.Min.X, b.Min.X)
	h := min(a.Max.Y, b.Max.Y) - max(a.Min.Y, b.Min.Y)
	if w <= 0 || h <= 0 {
		return 0
	}
	return w * h
}
