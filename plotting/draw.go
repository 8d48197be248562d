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

// plot returns the axes and what stands between them, with so many lines in each row of the
// lane and at most so many numbers on each axis.
func (f *Figure) plot(t theme, lines []int, yTicks, xTicks int) *plot.Plot {
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
	p.X.Padding = laneHeight(t, lines)

	// The grid lines lead to the numbers; the axis needs no line of its own.
	marker := ticks{yTicks, f.Y.Unit}
	p.Y.Tick.Marker = marker
	p.Y.LineStyle.Width = 0
	p.Y.Tick.Length = 0
	p.Y.Padding = f.laneHeadRoom(t, marker.Ticks(f.Y.Low, f.Y.High))
	p.Add(&stage{pen: &pen{theme: t}, f: f, lines: lines})
	return p
}

// laneGap is the room above and below the lane.
const laneGap = 4

// laneHeight returns the height that so many lines in each row of the lane take between
// frame and axis.
func laneHeight(t theme, lines []int) vg.Length {
	if len(lines) == 0 {
		return laneGap
	}
	all := 0
	for _, n := range lines {
		all += n
	}
	return vg.Length(all)*t.lane + 2*laneGap
}

// rowsWidth returns the width of what heads the rows of the lane.
func (f *Figure) rowsWidth(t theme) vg.Length {
	var widest vg.Length
	for _, name := range f.Rows {
		widest = max(widest, lettering{size: t.small}.width(name))
	}
	return widest
}

// rowHeadGap is the room between the head of a row and the frame.
const rowHeadGap = 9

// laneHeadRoom returns how far the frame must keep from the numbers of the y axis, so
// that what heads the lane has room beside it.
func (f *Figure) laneHeadRoom(t theme, numbers []plot.Tick) vg.Length {
	l := lettering{size: t.small}
	var widest vg.Length
	for _, n := range numbers {
		widest = max(widest, l.width(n.Label))
	}
	return max(rowHeadGap, f.rowsWidth(t)-widest+rowHeadGap)
}

// stage draws the figure's content as a plot.Plotter.
type stage struct {
	*pen
	f     *Figure
	lines []int                   // of each row of the lane
	x, y  func(float64) vg.Length // where the values of the axes lie
	room  placer
}

// Plot implements plot.Plotter.
func (s *stage) Plot(c draw.Canvas, p *plot.Plot) {
	s.x, s.y = p.Transforms(&c)
	s.Canvas, s.room.frame = c, c.Rectangle
	s.bands()
	s.cuts()
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

// cuts marks where the frame cuts bands off: arrows that lead on, and how far.
func (s *stage) cuts() {
	const apart = 40 // from arrow to arrow, about
	for _, c := range s.f.Cuts {
		from, to, edge := s.x(c.From), s.x(c.To), s.y(c.Edge)
		if from > to {
			from, to = to, from
		}
		n := max(1, int((to-from)/apart))
		for i := range n {
			at := vg.Point{X: from + (to-from)*(vg.Length(i)+0.5)/vg.Length(n), Y: edge}
			s.room.take(s.arrow(Forecast.ink(), at, c.Edge == s.f.Y.High), markWeight)
		}
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
	if len(s.f.Marks) > mostGuides || len(s.f.Rows) > 1 || s.f.X.Bare {
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

// rim is the paper to each side of what crosses a band and is too light to stand out from it.
const rim = 1

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
		clipped := s.ClipLinesXY(points)
		if c.Role == Present {
			under := c.style()
			under.Color, under.Width = paper, under.Width+2*rim
			s.StrokeLines(under, clipped...)
		}
		s.StrokeLines(c.style(), clipped...)
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
		tipped := func(end vg.Point, longer vg.Length) []vg.Point {
			return []vg.Point{{X: end.X - tip - longer, Y: end.Y}, {X: end.X + tip + longer, Y: end.Y}}
		}
		for _, line := range [][]vg.Point{{low, high}, tipped(low, rim), tipped(high, rim)} {
			s.line(paper, width+2*rim, nil, line...)
		}
		for _, line := range [][]vg.Point{{low, high}, tipped(low, 0), tipped(high, 0)} {
			s.line(i, width, nil, line...)
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
		if slices.Contains(partRoles[:], p.Role) {
			radius = min(s.dot, max(leastPartDot, mostPartDot*(s.x(1)-s.x(0))))
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

// lane draws the marks below the frame, and writes of them what has room.
func (s *stage) lane() {
	if len(s.f.Marks) == 0 {
		return
	}
	floor := s.Min.Y - laneHeight(s.theme, s.lines) + laneGap
	strip := vg.Rectangle{Min: vg.Point{X: s.Min.X, Y: floor}, Max: vg.Point{X: s.Max.X, Y: s.Min.Y - laneGap}}
	s.fill(lane, strip.Path())
	top := strip.Max.Y
	tops := make([]vg.Length, len(s.lines))
	middleOf := func(row, line int) vg.Length { return tops[row] - (vg.Length(line)+0.5)*s.theme.lane }
	for row, lines := range s.lines {
		tops[row] = top
		top -= vg.Length(lines) * s.theme.lane
		s.writeMiddle(lettering{size: s.small, ink: quiet, align: 1}, s.Min.X-rowHeadGap, middleOf(row, 0), s.f.Rows[row])
	}
	for _, m := range s.f.placeMarks(s.theme, s.lines, s.Min.X-rowHeadGap, s.x) {
		for k, t := range m.texts {
			s.mark(m, t, k == 0, middleOf(t.row, m.line))
		}
	}
}

// mark writes a text of a mark centred on the height y: the first on a pill, if the mark is the
// pick or the last run's gearing.
func (s *stage) mark(m placedMark, t laneText, names bool, y vg.Length) {
	box := around(vg.Point{X: m.x, Y: y}, max(t.width(t.text)/2+pillEnd, s.theme.lane/2), s.theme.lane/2-1)
	switch {
	case m.Pick && names:
		s.fill(Forecast.ink(), pill(box))
		t.ink = paper
	case m.Present && names:
		s.stroke(Present.ink(), 1.8, nil, pill(box))
	}
	s.writeMiddle(t.lettering, m.x, y, t.text)
}

// placedMark is a mark with its place in the lane.
type placedMark struct {
	Mark
	x     vg.Length
	line  int // of each row
	texts []laneText
}

// laneText is a text of a mark.
type laneText struct {
	lettering
	row  int
	text string
}

// placeMarks returns the marks that have room right of left, in rows of so many lines: from
// the left, and if not all have room, the pick and the last run's gearing before the others.
func (f *Figure) placeMarks(t theme, lines []int, left vg.Length, x func(float64) vg.Length) []placedMark {
	marks := make([]placedMark, len(f.Marks))
	for i, m := range f.Marks {
		marks[i] = placedMark{Mark: m, x: x(m.X), texts: m.lettered(t)}
	}
	slices.SortStableFunc(marks, func(a, b placedMark) int { return cmp.Compare(a.x, b.x) })
	placed := placeInTurn(marks, lines, left)
	if len(placed) < len(marks) {
		slices.SortStableFunc(marks, func(a, b placedMark) int {
			return cmp.Or(rank(b.Pick)-rank(a.Pick), rank(b.Present)-rank(a.Present))
		})
		placed = placeInTurn(marks, lines, left)
	}
	return placed
}

// placeInTurn places marks that have room. One that would touch another stands a line lower in
// each of its rows.
func placeInTurn(marks []placedMark, lines []int, left vg.Length) []placedMark {
	taken := make([][]vg.Rectangle, len(lines))
	var placed []placedMark
	for _, p := range marks {
		for ; slices.IndexFunc(p.texts, func(l laneText) bool { return p.line >= lines[l.row] }) < 0; p.line++ {
			if !slices.ContainsFunc(p.texts, func(l laneText) bool { return touches(p.room(l), left, taken[l.row]) }) {
				for _, l := range p.texts {
					taken[l.row] = append(taken[l.row], p.room(l))
				}
				placed = append(placed, p)
				break
			}
		}
	}
	return placed
}

// lettered returns the texts that are not "", the first as large as what must be read.
func (m Mark) lettered(t theme) []laneText {
	var texts []laneText
	size := t.text
	for row, words := range m.Texts {
		if words != "" {
			texts = append(texts, laneText{lettering{size: size, bold: m.Pick, ink: text, align: 0.5}, row, words})
			size = t.small
		}
	}
	return texts
}

// pillEnd is how far a pill reaches beyond its text at each end.
const pillEnd = 4

// room returns the room that a text takes in its row, from line 0 down.
func (m placedMark) room(l laneText) vg.Rectangle {
	apart := vg.Length(1.5) // to each side
	if (m.Pick || m.Present) && l.row == m.texts[0].row {
		apart = pillEnd + 0.5
	}
	return around(vg.Point{X: m.x, Y: -vg.Length(m.line)}, l.width(l.text)/2+apart, 0.4)
}

func touches(r vg.Rectangle, left vg.Length, taken []vg.Rectangle) bool {
	return r.Min.X < left || slices.ContainsFunc(taken, func(t vg.Rectangle) bool { return overlap(r, t) > 0 })
}

// laneLines returns how many lines the rows of the lane need on a page of that width: one, or
// two where marks would touch in one.
func (f *Figure) laneLines(t theme, width vg.Length) []int {
	const numbers = 20 // how much wider the y axis can be than what heads the rows
	frame := width - f.rowsWidth(t) - rowHeadGap - numbers
	lines, two := slices.Repeat([]int{1}, len(f.Rows)), slices.Repeat([]int{2}, len(f.Rows))
	for _, m := range f.placeMarks(t, two, -rowHeadGap, func(v float64) vg.Length {
		share := vg.Length((v - f.X.Low) / (f.X.High - f.X.Low))
		if f.X.Falling {
			share = 1 - share
		}
		return share * frame
	}) {
		for _, l := range m.texts {
			lines[l.row] = max(lines[l.row], m.line+1)
		}
	}
	return lines
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
