package analyze

import (
	"math"
	"slices"
	"time"

	"regear/analyze/run"
	"regear/analyze/units"
)

// row is what the regression's columns are made of, for one run.
type row struct {
	rollout, tire, cells float64 // natural logarithms, from the log's middles
	air                  float64 // kelvin, from the log's middle
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
	x[colAir] = r.air
	x[colDrift] = r.drift
	x[colLevel], x[r.surface], x[r.cooling] = 1, 1, 1
}

// rows are the runs of one car as the regression's columns take them, and the design
// that these settle.
type rows struct {
	*design
	runs   []*run.Run
	rows   []row
	day    []int // rank among the design's days
	before []before
}

// before is what a run followed.
type before struct {
	run  *run.Run // the car's run before; nil where that lies long ago or no clock time says when
	rest units.Minutes
}

// newRows works out the rows and their design. Others are runs of the car that are left out.
func newRows(runs, others []*run.Run) *rows {
	n := len(runs)
	d := &design{}
	all := &rows{design: d, runs: runs, rows: make([]row, n), day: make([]int, n), before: restsBefore(runs, others)}

	d.lnRollout = middle(runs, func(r *run.Run) (float64, bool) { return math.Log(float64(r.Rollout())), true })
	d.lnTire = middle(runs, func(r *run.Run) (float64, bool) { return math.Log(float64(r.Tire)), true })
	d.lnCells = middle(runs, func(r *run.Run) (float64, bool) { return math.Log(float64(r.Cells)), r.Cells > 0 })
	d.air = units.Celsius(middle(runs, func(r *run.Run) (float64, bool) { return float64(r.Ambient), true }))
	d.knowsCells = slices.ContainsFunc(runs, func(r *run.Run) bool { return r.Cells > 0 })
	surfaces, coolings := make([]string, n), make([]string, n)
	for i, r := range runs {
		surfaces[i], coolings[i] = r.Surface, r.Cooling
		d.days = append(d.days, r.Day())
	}
	d.surfaces = newLabels(numFixedColumns, surfaces)
	d.coolings = newLabels(numFixedColumns+len(d.surfaces.column), coolings)
	slices.Sort(d.days)
	d.days = slices.Compact(d.days)

	for i, r := range runs {
		rank := d.rankOf(r.Day())
		c := ConditionsOf(r)
		all.day[i], all.rows[i] = rank, d.row(&c, rank)
	}
	return all
}

// middle returns the mean of a quantity over the runs that have it, 0 where none has.
func middle(runs []*run.Run, quantity func(*run.Run) (float64, bool)) float64 {
	sum, n := 0.0, 0.0
	for _, r := range runs {
		if q, has := quantity(r); has {
			sum += q
			n++
		}
	}
	return sum / math.Max(n, 1)
}

// longestRest is the rest after which a part counts as cooled to the air: some five of a
// motor's usual time constants.
const longestRest units.Minutes = 30

// restsBefore returns what each run followed within longestRest. A run that followed one
// of others, which are left out, followed nothing.
func restsBefore(runs, others []*run.Run) []before {
	both := slices.Concat(runs, others)
	byTime := make([]int, len(both))
	for i := range byTime {
		byTime[i] = i
	}
	slices.SortStableFunc(byTime, func(i, j int) int { return both[i].When.Compare(both[j].When) })
	all := make([]before, len(runs))
	for k, i := range byTime[min(1, len(both)):] {
		last := byTime[k]
		if i >= len(runs) || last >= len(runs) {
			continue
		}
		if rest, short := restBetween(both[last], both[i]); short {
			all[i] = before{both[last], rest}
		}
	}
	return all
}

// restBetween returns how long the car stood between two runs, and whether the clock tells
// that it was longestRest at most. The date of a run is when it ended, so that
// rest = end - minutes - end of the run before. Clocks are read to the minute, so a rest may
// come out a little below 0.
func restBetween(last, r *run.Run) (rest units.Minutes, short bool) {
	const clock units.Minutes = 2
	rest = units.Minutes(r.When.Sub(last.When)/time.Second)/60 - r.Minutes
	return max(rest, 0), last.HasTime && r.HasTime && rest >= -clock && rest <= longestRest
}
