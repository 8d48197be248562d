package plotting

import (
	"math"

	"gonum.org/v1/plot/vg"
)

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

// take marks room as taken.
func (p *placer) take(r vg.Rectangle, weight vg.Length) { p.taken = append(p.taken, place{r, weight}) }

// place returns where a label of the given size fits best: at the first of the wished
// corners (lower left ones, moved into the frame) where it hides least. It takes that
// room, with some distance around it.
func (p *placer) place(size vg.Point, corners []vg.Point) vg.Rectangle {
	const distance = 5
	var best vg.Rectangle
	least := vg.Length(math.Inf(1))
	for _, corner := range corners {
		corner.X = max(min(corner.X, p.frame.Max.X-size.X), p.frame.Min.X)
		corner.Y = max(min(corner.Y, p.frame.Max.Y-size.Y), p.frame.Min.Y)
		r := vg.Rectangle{Min: corner, Max: corner.Add(size)}
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

// overlap returns the area that two rectangles share.
func overlap(a, b vg.Rectangle) vg.Length {
	w := min(a.Max.X, b.Max.X) - max(a.Min.X, b.Min.X)
	h := min(a.Max.Y, b.Max.Y) - max(a.Min.Y, b.Min.Y)
	if w <= 0 || h <= 0 {
		return 0
	}
	return w * h
}
