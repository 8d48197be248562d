package analyze

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"regear/analyze/drivetrain"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// Conditions are the circumstances of a run that heat depends on.
type Conditions struct {
	Gearing drivetrain.Gearing
	Tire    units.Millimeters // outer diameter
	Ambient units.Celsius
	Minutes units.Minutes
	Start   runlog.Readings // absent: starts at ambient
	Cells   int             // 0: the log's usual
	// Setup labels. A label that the log never saw is predicted with the spread
	// that such labels have.
	Surface, Cooling string
}

// ConditionsOf returns the circumstances in which r was driven.
func ConditionsOf(r *runlog.Run) Conditions {
	return Conditions{
		Gearing: r.Gearing, Tire: r.Tire, Ambient: r.Ambient, Minutes: r.Minutes,
		Start: r.Start, Cells: r.Cells, Surface: r.Surface, Cooling: r.Cooling,
	}
}

// Rollout returns the distance per motor turn.
func (c Conditions) Rollout() units.Millimeters { return c.Gearing.Rollout(c.Tire) }

// Columns of the design matrix. Labels follow, a column each.
const (
	colLevel = iota
	colExponent
	colBend
	colTire
	colCells
	colDrift
	numFixedColumns
)

// maxLabels bounds the columns that a log can add. Rarer labels share the log's
// level, which is what they would shrink to with their few runs.
const maxLabels = 12

// design turns conditions into the regression's columns. Every column is centred on
// the log's geometric middle, so that a column without evidence is all zeros and
// leaves its coefficient at the prior.
type design struct {
	lnRollout, lnTire, lnCells float64 // the middles
	surfaces, coolings         labels
	days                       map[runlog.Day]int // rank, counted from 0
}

// labels gives each label of one kind its column, counted from first.
type labels struct {
	only   string // the label of a log that has one alone
	column map[string]int
}

// newDesign settles the columns for the runs of one car.
func newDesign(runs []*runlog.Run) *design {
	d := &design{days: map[runlog.Day]int{}}
	surfaces, coolings := map[string]int{}, map[string]int{}
	var cells, withCells float64
	for _, r := range runs {
		d.lnRollout += math.Log(float64(r.Rollout()))
		d.lnTire += math.Log(float64(r.Tire))
		if r.Cells > 0 {
			cells += math.Log(float64(r.Cells))
			withCells++
		}
		surfaces[r.Surface]++
		coolings[r.Cooling]++
		d.days[r.Day()] = 0
	}
	n := float64(len(runs))
	d.lnRollout /= n
	d.lnTire /= n
	if withCells > 0 {
		d.lnCells = cells / withCells
	}
	d.surfaces = newLabels(numFixedColumns, surfaces)
	d.coolings = newLabels(numFixedColumns+len(d.surfaces.column), coolings)

	for rank, day := range slices.Sorted(maps.Keys(d.days)) {
		d.days[day] = rank
	}
	return d
}

// newLabels gives the most frequent labels a column each. A single label needs
// none: its effect is the level.
func newLabels(first int, count map[string]int) labels {
	names := slices.SortedFunc(maps.Keys(count), func(a, b string) int {
		return cmp.Or(cmp.Compare(count[b], count[a]), cmp.Compare(a, b))
	})
	if len(names) == 1 {
		return labels{only: names[0]}
	}
	l := labels{column: map[string]int{}}
	for i, name := range names[:min(len(names), maxLabels)] {
		l.column[name] = first + i
	}
	return l
}

// columns returns the number of coefficients.
func (d *design) columns() int {
	return numFixedColumns + len(d.surfaces.column) + len(d.coolings.column)
}

// rowOf fills row with the columns of a run in the log.
func (d *design) rowOf(r *runlog.Run, row []float64) {
	c := ConditionsOf(r)
	d.row(&c, row)
	row[colDrift] = d.drifted(d.days[r.Day()])
}

// driftDays is over how many days of driving a drift is believed to be of the size
// that Prior.Drifts says; over a longer log it is that size in all.
const driftDays = 4

// drifted returns how far the drift has come on the day of a rank, from 0 on the
// log's last day. A log of one day has none.
func (d *design) drifted(rank int) float64 {
	last := len(d.days) - 1
	if last == 0 {
		return 0
	}
	return float64(rank-last) / float64(max(last, driftDays))
}

// driftSpan returns how far the drift has come from the log's first day to its last.
func (d *design) driftSpan() float64 { return -d.drifted(0) }

// row fills row with the columns for a run in conditions c on the day of driving
// after the log's last.
func (d *design) row(c *Conditions, row []float64) {
	clear(row)
	x := math.Log(float64(c.Rollout())) - d.lnRollout
	row[colLevel] = 1
	row[colExponent] = x
	row[colBend] = x * x
	row[colTire] = math.Log(float64(c.Tire)) - d.lnTire
	row[colDrift] = d.drifted(len(d.days))
	if c.Cells > 0 && d.lnCells > 0 {
		row[colCells] = math.Log(float64(c.Cells)) - d.lnCells
	}
	if j, ok := d.surfaces.column[c.Surface]; ok {
		row[j] = 1
	}
	if j, ok := d.coolings.column[c.Cooling]; ok {
		row[j] = 1
	}
}

// unseen returns how many label effects a prediction under label adds in variance:
// none for a known one; its own where others are known; and twice where the log has
// a single label, since that one's own effect is part of the level.
func (l labels) unseen(label string) float64 {
	if len(l.column) == 0 {
		if label == l.only {
			return 0
		}
		return 2
	}
	if _, known := l.column[label]; known {
		return 0
	}
	return 1
}
