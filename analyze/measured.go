package analyze

import (
	"math"

	"regear/analyze/run"
	"regear/analyze/units"
)

// measured are the runs that the fit of one part uses, in the log's order.
type measured struct {
	*rows
	at    []int // which of the rows
	peak  []units.Celsius
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

// measure picks the runs that f can use, and notes why it leaves the others out.
func (f *Fit) measure(all *rows) *measured {
	n := len(all.runs)
	m := &measured{all, make([]int, 0, n), make([]units.Celsius, 0, n), make([]start, 0, n)}
	for i, r := range all.runs {
		if reason, ok := f.usable(r); !ok {
			f.LeftOut = append(f.LeftOut, LeftOut{r.Position, reason})
			continue
		}
		peak, _ := r.Peak.Of(f.Part)
		m.at = append(m.at, i)
		m.peak = append(m.peak, peak)
		m.start = append(m.start, f.startOf(r, all.before[i]))
	}
	return m
}

// startOf returns how warm a part was when a run began.
func (f *Fit) startOf(r *run.Run, before before) start {
	if _, logged := r.Start.Of(f.Part); logged {
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

// run returns the i-th run.
func (m *measured) run(i int) *run.Run { return m.runs[m.at[i]] }

// used returns the runs. Parts that use all of them share one slice.
func (m *measured) used() []*run.Run {
	if len(m.at) == len(m.runs) {
		return m.runs
	}
	all := make([]*run.Run, len(m.at))
	for i := range m.at {
		all[i] = m.run(i)
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

// rise returns how far the i-th run's peak lies above the air.
func (m *measured) rise(i int) units.Rise { return m.peak[i].Above(m.run(i).Ambient) }

// stoppedByHeat reports whether the i-th run's peak is a lower bound.
func (m *measured) stoppedByHeat(i int) bool { return m.run(i).StoppedByHeat }

// fill writes the columns of the i-th run to x.
func (m *measured) fill(x []float64, i int) { m.rows.rows[m.at[i]].fill(x) }

// world is what the response of a run depends on, beside what was read: the part's time
// constant, and the share of its heat that standing leaves.
type world struct{ tau, heatLeft float64 }

// respond writes the i-th run's response in every world to y,
//
//	ln(rise) - ln(1 - exp(-t/τ))
//
// and the ln(rise) in it to lnRise. After a warm start, the rise is what lies above what
// is left of that; where nothing does, the run can't have been in that world, and both are
// infinite or not a number.
func (m *measured) respond(worlds []world, y, lnRise []float64, i int) {
	t := m.run(i).Minutes
	rise, start := float64(m.rise(i)), m.start[i]
	ln := math.Log(rise)
	for k, w := range worlds {
		lnRise[k] = ln
		if start.rise != 0 {
			lnRise[k] = math.Log(rise - start.left(t, w.tau, w.heatLeft))
		}
		y[k] = lnRise[k] - math.Log(Heating(t, w.tau))
	}
}
