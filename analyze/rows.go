package analyze

import (
	"math"
	"sync"

	"regear/analyze/runlog"
	"regear/analyze/units"
)

// row is what the regression's columns are made of, for one run.
type row struct {
	rollout, tire, cells float64 // natural logarithms, from the log's middles
	drift                float64
	surface, cooling     int32 // the labels' columns; colLevel for a label without one
}

// fill writes the columns of r to x.
func (r *row) fill(x []float64) {
	clear(x)
	x[colExponent] = r.rollout
	x[colBend] = r.rollout * r.rollout
	x[colTire] = r.tire
	x[colCells] = r.cells
	x[colDrift] = r.drift
	x[colLevel], x[r.surface], x[r.cooling] = 1, 1, 1
}

// rows are the runs of one car as columns of numbers, and the design that these settle.
// The fits go through a log several times for each part, and all that they read of it
// but the temperatures is worked out here, once.
type rows struct {
	*design
	runs                 []*runlog.Run
	rollout, tire, cells []float64 // natural logarithms, from the design's middles
	surface, cooling     []int32   // the labels' columns; colLevel for a label without one
	day                  []int32   // rank among the design's days
	minutes              []units.Minutes
	ambient              []units.Celsius
	stopped              []bool // by heat
}

// newRows works out the columns beside each other.
func newRows(runs []*runlog.Run) *rows {
	d := &design{}
	n := len(runs)
	all := &rows{
		design: d, runs: runs,
		minutes: make([]units.Minutes, n), ambient: make([]units.Celsius, n), stopped: make([]bool, n),
	}
	var surfaces, coolings kinds[string]
	var columns sync.WaitGroup
	columns.Go(func() {
		all.rollout, d.lnRollout = fromMiddle(runs, func(r *runlog.Run) float64 { return float64(r.Gearing.Rollout(r.Tire)) })
	})
	columns.Go(func() {
		all.tire, d.lnTire = fromMiddle(runs, func(r *runlog.Run) float64 { return float64(r.Tire) })
	})
	columns.Go(func() {
		all.cells, d.lnCells = fromMiddle(runs, func(r *runlog.Run) float64 { return float64(r.Cells) })
	})
	columns.Go(func() {
		all.day, d.days = ranked(kindsOf(runs, func(r *runlog.Run) runlog.Day { return runlog.DayOf(r.When) }))
	})
	columns.Go(func() {
		for i, r := range runs {
			all.minutes[i], all.ambient[i], all.stopped[i] = r.Minutes, r.Ambient, r.StoppedByHeat
		}
	})
	columns.Go(func() { surfaces = kindsOf(runs, func(r *runlog.Run) string { return r.Surface }) })
	columns.Go(func() { coolings = kindsOf(runs, func(r *runlog.Run) string { return r.Cooling }) })
	columns.Wait()

	d.surfaces = newLabels(numFixedColumns, surfaces)
	d.coolings = newLabels(numFixedColumns+len(d.surfaces.column), coolings)
	all.surface, all.cooling = d.surfaces.columnsOf(surfaces), d.coolings.columnsOf(coolings)
	return all
}

// row returns one of the rows.
func (all *rows) row(i int32) row {
	return row{
		rollout: all.rollout[i], tire: all.tire[i], cells: all.cells[i], drift: all.drifted(int(all.day[i])),
		surface: all.surface[i], cooling: all.cooling[i],
	}
}

// fromMiddle returns the natural logarithms of a quantity, from their mean. Runs that
// lack the quantity, which is 0 there, stand in the middle.
func fromMiddle(runs []*runlog.Run, quantity func(*runlog.Run) float64) (column []float64, middle float64) {
	column = make([]float64, len(runs))
	lacking := math.Inf(-1)
	sum, n := 0.0, 0
	for i, r := range runs {
		ln := math.Log(quantity(r))
		column[i] = ln
		if ln != lacking {
			sum += ln
			n++
		}
	}
	if n > 0 {
		middle = sum / float64(n)
	}
	for i, ln := range column {
		if column[i] = ln - middle; ln == lacking {
			column[i] = 0
		}
	}
	return column, middle
}

// kinds tells runs apart by something that few of them have to themselves.
type kinds[T comparable] struct {
	values []T     // in the order in which they turn up
	of     []int32 // which of the values each run has
}

func kindsOf[T comparable](runs []*runlog.Run, value func(*runlog.Run) T) kinds[T] {
	k := kinds[T]{of: make([]int32, len(runs))}
	which := map[T]int32{}
	for i, r := range runs {
		v := value(r)
		if i > 0 && v == k.values[k.of[i-1]] {
			k.of[i] = k.of[i-1] // as most runs are like the one before, this spares most of the asking
			continue
		}
		w, known := which[v]
		if !known {
			w = int32(len(k.values))
			which[v] = w
			k.values = append(k.values, v)
		}
		k.of[i] = w
	}
	return k
}

// counts returns how many runs have each value.
func (k kinds[T]) counts() []int {
	n := make([]int, len(k.values))
	for _, w := range k.of {
		n[w]++
	}
	return n
}
