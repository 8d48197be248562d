package analyze

import (
	"iter"
	"math"
	"math/bits"

	"regear/analyze/runlog"
	"regear/analyze/units"
)

// measured are the runs that the fit of one part uses, in the log's order: what was
// read of the part, and where the rest stands.
type measured struct {
	*rows
	at    []int32 // which of the rows
	peak  []units.Celsius
	start []units.Rise // above the air; 0 for a part that started at ambient
	// residual is that of ln(rise), once there is a fit.
	residual []float64
}

// measure picks the runs that f can use, and notes why it leaves the others out.
func (f *Fit) measure(all *rows) *measured {
	n := len(all.runs)
	m := &measured{rows: all, at: make([]int32, 0, n), peak: make([]units.Celsius, 0, n), start: make([]units.Rise, 0, n)}
	for i, r := range all.runs {
		if reason, ok := f.usable(r); !ok {
			f.LeftOut = append(f.LeftOut, LeftOut{r.Position, reason})
			continue
		}
		peak, _ := r.Peak.Of(f.Part)
		m.at = append(m.at, int32(i))
		m.peak = append(m.peak, peak)
		m.start = append(m.start, startRise(r, f.Part))
	}
	return m
}

// startRise returns how far above the air a part was when the run started.
func startRise(r *runlog.Run, part runlog.Part) units.Rise {
	start, ok := r.Start.Of(part)
	if !ok {
		return 0
	}
	return start.Above(r.Ambient)
}

// used returns the runs. Parts that use all of them share one slice.
func (m *measured) used() []*runlog.Run {
	if len(m.at) == len(m.runs) {
		return m.runs
	}
	all := make([]*runlog.Run, len(m.at))
	for i, at := range m.at {
		all[i] = m.runs[at]
	}
	return all
}

// extremes returns the runs in which a column is smallest and largest.
func (m *measured) extremes(column []float64) (smallest, largest *runlog.Run) {
	low, high := m.at[0], m.at[0]
	for _, at := range m.at {
		if column[at] < column[low] {
			low = at
		}
		if column[at] > column[high] {
			high = at
		}
	}
	return m.runs[low], m.runs[high]
}

// longest returns the length of the longest run.
func (m *measured) longest() units.Minutes {
	longest := units.Minutes(0)
	for _, at := range m.at {
		longest = max(longest, m.minutes[at])
	}
	return longest
}

// rise returns how far the i-th run's peak lies above the air.
func (m *measured) rise(i int) units.Rise { return m.peak[i].Above(m.ambient[m.at[i]]) }

// stoppedByHeat reports whether the i-th run's peak is a lower bound.
func (m *measured) stoppedByHeat(i int) bool { return m.stopped[m.at[i]] }

// fill writes the columns of the i-th run to x.
func (m *measured) fill(x []float64, i int) {
	r := m.row(m.at[i])
	r.fill(x)
}

// byDay yields the runs of one day after the other, those of a day in the log's order.
func (m *measured) byDay() iter.Seq2[int32, []int32] {
	return func(yield func(int32, []int32) bool) {
		end := make([]int32, len(m.days)+1) // at first, where each day's runs begin
		for _, at := range m.at {
			end[m.day[at]+1]++
		}
		for day := range m.days {
			end[day+1] += end[day]
		}
		runs := make([]int32, len(m.at))
		for i, at := range m.at {
			day := m.day[at]
			runs[end[day]] = int32(i)
			end[day]++
		}
		begin := int32(0)
		for day, end := range end[:len(m.days)] {
			if end > begin && !yield(int32(day), runs[begin:end]) {
				return
			}
			begin = end
		}
	}
}

// responses are what the regression explains, ln(rise) - ln(1 - exp(-t/τ)), for each of
// some time constants.
type responses struct {
	runs *measured
	taus []float64
	// Runs are many and their lengths few, so what was worked out for a length is kept:
	// that of minutes[slot] in lnReached, from slot·len(taus) on, until another length
	// takes the slot.
	minutes   []units.Minutes
	lnReached []float64
	shift     int // from 64 digits to those of a slot
}

func (m *measured) responses(taus ...float64) *responses {
	const most = 14 // digits: 16384 slots, so that few of a log's lengths meet in one
	digits := min(bits.Len(uint(len(m.at))), most)
	return &responses{
		runs: m, taus: taus,
		minutes: make([]units.Minutes, 1<<digits), lnReached: make([]float64, len(taus)<<digits), shift: 64 - digits,
	}
}

// reached returns ln(1 - exp(-t/τ)) for every time constant.
func (r *responses) reached(t units.Minutes) []float64 {
	// Fibonacci hashing (Knuth, The Art of Computer Programming 3, 6.4, from memory).
	const golden = 0x9e3779b97f4a7c15
	slot := math.Float64bits(float64(t)) * golden >> r.shift
	ln := r.lnReached[int(slot)*len(r.taus):][:len(r.taus)]
	if r.minutes[slot] != t {
		r.minutes[slot] = t
		for k, tau := range r.taus {
			ln[k] = math.Log1p(-math.Exp(-float64(t) / tau))
		}
	}
	return ln
}

// fill writes the i-th run's responses to y and the ln(rise) in them to lnRise. After a
// warm start, the rise is what lies above what is left of that.
func (r *responses) fill(y, lnRise []float64, i int) {
	t := r.runs.minutes[r.runs.at[i]]
	reached := r.reached(t)
	rise, start := float64(r.runs.rise(i)), float64(r.runs.start[i])
	cold := math.Log(rise)
	for k, tau := range r.taus {
		lnRise[k] = cold
		if start != 0 {
			lnRise[k] = math.Log(rise - leftOf(start, t, tau))
		}
		y[k] = lnRise[k] - reached[k]
	}
}
