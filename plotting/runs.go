package plotting

import (
	"fmt"
	"math"
	"slices"
)

// Most points drawn of each kind: more would lie on top of each other, and an SVG of a
// long log would not open.
const (
	mostPlain   = 1600
	mostStopped = 300
	mostBeyond  = 100
)

// addRuns enters runs as points. What lies outside the frame is drawn at its edge.
func (f *Figure) addRuns(name string, plain, stopped []XY) {
	plain, outside := f.inside(plain)
	stopped, more := f.inside(stopped)
	outside = append(outside, more...)
	f.addPoints(Measured, name, plain, mostPlain)
	f.addPoints(AtLeast, "stopped by heat: at least this hot", stopped, mostStopped)
	f.addPoints(Beyond, "run outside this frame", outside, mostBeyond)
}

// inside parts points into those in the frame and the others, which it brings to the
// frame's edge.
func (f *Figure) inside(all []XY) (in, edge []XY) {
	for _, p := range all {
		q := XY{min(max(p.X, f.X.Low), f.X.High), min(max(p.Y, f.Y.Low), f.Y.High)}
		if q == p {
			in = append(in, p)
		} else {
			edge = append(edge, q)
		}
	}
	return in, edge
}

func (f *Figure) addPoints(role Role, name string, all []XY, most int) {
	if len(all) == 0 {
		return
	}
	drawn := thin(all, f.X, f.Y, most)
	if len(drawn) < len(all) {
		name += fmt.Sprintf(" (%d of %d drawn)", len(drawn), len(all))
	}
	f.Points = append(f.Points, Points{name, role, drawn})
}

// thin returns at most most of the points, in their order: the first in each cell of a
// grid over the frame, and the highest and lowest in each column, so that extremes stay.
// The same points give the same choice.
func thin(all []XY, x, y Axis, most int) []XY {
	if len(all) <= most {
		return all
	}
	// A column keeps one point a cell and two more.
	columns := int(math.Sqrt(float64(most)))
	rows := most/columns - 2
	taken := make([]bool, columns*rows)
	lowest, highest := slices.Repeat([]int{-1}, columns), slices.Repeat([]int{-1}, columns)
	cell := func(v float64, a Axis, n int) int {
		return min(max(int(float64(n)*(v-a.Low)/(a.High-a.Low)), 0), n-1)
	}
	keep := make([]bool, len(all))
	for i, p := range all {
		c := cell(p.X, x, columns)
		if k := c*rows + cell(p.Y, y, rows); !taken[k] {
			taken[k], keep[i] = true, true
		}
		if lowest[c] < 0 || p.Y < all[lowest[c]].Y {
			lowest[c] = i
		}
		if highest[c] < 0 || p.Y > all[highest[c]].Y {
			highest[c] = i
		}
	}
	for _, i := range slices.Concat(lowest, highest) {
		if i >= 0 {
			keep[i] = true
		}
	}
	var thinned []XY
	for i, p := range all {
		if keep[i] {
			thinned = append(thinned, p)
		}
	}
	return thinned
}
