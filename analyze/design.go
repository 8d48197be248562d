package analyze

import (
	"cmp"
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
	days                       []runlog.Day // on which the car was driven, in order
}

// labels gives each label of one kind its column, counted from first.
type labels struct {
	only   string // the label of a log that has one alone
	column map[string]int32
}

// newLabels gives the most frequent labels a column each. A single label needs
// none: its effect is the level.
func newLabels(first int, of kinds[string]) labels {
	if len(of.values) == 1 {
		return labels{only: of.values[0]}
	}
	count := of.counts()
	byCount := make([]int, len(count))
	for i := range byCount {
		byCount[i] = i
	}
	slices.SortFunc(byCount, func(a, b int) int {
		return cmp.Or(cmp.Compare(count[b], count[a]), cmp.Compare(of.values[a], of.values[b]))
	})
	l := labels{column: map[string]int32{}}
	for i, label := range byCount[:min(len(byCount), maxLabels)] {
		l.column[of.values[label]] = int32(first + i)
	}
	return l
}

// columnsOf returns the column of every run's label, colLevel for those without one.
func (l labels) columnsOf(of kinds[string]) []int32 {
	column := make([]int32, len(of.values))
	for i, label := range of.values {
		column[i] = l.column[label]
	}
	all := make([]int32, len(of.of))
	for i, label := range of.of {
		all[i] = column[label]
	}
	return all
}

// ranked returns the days in order, and the rank that each run's day has among them.
func ranked(of kinds[runlog.Day]) (rank []int32, days []runlog.Day) {
	days = slices.Sorted(slices.Values(of.values))
	ranks := make([]int32, len(days))
	for i, day := range of.values {
		at, _ := slices.BinarySearch(days, day)
		ranks[i] = int32(at)
	}
	rank = of.of
	for i, day := range rank {
		rank[i] = ranks[day]
	}
	return rank, days
}

// columns returns the number of coefficients.
func (d *design) columns() int {
	return numFixedColumns + len(d.surfaces.column) + len(d.coolings.column)
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

// rankOf returns the rank of a day that the log holds.
func (d *design) rankOf(day runlog.Day) int {
	rank, _ := slices.BinarySearch(d.days, day)
	return rank
}

// next returns the columns of a run in conditions c on the day of driving after the
// log's last.
func (d *design) next(c *Conditions) []float64 { return d.on(c, len(d.days)) }

// on returns the columns of a run in conditions c on the day of a rank.
func (d *design) on(c *Conditions, day int) []float64 {
	r := row{
		rollout: math.Log(float64(c.Rollout())) - d.lnRollout,
		tire:    math.Log(float64(c.Tire)) - d.lnTire,
		drift:   d.drifted(day),
		surface: d.surfaces.column[c.Surface], cooling: d.coolings.column[c.Cooling],
	}
	if c.Cells > 0 && d.lnCells > 0 {
		r.cells = math.Log(float64(c.Cells)) - d.lnCells
	}
	x := make([]float64, d.columns())
	r.fill(x)
	return x
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
