package analyze

import (
	"math"
	"slices"
	"time"

	"regear/analyze/run"
	"regear/analyze/units"
)

type row struct {
	rollout, tire, cells float64 // natural logarithms, from the log's middles
	air                  float64 // kelvin, from the log's middle
	drift                float64
	surface, cooling     int // the labels' columns; colLevel for a label without one
	minutes              units.Minutes
	stoppedByHeat        bool
}

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

// newRows works out the rows and their design. The fits leave out others.
func newRows(runs, others []*run.Run) *rows {
	d := &design{knowsCells: slices.ContainsFunc(runs, func(r *run.Run) bool { return r.Cells > 0 })}
	d.surfaces = newLabels(numFixedColumns, runs, func(r *run.Run) string { return r.Surface })
	d.coolings = newLabels(numFixedColumns+d.surfaces.columns, runs, func(r *run.Run) string { return r.Cooling })
	n := len(runs)
	all := &rows{design: d, runs: runs, rows: make([]row, n), day: make([]int, n), before: restsBefore(runs, others)}
	days := make([]run.Day, n)
	for i, r := range runs {
		days[i] = run.DayOf(r.When)
	}
	d.days = slices.Compact(slices.Sorted(slices.Values(days)))

	// The middles are not known before every row is.
	var sum row
	withCells := 0.0
	for i, r := range runs {
		c := ConditionsOf(r)
		all.day[i] = d.rankOf(days[i])
		row := d.row(&c, all.day[i])
		row.minutes, row.stoppedByHeat = r.Minutes, r.StoppedByHeat
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

// measured are the runs that the fit of one part uses, in the log's order.
type measured struct {
	*rows
	at    []int // which of the rows
	peak  []units.Celsius
	rise  []units.Rise // above the air
	start []start
}

// start is how warm a part was when a run began: as logged, or as the run before and the
// rest after it suggest.
type start struct {
	rise units.Rise // above the air: at the start; or after the run before, if followed
	// followed is true where no start was logged and the car had just run; rest is how
	// long it stood.
	followed bool
	rest     units.Minutes
}

// left returns what is left of the start's heat at the end of a run of t minutes, of a
// part with time constant τ that keeps a share of its heat while the car stands:
//
//	(start - air) exp(-t/τ),   start - air = share (peak before - air) exp(-rest/τ)
func (s start) left(t units.Minutes, tau, share float64) float64 {
	if s.followed {
		return share * leftOf(s.rise, s.rest+t, tau)
	}
	return leftOf(s.rise, t, tau)
}

// measure picks the runs that f can use, notes their rollouts, and why it leaves the others out.
func (f *Fit) measure(all *rows) *measured {
	n := len(all.runs)
	m := &measured{all, make([]int, 0, n), make([]units.Celsius, 0, n), make([]units.Rise, 0, n), make([]start, 0, n)}
	for i, r := range all.runs {
		peak, read := r.Peak.Of(f.Part)
		if !read {
			f.LeftOut = append(f.LeftOut, LeftOut{r.Position, NotMeasured})
			continue
		}
		rise, start := peak.Above(r.Ambient), startRise(r, f.Part)
		if slices.ContainsFunc(f.Prior.TimeConstants, func(tau Weighted) bool {
			return float64(rise)-leftOf(start, r.Minutes, tau.Value) <= 0
		}) {
			f.LeftOut = append(f.LeftOut, LeftOut{r.Position, NoRise})
			continue
		}
		f.Tested.include(r.Rollout())
		m.at = append(m.at, i)
		m.peak = append(m.peak, peak)
		m.rise = append(m.rise, rise)
		m.start = append(m.start, f.startOf(r, all.before[i]))
	}
	return m
}

// startOf returns how warm a part was when a run began.
func (f *Fit) startOf(r *run.Run, before before) start {
	if r.Start.Has(f.Part) {
		return start{rise: startRise(r, f.Part)}
	}
	if before.run == nil || len(f.Prior.HeatLeft) == 1 {
		return start{}
	}
	peak, read := before.run.Peak.Of(f.Part)
	if rise := peak.Above(r.Ambient); read && rise > 0 {
		return start{rise: rise, followed: true, rest: before.rest}
	}
	return start{}
}

// startRise returns how far above the air a part was logged to be when the run started.
func startRise(r *run.Run, part run.Part) units.Rise {
	start, ok := r.Start.Of(part)
	if !ok {
		return 0
	}
	return start.Above(r.Ambient)
}

// used returns the runs. Parts that use all of them share one slice.
func (m *measured) used() []*run.Run {
	if len(m.at) == len(m.runs) {
		return m.runs
	}
	all := make([]*run.Run, len(m.at))
	for i := range m.at {
		all[i] = m.runs[m.at[i]]
	}
	return all
}

// warmStart is how far above the air a part has to start for the driver to be told.
const warmStart units.Rise = 5

// warmStarts returns how many runs began noticeably warm from the run before, without a
// start reading, if all of the heat that standing leaves was left.
func (m *measured) warmStarts(tau float64) int {
	n := 0
	for _, s := range m.start {
		if s.followed && s.left(0, tau, 1) > float64(warmStart) {
			n++
		}
	}
	return n
}

func (m *measured) row(i int) *row { return &m.rows.rows[m.at[i]] }

// world is what the response of a run depends on, beside what was read: the part's time
// constant, and the share of its heat that standing leaves.
type world struct{ tau, heatLeft float64 }

// respond writes the i-th run's response in every world to y,
//
//	ln(rise) - ln(1 - exp(-t/τ))
//
// and adds the ln(rise) in it to jacobian. After a warm start, the rise is what lies above what
// is left of that; where nothing does, the run can't have been in that world, and both are
// infinite or not a number.
func (m *measured) respond(worlds []world, y, jacobian []float64, i int) {
	t, rise, start := m.row(i).minutes, float64(m.rise[i]), m.start[i]
	ln := math.Log(rise)
	for k, w := range worlds {
		if start.rise != 0 {
			ln = math.Log(rise - start.left(t, w.tau, w.heatLeft))
		}
		jacobian[k] += ln
		y[k] = ln - math.Log(Heating(t, w.tau))
	}
}
