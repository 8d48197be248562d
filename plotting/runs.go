package plotting

import (
	"fmt"
	"math"
	"slices"

	"regear/analyze"
	"regear/analyze/run"
)

// runs returns where the log's runs stand, and those that heat stopped apart from them:
// place gives a run's x and the conditions that it is moved to.
func (v view) runs(place func(r *run.Run) (x float64, to analyze.Conditions)) (plain, stopped []XY) {
	for i, r := range v.fit.Used() {
		x, to := place(r)
		p := XY{x, v.Temperature(v.fit.Moved(i, to))}
		if r.StoppedByHeat {
			stopped = append(stopped, p)
		} else {
			plain = append(plain, p)
		}
	}
	return plain, stopped
}

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
	lowest, highest := make([]int, columns), make([]int, columns)
	for i := range lowest {
		lowest[i], highest[i] = -1, -1
	}
	cell := func(v float64, a Axis, n int) int {
		return min(max(int(float64(n)*(v-a.Low)/(a.High-a.Low)), 0), n-1)
	}
	var keep []int
	for i, p := range all {
		c := cell(p.X, x, columns)
		if k := c*rows + cell(p.Y, y, rows); !taken[k] {
			taken[k] = true
			keep = append(keep, i)
		}
		if lowest[c] < 0 || p.Y < all[lowest[c]].Y {
			lowest[c] = i
		}
		if highest[c] < 0 || p.Y > all[highest[c]].Y {
			highest[c] = i
		}
	}
	for c := range lowest {
		if lowest[c] >= 0 {
			keep = append(keep, lowest[c], highest[c])
		}
	}
	slices.Sort(keep)
	thinned := make([]XY, 0, len(keep))
	for _, i := range slices.Compact(keep) {
		thinned = append(thinned, all[i])
	}
	return thinned
}

// temperatureAxis returns a frame around what must be seen, and of the rest around what
// lies within reach: one wild run, a limit far away or a gearing far from any that was
// run must not squash what the driver decides on.
func (v view) temperatureAxis(must []float64, f *Figure, runs ...[]XY) Axis {
	const (
		leastExtent = 20 // kelvin
		reach       = 1  // of the extent of what must be seen
		margin      = 0.06
	)
	low, high := slices.Min(must), slices.Max(must)
	if short := v.Difference(leastExtent) - (high - low); short > 0 {
		low, high = low-short/2, high+short/2
	}
	lowest, highest := low-reach*(high-low), high+reach*(high-low)
	for _, y := range f.heights(runs) {
		if y >= lowest && y <= highest {
			low, high = min(low, y), max(high, y)
		}
	}
	pad := margin * (high - low)
	return Axis{
		Label: "peak of the " + v.part.Word() + " after the run", Unit: v.TemperatureUnit(),
		Low: low - pad, High: high + pad,
	}
}

// heights returns the y of everything that a frame should reach.
func (f *Figure) heights(runs [][]XY) []float64 {
	var all []float64
	for _, l := range f.Levels {
		all = append(all, l.At)
	}
	for _, b := range f.Bands {
		for _, r := range b.Over {
			all = append(all, r.Low, r.High)
		}
	}
	lines := slices.Clone(runs)
	for _, c := range f.Curves {
		lines = append(lines, c.Points)
	}
	for _, points := range lines {
		for _, p := range points {
			all = append(all, p.Y)
		}
	}
	return all
}
