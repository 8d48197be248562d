package plotting

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"regear/plotting/internal/canvas"
)

// Format is a kind of picture file. A program holds what the formats that it names need, and no more.
type Format struct {
	ending string // of a file's name
	canvas func(canvas.Page) canvas.Canvas
}

// SVG is a vector picture for a page.
var SVG = &Format{"svg", svg}

// svg is a canvas with paper on it: an SVG is clear where nothing is drawn, and a page behind it may
// be dark.
func svg(p canvas.Page) canvas.Canvas {
	c := canvas.SVG(p)
	width, height := c.Size()
	c.SetColor(paper)
	c.Fill(vg.Rectangle{Max: vg.Point{X: width, Y: height}}.Path())
	return c
}

// Size is the size of a picture in pixels, from 320 by 300 to 8000 by 8000.
type Size struct{ Width, Height int }

// DefaultSize suits a screen and a page.
var DefaultSize = Size{1200, 750}

const leastWidth, leastHeight, mostPixels = 320, 300, 8000

// layoutWidth is the widest layout, in pixels. A wider picture is the same one enlarged, so
// that it stays readable when it is shown at 600 pixels.
const layoutWidth = 680

// Write draws f with its title and key as a picture.
//
// It fails with [ErrNotFinite] on a figure with a number that can't be drawn, on a size too small
// or too large to draw, and on what w reports.
func (f *Figure) Write(w io.Writer, format *Format, size Size) error {
	if err := f.check(); err != nil {
		return err
	}
	if size.Width < leastWidth || size.Height < leastHeight || size.Width > mostPixels || size.Height > mostPixels {
		return fmt.Errorf("plotting: a picture of %d by %d pixels: from %d by %d to %d by %d can be drawn",
			size.Width, size.Height, leastWidth, leastHeight, mostPixels, mostPixels)
	}
	c := format.canvas(canvas.Page{
		Width: size.Width, Height: size.Height, Scale: math.Max(1, float64(size.Width)/layoutWidth),
		Title: f.Title, Description: join(f.Subtitle, f.Numbers),
	})
	f.draw(draw.New(c))
	return c.Encode(w)
}

// draw draws the whole figure on c, which must be white: title, subtitle, key, and the
// plot in what is left. Where that would be too little, the subtitle goes, then the key, and
// then what stands in the second lines of the lane.
func (f *Figure) draw(c draw.Canvas) {
	p := &pen{c, themeFor(c.Size().X)}
	p.Min = p.Min.Add(vg.Point{X: p.margin, Y: p.margin / 2})
	p.Max = p.Max.Sub(vg.Point{X: p.margin, Y: p.margin})

	head := lettering{size: p.title, bold: true, ink: text}
	body := lettering{size: p.text, ink: quiet}
	title, subtitle, label := head.balance(f.Title, p.room()), body.wrap(f.Subtitle, p.room()), body.wrap(f.Y.Label, p.room())
	key, lines := p.rows(f.key()), f.laneLines(p.theme, p.room())
	const least = 0.4 // of the height is the plot's
	height := func(l lettering, lines []string) vg.Length { return l.lead() * vg.Length(len(lines)) }
	tooLow := func() bool {
		left := p.Max.Y - p.Min.Y - height(head, title) - height(body, subtitle) - height(body, label) - keyLead*vg.Length(len(key)) - blockGap
		moreLines := laneHeight(p.theme, lines) - laneHeight(p.theme, []int{2}) // than a usual lane
		return left-max(0, moreLines) < least*c.Size().Y
	}
	if tooLow() {
		subtitle = nil
	}
	if tooLow() {
		key = nil
	}
	if tooLow() {
		for row := range lines {
			lines[row] = 1
		}
	}
	if f.Plain {
		title, subtitle, key = nil, nil, nil
	}
	p.lines(head, title)
	p.space(0.2 * blockGap)
	p.lines(body, subtitle)
	p.space(0.3 * blockGap)
	p.key(key)
	p.space(0.25 * blockGap)
	p.lines(body, label)
	p.space(0.25 * blockGap)

	const perYNumber, perXNumber = 44, 70
	numbers := func(room, each vg.Length) int { return min(max(int(room/each), 2), 10) }
	size := p.Canvas.Size()
	f.plot(p.theme, lines, numbers(size.Y, perYNumber), numbers(size.X, perXNumber)).Draw(p.Canvas)
}

// blockGap is the room between the blocks above the plot, all together.
const blockGap = 24

// space leaves a gap at the top of what is left of the canvas.
func (p *pen) space(gap vg.Length) { p.Max.Y -= gap }

// room returns the width of what is left of the canvas.
func (p *pen) room() vg.Length { return p.Max.X - p.Min.X }

// lines sets lines from the top, and leaves the canvas below them.
func (p *pen) lines(l lettering, lines []string) {
	for _, line := range lines {
		p.space(l.lead())
		p.write(l, p.Min.X, p.Max.Y+0.28*l.size, line)
	}
}

// keyEntry is one sample of the key with its name.
type keyEntry struct {
	name   string
	sample func(p *pen, box vg.Rectangle)
}

// key returns the entries of the figure's key: whatever has a name, each once.
func (f *Figure) key() []keyEntry {
	var all []keyEntry
	known := map[string]bool{"": true}
	add := func(name string, sample func(p *pen, box vg.Rectangle)) {
		if !known[name] {
			known[name] = true
			all = append(all, keyEntry{name, sample})
		}
	}
	for _, b := range f.Bars {
		add(b.Name, func(p *pen, box vg.Rectangle) { p.bar(b.Kind, box) })
	}
	// The pick before what it is compared with, and the tested before the untested.
	order := slices.Clone(f.Curves)
	slices.SortStableFunc(order, func(a, b Curve) int {
		return cmp.Or(cmp.Compare(a.Role, b.Role), rank(a.Dashed)-rank(b.Dashed))
	})
	for _, c := range order {
		add(c.Name, func(p *pen, box vg.Rectangle) {
			y := middle(box).Y
			p.StrokeLine2(c.style(), box.Min.X, y, box.Max.X, y)
		})
	}
	for _, b := range f.Bands {
		add(b.Name, func(p *pen, box vg.Rectangle) { p.fill(band, box.Path()) })
	}
	for _, s := range f.Points {
		add(s.Name, func(p *pen, box vg.Rectangle) {
			at := middle(box)
			if s.Role == AtLeast {
				at.Y = box.Min.Y
			}
			p.glyph(s.Role, at, p.dot)
		})
	}
	// The last run's gearing, where it is marked without being named.
	if slices.ContainsFunc(f.Marks, func(m Mark) bool { return m.Present && !m.Pick }) &&
		!slices.ContainsFunc(f.Callouts, func(c Callout) bool { return c.Role == Present }) {
		add("as in the last run", func(p *pen, box vg.Rectangle) { p.stroke(Present.ink(), 1.8, nil, pill(box)) })
	}
	return all
}

// rank orders false before true.
func rank(b bool) int {
	if b {
		return 1
	}
	return 0
}

func middle(r vg.Rectangle) vg.Point {
	return vg.Point{X: (r.Min.X + r.Max.X) / 2, Y: (r.Min.Y + r.Max.Y) / 2}
}

// The measures of the key.
const (
	sampleWidth  = 24
	sampleHeight = 10
	sampleGap    = 6 // to the name
	entryGap     = 18
	keyLead      = 18 // from row to row
)

func (p *pen) keyLettering() lettering { return lettering{size: p.small, ink: text} }

// rows sets entries side by side as far as there is room.
func (p *pen) rows(entries []keyEntry) [][]keyEntry {
	var all [][]keyEntry
	var used vg.Length
	for _, e := range entries {
		width := sampleWidth + sampleGap + p.keyLettering().width(e.name)
		if len(all) == 0 || used+width > p.room() {
			all = append(all, nil)
			used = 0
		}
		all[len(all)-1] = append(all[len(all)-1], e)
		used += width + entryGap
	}
	return all
}

func (p *pen) key(rows [][]keyEntry) {
	l := p.keyLettering()
	for _, row := range rows {
		p.space(keyLead)
		x, y := p.Min.X, p.Max.Y+keyLead/3
		for _, e := range row {
			e.sample(p, around(vg.Point{X: x + sampleWidth/2, Y: y}, sampleWidth/2, sampleHeight/2))
			p.writeMiddle(l, x+sampleWidth+sampleGap, y, e.name)
			x += sampleWidth + sampleGap + l.width(e.name) + entryGap
		}
	}
}
