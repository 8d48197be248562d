// Package plotting draws what a fit and an advice say: peak temperature against
// gearing and against run length, and the chance of staying under the limits.
//
// A constructor ([Ratio], [Rollout], [Minutes], [Chance]) turns an advice into a
// [Figure], which holds every number that will be seen, in the units of its axes;
// [Hindsight] does so with forecasts and what came of them. [Figure.Write] draws a figure
// with gonum's plot, and sets title and key around it. The package only looks on: it reads
// fits and advice, changes nothing, opens no file, and refuses to draw a number that is not
// finite.
//
//	figure, err := plotting.Ratio(advice, run.Motor, units.Metric)
//	...
//	err = figure.Write(out, plotting.SVG, plotting.DefaultSize)
//
// In an SVG every colour is a plain attribute with a class beside it, "plot-fill-NAME"
// or "plot-line-NAME", where NAME is paper, text, quiet, grid, lane, first, second,
// third, limit, band or bar. A page's style sheet that gives these classes other colours
// has its figures in dark mode.
package plotting

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"

	"regear/analyze/units"
)

// Figure is what a plot shows, in the units of its axes and before any drawing.
// Its zero value is an empty frame.
type Figure struct {
	Title    string // the answer, in words
	Subtitle string // what was assumed, and what was done to the runs
	// Numbers tells the main numbers in words, for those who can't see them.
	Numbers string
	X, Y    Axis

	Bands    []Band
	Cuts     []Cut
	Curves   []Curve
	Bars     []Bar
	Levels   []Level
	Moments  []Level // as Levels, but upright at an x
	Points   []Points
	Marks    []Mark
	Callouts []Callout

	Rows []string // name the rows of the lane of marks, below the frame

	// Plain leaves title, subtitle and key to what stands beside the picture.
	Plain bool
}

// Axis is the extent of a frame in one direction.
type Axis struct {
	Label     string // what is measured, with its unit
	Unit      string // repeated behind each number
	Low, High float64
	Falling   bool // High is at the left
	Bare      bool // the numbers are left out
}

// Role is what something in a figure stands for. It decides colour, dash and shape,
// so that each is told apart by more than its colour.
type Role uint8

// The roles.
const (
	Forecast Role = iota // what the fit expects of the pick, or of any gearing
	Present              // the gearing of the last run
	Limit                // what should not be passed
	Wanted               // what should be reached
	Measured             // a run of the log
	AtLeast              // a run that heat stopped: its full peak would have been higher
	Beyond               // a run that lies outside the frame, at its edge
	MotorPart
	ESCPart
	BatteryPart
	Missed // a reading that a forecast did not hold
)

// XY is a point.
type XY struct{ X, Y float64 }

// Range is an interval at x.
type Range struct{ X, Low, High float64 }

// Band is where 8 of 10 runs are expected.
type Band struct {
	Name string // as in the key
	Over []Range
}

// Cut is where the frame cuts a band off.
type Cut struct {
	From, To float64 // on the x axis
	Edge     float64 // Low or High of the y axis
	Label    string  // how far the band goes
}

// Curve is a line through points in rising or falling order of x.
type Curve struct {
	Name   string // as in the key, or
	Label  string // written beside it
	Role   Role
	Dashed bool // beyond what the log has tested
	Thin   bool // an edge rather than a middle
	Points []XY
}

// Bar rises from 0 at a mark.
type Bar struct {
	Name      string // as in the key
	Kind      BarKind
	X, Height float64
}

// BarKind says which of the bars a bar is.
type BarKind uint8

// The kinds of bars.
const (
	OtherBar  BarKind = iota // could be picked
	PickBar                  // is picked
	BarredBar                // may not be picked, however high
)

// Level is a straight line across the frame.
type Level struct {
	Label string // written along it
	Role  Role
	At    float64
}

// Points are runs or forecasts as dots.
type Points struct {
	Name string // as in the key
	Role Role
	At   []XY
}

// Mark is what stands below a place of the x axis, such as a gearing that could be chosen.
type Mark struct {
	X             float64
	Texts         []string // by row of the lane; the first that is not "" names the mark
	Pick, Present bool
}

// Callout is an interval with its middle, set apart and named in place.
type Callout struct {
	Range
	Middle float64
	Lines  []string
	Role   Role
}

// ErrNotFinite reports a figure with a number that can't be drawn.
var ErrNotFinite = errors.New("plotting: a number to be drawn is not finite")

// check returns ErrNotFinite if any number of f is NaN or infinite, or an axis has no
// extent. JSON holds finite numbers alone, so it finds them in every field there is.
func (f *Figure) check() error {
	if _, err := json.Marshal(f); err != nil {
		return ErrNotFinite
	}
	if f.X.Low >= f.X.High || f.Y.Low >= f.Y.High {
		return fmt.Errorf("%w: an axis has no extent", ErrNotFinite)
	}
	return nil
}

// heights returns the y of everything but the points.
func (f *Figure) heights() []float64 {
	var all []float64
	for _, l := range f.Levels {
		all = append(all, l.At)
	}
	for _, b := range f.Bands {
		for _, r := range b.Over {
			all = append(all, r.Low, r.High)
		}
	}
	for _, c := range f.Curves {
		all = append(all, yOf(c.Points)...)
	}
	return all
}

func yOf(points []XY) []float64 {
	all := make([]float64, len(points))
	for i, p := range points {
		all[i] = p.Y
	}
	return all
}

// cutBands enters where the frame cuts bands off.
func (f *Figure) cutBands() {
	for _, b := range f.Bands {
		f.cut(b, f.Y.High, "up to ", func(r Range) float64 { return r.High })
		f.cut(b, f.Y.Low, "down to ", func(r Range) float64 { return r.Low })
	}
}

// cut enters where one end of a band lies beyond an edge of the frame.
func (f *Figure) cut(b Band, edge float64, until string, end func(Range) float64) {
	const most = 999 // degrees, past which the digits say nothing
	beyond := func(i int) float64 {
		if edge == f.Y.Low {
			return edge - end(b.Over[i])
		}
		return end(b.Over[i]) - edge
	}
	crossing := func(i, j int) float64 {
		share := beyond(i) / (beyond(i) - beyond(j))
		return b.Over[i].X + share*(b.Over[j].X-b.Over[i].X)
	}
	for i := 0; i < len(b.Over); i++ {
		if beyond(i) <= 0 {
			continue
		}
		c, farthest := Cut{From: b.Over[i].X, Edge: edge}, i
		if i > 0 {
			c.From = crossing(i-1, i)
		}
		for ; i < len(b.Over) && beyond(i) > 0; i++ {
			c.To = b.Over[i].X
			if beyond(i) > beyond(farthest) {
				farthest = i
			}
		}
		if i < len(b.Over) {
			c.To = crossing(i-1, i)
		}
		c.Label = until + units.Fixed(end(b.Over[farthest]), 0) + " " + f.Y.Unit
		if end(b.Over[farthest]) > most {
			c.Label = fmt.Sprintf("to over %d %s", most, f.Y.Unit)
		}
		f.Cuts = append(f.Cuts, c)
	}
}

// addRuns enters runs as points. What lies outside the frame is drawn at its edge.
func (f *Figure) addRuns(name string, plain, stopped []XY) {
	plain, outside := f.inside(plain)
	stopped, more := f.inside(stopped)
	f.addPoints(Measured, name, plain, mostPlain)
	f.addPoints(AtLeast, "stopped by heat: at least this hot", stopped, mostStopped)
	f.addPoints(Beyond, "run outside this frame", append(outside, more...), mostBeyond)
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

// Most points drawn of each kind: more would lie on top of each other, and an SVG of a
// long log would not open.
const mostPlain, mostStopped, mostBeyond = 1600, 300, 100

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
