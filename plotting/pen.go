package plotting

import (
	"image/color"
	"slices"
	"strings"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"regear/plotting/internal/canvas"
)

// pen draws on a canvas in the theme's terms.
type pen struct {
	draw.Canvas
	theme
}

// capHeight is the height of a capital or digit as a share of the font size, by which
// text is centred on a line (Liberation Sans).
const capHeight = 0.72

// lettering is how a text is set.
type lettering struct {
	size  vg.Length
	bold  bool
	ink   ink
	align float64 // share of the text that lies left of the point: 0 left, 1 right
}

func (l lettering) width(s string) vg.Length {
	face := sans(l.size, l.bold)
	return face.Width(s)
}

// lead is the distance between lines.
func (l lettering) lead() vg.Length { return 1.3 * l.size }

// write sets one line with its baseline at y.
func (p *pen) write(l lettering, x, y vg.Length, s string) {
	if s == "" {
		return
	}
	p.SetColor(l.ink)
	p.FillString(sans(l.size, l.bold), vg.Point{X: x - vg.Length(l.align)*l.width(s), Y: y}, s)
}

// writeMiddle sets one line centred on the height y.
func (p *pen) writeMiddle(l lettering, x, y vg.Length, s string) {
	p.write(l, x, y-capHeight*l.size/2, s)
}

// wrap breaks a text into lines no wider than width, where a single word allows it. A
// number keeps its unit.
func (l lettering) wrap(s string, width vg.Length) []string {
	var lines []string
	for _, word := range words(s) {
		last := len(lines) - 1
		if last < 0 || l.width(lines[last]+" "+word) > width {
			lines = append(lines, word)
		} else {
			lines[last] += " " + word
		}
	}
	return lines
}

// balance is wrap with lines of about the same length.
func (l lettering) balance(s string, width vg.Length) []string {
	lines := l.wrap(s, width)
	const step = 8
	for narrower := width - step; narrower > step; narrower -= step {
		shorter := l.wrap(s, narrower)
		tooWide := func(line string) bool { return l.width(line) > narrower }
		if len(shorter) > len(lines) || slices.ContainsFunc(shorter, tooWide) {
			break
		}
		lines = shorter
	}
	return lines
}

// words splits a text at its spaces, but not between a number and its unit.
func words(s string) []string {
	var all []string
	for _, w := range strings.Fields(s) {
		switch strings.TrimRight(w, ".,:;") {
		case "°C", "°F", "%", "mm", "in", "min", "teeth":
			if len(all) > 0 {
				all[len(all)-1] += " " + w
				continue
			}
		}
		all = append(all, w)
	}
	return all
}

func (p *pen) fill(i ink, path vg.Path) {
	p.SetColor(i)
	p.Fill(path)
}

func (p *pen) stroke(i ink, width vg.Length, dashes []vg.Length, path vg.Path) {
	p.SetLineStyle(draw.LineStyle{Color: i, Width: width, Dashes: dashes})
	p.Stroke(path)
}

func (p *pen) line(i ink, width vg.Length, dashes []vg.Length, points ...vg.Point) {
	p.stroke(i, width, dashes, polyline(points))
}

func polyline(points []vg.Point) vg.Path {
	path := make(vg.Path, 0, len(points)+1)
	for k, pt := range points {
		if k == 0 {
			path.Move(pt)
		} else {
			path.Line(pt)
		}
	}
	return path
}

func polygon(points ...vg.Point) vg.Path {
	path := polyline(points)
	path.Close()
	return path
}

// around is the rectangle that reaches so far to each side of a point.
func around(centre vg.Point, halfWidth, halfHeight vg.Length) vg.Rectangle {
	half := vg.Point{X: halfWidth, Y: halfHeight}
	return vg.Rectangle{Min: centre.Sub(half), Max: centre.Add(half)}
}

func circle(centre vg.Point, radius vg.Length) vg.Path { return pill(around(centre, radius, radius)) }

// pill is a rectangle with round ends, of cubic curves.
func pill(r vg.Rectangle) vg.Path {
	// The control points' distance that keeps a cubic curve within 0.03 % of a quarter
	// circle: 4/3 (√2 - 1).
	const k = 0.5523
	radius := min(r.Size().X, r.Size().Y) / 2
	var path vg.Path
	path.Move(vg.Point{X: r.Min.X + radius, Y: r.Min.Y})
	along := vg.Point{X: 1}
	for _, corner := range []vg.Point{{X: r.Max.X, Y: r.Min.Y}, r.Max, {X: r.Min.X, Y: r.Max.Y}, r.Min} {
		turned := vg.Point{X: -along.Y, Y: along.X}
		path.Line(corner.Sub(along.Scale(radius)))
		path.CubeTo(corner.Sub(along.Scale((1-k)*radius)), corner.Add(turned.Scale((1-k)*radius)), corner.Add(turned.Scale(radius)))
		along = turned
	}
	path.Close()
	return path
}

// Dash patterns: what is beyond the tested, and what a line only asks for.
var (
	beyondDashes = []vg.Length{7, 5}
	wantedDashes = []vg.Length{2, 3}
)

func (p *pen) glyph(r Role, at vg.Point, radius vg.Length) {
	const rimmed = 1.25 // with paper around it, against the bar behind a part's dot
	switch r {
	case AtLeast:
		// A floor and an arrow up from it.
		top := vg.Point{X: at.X, Y: at.Y + 3.2*radius}
		p.line(r.ink(), 1.6, nil, vg.Point{X: at.X - radius, Y: at.Y}, vg.Point{X: at.X + radius, Y: at.Y})
		p.line(r.ink(), 1.6, nil, at, top)
		p.fill(r.ink(), polygon(top.Add(vg.Point{Y: radius}), top.Add(vg.Point{X: -radius, Y: -radius / 2}), top.Add(vg.Point{X: radius, Y: -radius / 2})))
	case Beyond:
		p.fill(r.ink(), diamond(at, radius))
		p.fill(paper, diamond(at, radius/2))
	case Missed:
		p.fill(paper, diamond(at, radius+3))
		p.fill(r.ink(), diamond(at, radius+1.5))
	case ESCPart:
		p.fill(paper, around(at, rimmed*radius, rimmed*radius).Path())
		p.fill(r.ink(), around(at, radius, radius).Path())
	case BatteryPart:
		p.fill(paper, triangle(at, 1.2*rimmed*radius))
		p.fill(r.ink(), triangle(at, 1.125*radius))
	case MotorPart:
		p.fill(paper, circle(at, rimmed*radius))
		p.fill(r.ink(), circle(at, radius))
	default:
		p.fill(r.ink(), circle(at, radius))
		p.fill(paper, circle(at, radius-1.4))
	}
}

// arrow draws an arrow up or down to a tip, and returns the room that it takes.
func (p *pen) arrow(i ink, tip vg.Point, up bool) vg.Rectangle {
	const length, half = 15, 5
	back := vg.Length(-1)
	if !up {
		back = 1
	}
	base := vg.Point{X: tip.X, Y: tip.Y + back*2*half}
	end := vg.Point{X: tip.X, Y: tip.Y + back*length}
	p.line(i, 2, nil, end, base)
	p.fill(i, polygon(tip, base.Add(vg.Point{X: -half}), base.Add(vg.Point{X: half})))
	return spanning(end.Sub(vg.Point{X: half}), tip.Add(vg.Point{X: half}))
}

func diamond(at vg.Point, radius vg.Length) vg.Path {
	return polygon(at.Add(vg.Point{X: -radius}), at.Add(vg.Point{Y: -radius}), at.Add(vg.Point{X: radius}), at.Add(vg.Point{Y: radius}))
}

func triangle(at vg.Point, radius vg.Length) vg.Path {
	return polygon(at.Add(vg.Point{X: -radius, Y: -radius * 0.7}), at.Add(vg.Point{X: radius, Y: -radius * 0.7}), at.Add(vg.Point{Y: radius}))
}

// ink is a colour of the palette.
type ink = canvas.Ink

func newInk(name string, rgb uint32) ink {
	return ink{NRGBA: color.NRGBA{uint8(rgb >> 16), uint8(rgb >> 8), uint8(rgb), 0xff}, Name: name}
}

// The palette. The strong colours come from a search: of the colours at these lightnesses
// they stay furthest apart for normal and for colour-blind eyes. The lightnesses keep them
// apart in grey. The test of the palette says how far.
//
// Every colour is opaque, because programs differ in how they mix a translucent one.
var (
	paper  = newInk("paper", 0xFFFFFF)
	text   = newInk("text", 0x1A2530)
	quiet  = newInk("quiet", 0x55616D) // second-rank text
	grid   = newInk("grid", 0xDDE2E6)
	lane   = newInk("lane", 0xF0F2F4)
	first  = newInk("first", 0x034959)  // dark teal
	second = newInk("second", 0xA476DC) // lilac
	third  = newInk("third", 0x9D5E00)  // ochre
	danger = newInk("limit", 0xB23E28)  // brick
	band   = newInk("band", 0xADCFD9)   // around first
	bar    = newInk("bar", 0xABC2CA)    // beside a bar in first
)

func (r Role) ink() ink {
	switch r {
	case Forecast, MotorPart:
		return first
	case Present, ESCPart:
		return second
	case Limit, Missed:
		return danger
	case BatteryPart:
		return third
	default:
		return text
	}
}

// labelInk returns the colour of a text that names a role: its own where that is dark
// enough to read.
func (r Role) labelInk() ink {
	if i := r.ink(); i != second {
		return i
	}
	return quiet
}

// theme holds the sizes, in pixels of the layout.
type theme struct {
	title, text, small vg.Length // font sizes
	margin             vg.Length
	lane               vg.Length // height of a row of the lane
	dot                vg.Length // radius of a run
}

// themeFor returns the sizes for a layout: a narrow one, which is for phones, saves on
// margins and title, and never on the size of what must be read.
func themeFor(width vg.Length) theme {
	t := theme{title: 18, text: 13, small: 12, margin: 18, lane: 20, dot: 4}
	if width < 480 {
		t.title, t.small, t.margin = 16, 13, 12
	}
	return t
}

func sans(size vg.Length, bold bool) font.Face {
	f := font.Font{Typeface: "Liberation", Variant: "Sans"}
	if bold {
		f.Weight = xfont.WeightBold
	}
	return plot.DefaultTextHandler.Cache().Lookup(f, size)
}
