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
	surface, cooling     int // the labels' columns; colLevel for a label without one
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

// rows are the runs of one car as the regression's columns take them, and the design that
// follows from them.
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
	d := &design{knowsCells: slices.ContainsFunc(runs, func(r *run.Run) bool { return r.Cells > 0 })}
	d.surfaces = newLabels(numFixedColumns, runs, func(r *run.Run) string { return r.Surface })
	d.coolings = newLabels(numFixedColumns+d.surfaces.columns, runs, func(r *run.Run) string { return r.Cooling })
	n := len(runs)
	all := &rows{design: d, runs: runs, rows: make([]row, n), day: make([]int, n), before: restsBefore(runs, others)}
	for _, r := range runs {
		d.days = append(d.days, r.Day())
	}
	slices.Sort(d.days)
	d.days = slices.Compact(d.days)

	// The middles are not known before every row is.
	var sum row
	withCells := 0.0
	for i, r := range runs {
		c := ConditionsOf(r)
		all.day[i] = d.rankOf(r.Day())
		row := d.row(&c, all.day[i])
		all.rows[i] = row
		sum.rollout += row.rollout
		sum.tire += row.tire
		sum.air += row.air
		if r.Cells > 0 {
			sum.cells += row.cells
			withCells++
		}
	}
	of := float64(n)
	d.lnRollout, d.lnTire, d.air = sum.rollout/of, sum.tire/of, units.Celsius(sum.air/of)
	d.lnCells = sum.cells / math.Max(withCells, 1)
	for i, r := range runs {
		row := &all.rows[i]
		row.rollout -= d.lnRollout
		row.tire -= d.lnTire
		row.air -= float64(d.air)
		if r.Cells > 0 {
			row.cells -= d.lnCells
		}
	}
	return all
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
