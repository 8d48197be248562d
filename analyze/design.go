package analyze

import (
	"cmp"
	"math"
	"slices"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// Conditions are the circumstances of a run that heat depends on.
type Conditions struct {
	Gearing drivetrain.Gearing
	Tire    units.Millimeters // outer diameter
	Ambient units.Celsius
	Minutes units.Minutes
	Start   run.Readings // absent: starts at ambient
	Cells   int          // 0: the log's usual
	// Setup labels. A label that the log never saw is predicted with the spread
	// that such labels have.
	Surface, Cooling string
}

// ConditionsOf returns the circumstances in which r was driven, its start readings included.
func ConditionsOf(r *run.Run) Conditions {
	return Conditions{
		Gearing: r.Gearing, Tire: r.Tire, Ambient: r.Ambient, Minutes: r.Minutes,
		Start: r.Start, Cells: r.Cells, Surface: r.Surface, Cooling: r.Cooling,
	}
}

// Rollout returns the distance that the car rolls in one turn of the motor.
func (c Conditions) Rollout() units.Millimeters { return c.Gearing.Rollout(c.Tire) }

// Columns of the design matrix. Labels follow, a column each.
const (
	colLevel = iota
	colExponent
	colBend
	colTire
	colCells
	colAir
	colDrift
	numFixedColumns
)

// maxLabels bounds the columns that a log can add. Rarer labels share the log's
// level, which is what they would shrink to with their few runs.
const maxLabels = 12

// design turns conditions into the regression's columns. Every column is centred on
// the log's middle, so that a column without evidence is all zeros and leaves its
// coefficient at the prior.
type design struct {
	lnRollout, lnTire, lnCells float64       // the geometric middles
	air                        units.Celsius // the middle
	knowsCells                 bool          // whether any run says its cells
	surfaces, coolings         labels
	days                       []run.Day // on which the car was driven, in order
}

// labels gives each label of one kind its column. Labels that differ in letter case or
// blanks are one.
type labels struct {
	known   []string          // as first written, in the order of the log
	columns int               // 0 for a log of one label, whose effect is the level
	by      map[string]*label // by the label as first written, which is quick, and by [run.Fold] of it
}

// label is how many runs have a label, and its column: colLevel for one without.
type label struct{ runs, column int }

// newLabels gives the most frequent labels a column each, counted from first.
func newLabels(first int, runs []*run.Run, of func(*run.Run) string) labels {
	l := labels{by: map[string]*label{}}
	for _, r := range runs {
		written := of(r)
		found := l.find(written)
		if found == nil {
			found = &label{}
			l.known = append(l.known, written)
			l.by[written], l.by[run.Fold(written)] = found, found
		}
		found.runs++
	}
	if len(l.known) == 1 {
		return l
	}
	byCount := slices.Clone(l.known)
	slices.SortFunc(byCount, func(a, b string) int {
		return cmp.Or(cmp.Compare(l.by[b].runs, l.by[a].runs), cmp.Compare(a, b))
	})
	l.columns = min(len(byCount), maxLabels)
	for i, written := range byCount[:l.columns] {
		l.by[written].column = first + i
	}
	return l
}

// find returns a label in any spelling, or nil.
func (l labels) find(written string) *label {
	if found := l.by[written]; found != nil {
		return found
	}
	return l.by[run.Fold(written)]
}

// of returns the column of a label: colLevel for one without.
func (l labels) of(written string) int {
	if found := l.find(written); found != nil {
		return found.column
	}
	return colLevel
}

func (l labels) knows(written string) bool { return l.find(written) != nil }

func (d *design) columns() int { return numFixedColumns + d.surfaces.columns + d.coolings.columns }

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

func (d *design) rankOf(day run.Day) int {
	rank, _ := slices.BinarySearch(d.days, day)
	return rank
}

// next returns the columns of a run in conditions c on the day of driving after the
// log's last.
func (d *design) next(c *Conditions) []float64 { return d.on(c, len(d.days)) }

// on returns the columns of a run in conditions c on the day of a rank.
func (d *design) on(c *Conditions, day int) []float64 {
	x := make([]float64, d.columns())
	r := d.row(c, day)
	r.fill(x)
	return x
}

func (d *design) row(c *Conditions, day int) row {
	r := row{
		rollout: math.Log(float64(c.Rollout())) - d.lnRollout,
		tire:    math.Log(float64(c.Tire)) - d.lnTire,
		air:     float64(c.Ambient - d.air),
		drift:   d.drifted(day),
		surface: d.surfaces.of(c.Surface), cooling: d.coolings.of(c.Cooling),
	}
	if c.Cells > 0 && d.knowsCells {
		r.cells = math.Log(float64(c.Cells)) - d.lnCells
	}
	return r
}

// unseen returns how many label effects a prediction under label adds in variance: none for
// a known one; one for a label among others that are known; and two where the log has a
// single label, since the effect of that one is part of the level.
func (l labels) unseen(label string) float64 {
	one := len(l.known) == 1
	switch {
	case one && l.knows(label), l.of(label) != colLevel:
		return 0
	case one:
		return 2
	}
	return 1
}
