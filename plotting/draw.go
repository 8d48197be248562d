package plotting

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"regear/analyze/units"
)

// plot returns the axes and what stands between them, with at most so many numbers on each
// axis.
func (f *Figure) plot(t theme, yTicks, xTicks int) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = f.X.Low, f.X.High, f.Y.Low, f.Y.High
	if f.X.Falling {
		p.X.Scale = plot.InvertedScale{Normalizer: plot.LinearScale{}}
	}
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Tick.Label.Font, a.Tick.Label.Color = font.From(sans(t.small, false).Font, t.small), quiet
		a.Label.TextStyle.Font, a.Label.TextStyle.Color = a.Tick.Label.Font, quiet
		a.LineStyle.Color, a.LineStyle.Width = quiet, 0.8
		a.Tick.LineStyle, a.Tick.Length = a.LineStyle, 4
	}
	p.X.Label.Text = f.X.Label
	p.X.Label.Padding = 4
	p.X.Tick.Marker = ticks{xTicks, f.X.Unit}
	if f.X.Bare {
		p.X.Tick.Marker = plot.ConstantTicks{}
		p.X.LineStyle.Width = 0
	}
	p.X.Padding = f.laneHeight(t)

	// The grid lines lead to the numbers; the axis needs no line of its own.
	marker := ticks{yTicks, f.Y.Unit}
	p.Y.Tick.Marker = marker
	p.Y.LineStyle.Width = 0
	p.Y.Tick.Length = 0
	p.Y.Padding = f.laneHeadRoom(t, marker.Ticks(f.Y.Low, f.Y.High))
	p.Add(&stage{pen: &pen{theme: t}, f: f})
	return p
}

// laneGap is the room above and below the lane.
const laneGap = 4

// laneHeight returns the height that the marks take between frame and axis.
func (f *Figure) laneHeight(t theme) vg.Length {
	switch {
	case len(f.Marks) == 0:
		return laneGap
	case f.ValuesName == "":
		return t.lane + 2*laneGap
	default:
		return 2*t.lane + 2*laneGap
	}
}

// laneHeadRoom returns how far the frame must keep from the numbers of the y axis, so
// that what heads the lane has room beside it.
func (f *Figure) laneHeadRoom(t theme, numbers []plot.Tick) vg.Length {
	l := lettering{size: t.small}
	var widest vg.Length
	for _, n := range numbers {
		widest = max(widest, l.width(n.Label))
	}
	return max(6, max(l.width(f.MarksName), l.width(f.ValuesName))-widest+6)
}

// stage draws the figure's content as a plot.Plotter.
type stage struct {
	*pen
	f    *Figure
	x, y func(float64) vg.Length // where the values of the axes lie
	room placer
}

// Plot implements plot.Plotter.
func (s *stage) Plot(c draw.Canvas, p *plot.Plot) {
	s.x, s.y = p.Transforms(&c)
	s.Canvas, s.room.frame = c, c.Rectangle
	s.bands()
	s.grid(p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max))
	s.bars()
	for _, r := range s.rulers() {
		s.rule(r)
	}
	s.curves()
	s.calloutBars()
	s.points()
	s.lane()
	s.labels()
}

func (s *stage) at(p XY) vg.Point { return vg.Point{X: s.x(p.X), Y: s.y(p.Y)} }

func (s *stage) bands() {
	for _, b := range s.f.Bands {
		var upper, lower []vg.Point
		for i, r := range b.Over {
			high, low := s.at(XY{r.X, r.High}), s.at(XY{r.X, r.Low})
			upper, lower = append(upper, high), append(lower, low)
			if i > 0 {
				s.room.take(spanning(lower[i-1], high), areaWeight)
			}
		}
		slices.Reverse(lower)
		s.FillPolygon(band, s.ClipPolygonXY(append(upper, lower...)))
	}
}

func spanning(a, b vg.Point) vg.Rectangle {
	return vg.Rectangle{
		Min: vg.Point{X: min(a.X, b.X), Y: min(a.Y, b.Y)},
		Max: vg.Point{X: max(a.X, b.X), Y: max(a.Y, b.Y)},
	}
}

// mostGuides is how many marks get a guide up through the frame; more would look like
// hatching.
const mostGuides = 24

func (s *stage) grid(numbers []plot.Tick) {
	for _, n := range numbers {
		y := s.y(n.Value)
		s.line(grid, 0.8, nil, vg.Point{X: s.Min.X, Y: y}, vg.Point{X: s.Max.X, Y: y})
	}
	if len(s.f.Marks) > mostGuides || len(s.f.Bars) > 0 {
		return
	}
	for _, m := range s.f.Marks {
		x := s.x(m.X)
		s.line(grid, 0.8, nil, vg.Point{X: x, Y: s.Min.Y}, vg.Point{X: x, Y: s.Max.Y})
	}
}

func (s *stage) bars() {
	const share, widest = 0.68, 64 // of the room between two marks
	half := min(share*(s.x(1)-s.x(0)), widest) / 2
	for _, b := range s.f.Bars {
		x := s.x(b.X)
		r := vg.Rectangle{Min: vg.Point{X: x - half, Y: s.y(0)}, Max: vg.Point{X: x + half, Y: s.y(b.Height)}}
		s.bar(b.Kind, r)
		s.room.take(r, markWeight)
	}
}

func (p *pen) bar(kind BarKind, r vg.Rectangle) {
	switch kind {
	case PickBar:
		p.fill(first, r.Path())
	case BarredBar:
		const inside = 0.6 // half the stroke, which lies on the outline
		r.Min, r.Max = r.Min.Add(vg.Point{X: inside}), r.Max.Sub(vg.Point{X: inside, Y: inside})
		p.stroke(quiet, 2*inside, beyondDashes, r.Path())
	default:
		p.fill(bar, r.Path())
	}
}

// ruler is a level across the frame, or a moment up through it.
type ruler struct {
	Level
	from, to vg.Point
	upright  bool
}

// rulers returns the levels and moments within the frame.
func (s *stage) rulers() []ruler {
	var all []ruler
	for _, l := range s.f.Levels {
		if y := s.y(l.At); s.ContainsY(y) {
			all = append(all, ruler{l, vg.Point{X: s.Min.X, Y: y}, vg.Point{X: s.Max.X, Y: y}, false})
		}
	}
	for _, l := range s.f.Moments {
		if x := s.x(l.At); s.ContainsX(x) {
			all = append(all, ruler{l, vg.Point{X: x, Y: s.Min.Y}, vg.Point{X: x, Y: s.Max.Y}, true})
		}
	}
	return all
}

func (s *stage) rule(r ruler) {
	var dashes []vg.Length
	if r.Role == Wanted {
		dashes = wantedDashes
	}
	s.line(r.Role.ink(), 1.6, dashes, r.from, r.to)
	s.room.take(spanning(r.from.Sub(vg.Point{X: 1, Y: 1}), r.to.Add(vg.Point{X: 1, Y: 1})), markWeight)
}

func (c Curve) style() draw.LineStyle {
	style := draw.LineStyle{Color: c.Role.ink(), Width: 2}
	if c.Thin {
		style.Width = 1
	}
	if c.Dashed {
		style.Dashes = beyondDashes
	}
	return style
}

func (s *stage) curves() {
	for _, c := range s.f.Curves {
		points := make([]vg.Point, len(c.Points))
		for i, p := range c.Points {
			points[i] = s.at(p)
			if i > 0 {
				s.room.take(spanning(points[i-1], points[i]), markWeight)
			}
		}
		s.StrokeLines(c.style(), s.ClipLinesXY(points)...)
	}
}

func (s *stage) calloutBars() {
	for _, c := range s.f.Callouts {
		low, middle, high := s.at(XY{c.X, c.Low}), s.at(XY{c.X, c.Middle}), s.at(XY{c.X, c.High})
		width, tip := vg.Length(3), vg.Length(6)
		if c.Role != Forecast {
			width, tip = 1.8, 4.5
		}
		i := c.Role.ink()
		s.line(i, width, nil, low, high)
		for _, end := range []vg.Point{low, high} {
			s.line(i, width, nil, vg.Point{X: end.X - tip, Y: end.Y}, vg.Point{X: end.X + tip, Y: end.Y})
		}
		s.fill(i, diamond(middle, 2*width+1))
		s.room.take(spanning(vg.Point{X: low.X - tip, Y: low.Y}, vg.Point{X: high.X + tip, Y: high.Y}), markWeight)
	}
}

func (s *stage) points() {
	for _, p := range s.f.Points {
		radius := s.dot
		switch {
		case len(p.At) > 500:
			radius = 2
		case len(p.At) > 60:
			radius = 3
		}
		for _, q := range p.At {
			at := s.at(q)
			if p.Role == Beyond {
				at = vg.Point{X: max(min(at.X, s.Max.X-radius), s.Min.X+radius), Y: max(min(at.Y, s.Max.Y-radius), s.Min.Y+radius)}
			}
			s.glyph(p.Role, at, radius)
			s.room.take(around(at, radius, radius), markWeight)
		}
	}
}

// lane draws the marks below the frame, and writes of them what has room: the pick
// first, then the last run's gearing, then from the left.
func (s *stage) lane() {
	if len(s.f.Marks) == 0 {
		return
	}
	floor := s.Min.Y - s.f.laneHeight(s.theme) + laneGap
	strip := vg.Rectangle{Min: vg.Point{X: s.Min.X, Y: floor}, Max: vg.Point{X: s.Max.X, Y: s.Min.Y - laneGap}}
	s.fill(lane, strip.Path())
	upper := strip.Max.Y - s.theme.lane/2
	lower := upper - s.theme.lane
	head := lettering{size: s.small, ink: quiet, align: 1}
	s.writeMiddle(head, s.Min.X-6, upper, s.f.MarksName)
	s.writeMiddle(head, s.Min.X-6, lower, s.f.ValuesName)

	marks := slices.Clone(s.f.Marks)
	slices.SortStableFunc(marks, func(a, b Mark) int {
		return cmp.Or(rank(b.Pick)-rank(a.Pick), rank(b.Present)-rank(a.Present))
	})
	labels, values := &row{left: s.Min.X - 6}, &row{left: s.Min.X - 6}
	for _, m := range marks {
		label := lettering{size: s.text, bold: m.Pick, ink: text, align: 0.5}
		x := s.x(m.X)
		if !labels.take(x, label.width(m.Label)) {
			continue
		}
		value := label
		value.size = s.small
		box := around(vg.Point{X: x, Y: upper}, max(label.width(m.Label)/2+6, s.theme.lane/2), s.theme.lane/2-1)
		switch {
		case m.Pick:
			s.fill(Forecast.ink(), pill(box))
			label.ink = paper
		case m.Present:
			s.stroke(Present.ink(), 1.8, nil, pill(box))
		}
		s.writeMiddle(label, x, upper, m.Label)
		if values.take(x, value.width(m.Value)) {
			s.writeMiddle(value, x, lower, m.Value)
		}
	}
}

// row is a line of labels that must not touch.
type row struct {
	left  vg.Length
	taken []vg.Rectangle
}

// take reports whether a label centred at x has room, and gives it.
func (r *row) take(x, width vg.Length) bool {
	const apart = 3 // to each side
	box := around(vg.Point{X: x}, width/2+apart, 1)
	if box.Min.X < r.left || slices.ContainsFunc(r.taken, func(t vg.Rectangle) bool { return overlap(box, t) > 0 }) {
		return false
	}
	r.taken = append(r.taken, box)
	return true
}

// ticks marks an axis at round numbers, at most most of them, each with as many
// decimals as the step needs and with the unit.
type ticks struct {
	most int
	unit string
}

// Ticks implements plot.Ticker.
func (t ticks) Ticks(low, high float64) []plot.Tick {
	step, decimals := roundStep((high - low) / float64(t.most))
	// Counting in whole steps keeps 0.30000000000000004 off the axis.
	first, last := math.Ceil(low/step-1e-9), math.Floor(high/step+1e-9)
	var all []plot.Tick
	for k := first; k <= last; k++ {
		label := units.Fixed(k*step, decimals)
		if t.unit != "" {
			label += " " + t.unit
		}
		all = append(all, plot.Tick{Value: k * step, Label: label})
	}
	return all
}

// roundStep returns the smallest of 1, 2 and 5 times a power of ten that is at least
// least, and the decimals in which its multiples are written.
func roundStep(least float64) (step float64, decimals int) {
	power := math.Floor(math.Log10(least))
	unit := math.Pow(10, power)
	for _, m := range []float64{1, 2, 5} {
		if step = m * unit; step >= least*(1-1e-9) {
			return step, max(0, -int(power))
		}
	}
	return 10 * unit, max(0, -int(power)-1)
}
