package plotting

import (
	"math"

	"gonum.org/v1/plot/vg"
)

// spot is a place in the picture, in pixels from its top left corner.
type spot struct{ x, y float64 }

func (p spot) plus(q spot) spot     { return spot{p.x + q.x, p.y + q.y} }
func (p spot) minus(q spot) spot    { return spot{p.x - q.x, p.y - q.y} }
func (p spot) times(k float64) spot { return spot{p.x * k, p.y * k} }
func (p spot) length() float64      { return math.Hypot(p.x, p.y) }
func (p spot) toward(q spot, share float64) spot {
	return p.plus(q.minus(p).times(share))
}

// track is a chain of straight lines. No two neighbouring points of it are the same.
type track struct {
	points []spot
	closed bool
}

// add appends a point unless the track is there already.
func (t *track) add(p spot) {
	if n := len(t.points); n == 0 || t.points[n-1] != p {
		t.points = append(t.points, p)
	}
}

// end returns the last point.
func (t *track) end() spot { return t.points[len(t.points)-1] }

// spot returns where a point lies in the picture.
func (c *pngCanvas) spot(p vg.Point) spot {
	x, y := c.place(p)
	return spot{x * c.scale, y * c.scale}
}

// flatten returns a path as tracks.
func (c *pngCanvas) flatten(path vg.Path) []track {
	var all []track
	for _, step := range curves(path) {
		if step.Type == vg.MoveComp || len(all) == 0 {
			all = append(all, track{})
		}
		t := &all[len(all)-1]
		switch step.Type {
		case vg.MoveComp, vg.LineComp:
			t.add(c.spot(step.Pos))
		case vg.CurveComp:
			t.bend(c.spot(step.Control[0]), c.spot(step.Control[1]), c.spot(step.Pos))
		case vg.CloseComp:
			t.close()
		}
	}
	return all
}

// close joins the end to the beginning.
func (t *track) close() {
	t.closed = true
	for n := len(t.points); n > 1 && t.points[n-1] == t.points[0]; n-- {
		t.points = t.points[:n-1]
	}
}

// bend appends a cubic curve in pieces that are straight to about a tenth of a pixel: a
// quarter circle of radius r in n pieces misses by 0.31 r/n², and reaches 1.66 r.
func (t *track) bend(a, b, to spot) {
	if len(t.points) == 0 {
		t.add(to) // a curve from nowhere
		return
	}
	from := t.end()
	reach := a.minus(from).length() + b.minus(a).length() + to.minus(b).length()
	pieces := math.Ceil(1.3 * math.Sqrt(reach))
	for k := 1.0; k <= pieces; k++ {
		u := k / pieces
		ab, bc, cd := from.toward(a, u), a.toward(b, u), b.toward(to, u)
		t.add(ab.toward(bc, u).toward(bc.toward(cd, u), u))
	}
}

// dash cuts a track into dashes, of which the pattern gives pairs of a length and a gap.
// Without a pattern the track stays whole.
func (t track) dash(pattern []float64, offset float64) []track {
	total := 0.0
	for _, d := range pattern {
		total += d
	}
	if total <= 0 {
		return []track{t}
	}
	points := t.points
	if t.closed {
		points = append(append([]spot{}, points...), points[0])
	}
	// Where the pattern stands at the track's beginning.
	which, left := 0, pattern[0]-math.Mod(offset, total)
	for left <= 0 {
		which = (which + 1) % len(pattern)
		left += pattern[which]
	}
	var all []track
	var now track
	for k := 1; k < len(points); k++ {
		from, to := points[k-1], points[k]
		length := to.minus(from).length()
		for done := 0.0; done < length; {
			step := math.Min(left, length-done)
			if which%2 == 0 {
				now.add(from.toward(to, done/length))
				now.add(from.toward(to, (done+step)/length))
			}
			done += step
			if left -= step; left <= 0 {
				if which%2 == 0 {
					all, now = append(all, now), track{}
				}
				which = (which + 1) % len(pattern)
				left = pattern[which]
			}
		}
	}
	if len(now.points) > 1 {
		all = append(all, now)
	}
	return all
}

// edge is a side of an outline, from its upper end to its lower. Down is 1 if the
// outline runs down it, and -1 if up.
type edge struct {
	upper, lower spot
	down         float32
}

// outline is a set of polygons. What they run around at least once is inside; polygons
// that run the other way cut holes.
type outline []edge

// polygon adds a closed polygon.
func (o *outline) polygon(points []spot) {
	for k, p := range points {
		q := points[(k+1)%len(points)]
		switch {
		case p.y < q.y:
			*o = append(*o, edge{p, q, 1})
		case p.y > q.y:
			*o = append(*o, edge{q, p, -1})
		}
	}
}

// stroke adds what a pen of twice the half width covers on its way along a track. It
// begins and ends square, and its corners are pointed.
func (o *outline) stroke(t track, half float64) {
	n := len(t.points)
	if n < 2 {
		return
	}
	left, right := make([]spot, n), make([]spot, n)
	for k, p := range t.points {
		aside := t.aside(k).times(half)
		left[k], right[n-1-k] = p.plus(aside), p.minus(aside)
	}
	if t.closed {
		o.polygon(left)
		o.polygon(right)
		return
	}
	o.polygon(append(left, right...))
}

// aside returns where the edge of a pen of half width 1 passes the k-th point, from there.
func (t track) aside(k int) spot {
	n := len(t.points)
	before, after := k, k+1
	switch {
	case t.closed:
		after %= n
		before = (k + n - 1) % n
	case k == 0:
		return normal(t.points[0], t.points[1])
	case k == n-1:
		return normal(t.points[n-2], t.points[n-1])
	default:
		before = k - 1
	}
	a, b := normal(t.points[before], t.points[k]), normal(t.points[k], t.points[after])
	// The corner lies where the edges of both lines meet, at (a+b)/(1+a·b); at a sharp
	// turn that would be far away.
	const sharpest = 0.5
	return a.plus(b).times(1 / math.Max(1+a.x*b.x+a.y*b.y, sharpest))
}

// normal is the direction square to that from p to q.
func normal(p, q spot) spot {
	d := q.minus(p)
	return spot{d.y, -d.x}.times(1 / d.length())
}

// coverage finds how much of each pixel an outline covers: exactly, but for where
// polygons cross within one pixel.
type coverage struct {
	size    Size
	changes []float32 // of coverage from each pixel to the next, for some rows at a time
}

// changesAtOnce is how many changes are held at a time; more would not stay in the cache.
const changesAtOnce = 1 << 14

func newCoverage(size Size) coverage {
	return coverage{size, make([]float32, changesAtOnce+2*size.Width)}
}

// each calls paint with the covered shares of each row that an outline touches, from
// the pixel x on.
func (c *coverage) each(o outline, paint func(y, x int, covered []float32)) {
	left, top, right, bottom := o.bounds(c.size)
	if left >= right {
		return
	}
	// One change lies right of a row's last pixel, and one further for what never comes.
	stride := right - left + 2
	atOnce := max(1, changesAtOnce/stride)
	for first := top; first < bottom; first += atOnce {
		last := min(first+atOnce, bottom)
		for _, e := range o {
			for y := max(first, int(math.Floor(e.upper.y))); y < last && float64(y) < e.lower.y; y++ {
				e.enter(float64(y), float64(left), c.changes[(y-first)*stride:(y-first+1)*stride])
			}
		}
		for y := first; y < last; y++ {
			covered := c.changes[(y-first)*stride:][:right-left]
			sum := float32(0)
			for k, change := range covered {
				sum += change
				covered[k] = min(max(sum, -sum), 1)
			}
			paint(y, left, covered)
		}
		clear(c.changes[:(last-first)*stride])
	}
}

// bounds returns the pixels that an outline touches, within a picture.
func (o outline) bounds(size Size) (left, top, right, bottom int) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, e := range o {
		y0, y1 = math.Min(y0, e.upper.y), math.Max(y1, e.lower.y)
		x0, x1 = math.Min(x0, math.Min(e.upper.x, e.lower.x)), math.Max(x1, math.Max(e.upper.x, e.lower.x))
	}
	inside := func(v float64, most int) int { return int(math.Max(0, math.Min(v, float64(most)))) }
	return inside(math.Floor(x0), size.Width), inside(math.Floor(y0), size.Height),
		inside(math.Ceil(x1), size.Width), inside(math.Ceil(y1), size.Height)
}

// enter adds to the changes of the row below y, of which the first is at left, the part
// of an edge that lies in it: whatever is right of that is covered by its height.
func (e edge) enter(y, left float64, changes []float32) {
	upper, lower := math.Max(e.upper.y, y), math.Min(e.lower.y, y+1)
	if upper >= lower {
		return
	}
	slope, most := (e.lower.x-e.upper.x)/(e.lower.y-e.upper.y), float64(len(changes)-2)
	from := math.Max(0, math.Min(e.upper.x+slope*(upper-e.upper.y)-left, most))
	to := math.Max(0, math.Min(e.upper.x+slope*(lower-e.upper.y)-left, most))
	if from > to {
		from, to = to, from
	}
	height := e.down * float32(lower-upper)
	for k := math.Floor(from); ; k++ {
		l, r := math.Max(from, k), math.Min(to, k+1)
		part := height
		if to > from {
			part *= float32((r - l) / (to - from))
		}
		// Of this pixel, what lies right of the edge; of the next, the rest.
		rest := float32((l+r)/2 - k)
		changes[int(k)] += part * (1 - rest)
		changes[int(k)+1] += part * rest
		if r >= to {
			return
		}
	}
}
