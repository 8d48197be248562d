package analyze

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// moments are sums over runs of a row x of the columns and of the responses y, one for
// each world. All but n carry V⁻¹ in the middle.
type moments struct {
	n      float64   // runs
	xx     []float64 // Σ x xᵀ, columns × columns, its lower triangle
	xy     []float64 // Σ x yᵀ, columns × worlds
	yy     []float64 // Σ y², one for each world
	logDet float64   // ln|V|
}

func newMoments(columns, worlds int) moments {
	return moments{xx: make([]float64, columns*columns), xy: make([]float64, columns*worlds), yy: make([]float64, worlds)}
}

// add enters x and y with a weight. Most columns of most rows are 0: labels, and what
// never changed.
func (m *moments) add(weight float64, x, y []float64) {
	for i, xi := range x {
		if xi == 0 {
			continue
		}
		xi *= weight
		xx := m.xx[i*len(x):][:i+1]
		for j := range xx {
			xx[j] += xi * x[j]
		}
		xy := m.xy[i*len(y):][:len(y)]
		for k := range xy {
			xy[k] += xi * y[k]
		}
	}
	for k, yk := range y {
		m.yy[k] += weight * yk * yk
	}
}

// share takes out what the runs of a day have in common (sign 1), or puts it back (sign
// -1). With a day effect of variance λ, in units of σ²,
//
//	V⁻¹ = I - Σ_d λ/(1+λ n_d) 1_d 1_dᵀ,   |V| = Π_d (1+λ n_d)
func (m *moments) share(d *daySums, lambda, sign float64) {
	if lambda == 0 {
		return
	}
	m.add(-sign*lambda/(1+lambda*d.n), d.x, d.y)
	m.logDet += sign * math.Log1p(lambda*d.n)
}

// plus returns the sums of m and other.
func (m *moments) plus(other *moments) moments {
	add := func(a, b []float64) []float64 { return floats.AddTo(make([]float64, len(a)), a, b) }
	return moments{m.n + other.n, add(m.xx, other.xx), add(m.xy, other.xy), add(m.yy, other.yy), m.logDet + other.logDet}
}

// ofWorlds returns the regression's sums for each world. They share their xx.
func (m *moments) ofWorlds() []sums {
	worlds := len(m.yy)
	columns := len(m.xy) / worlds
	xx := mat.NewSymDense(columns, nil)
	for i := range columns {
		for j := range i + 1 {
			xx.SetSym(i, j, m.xx[i*columns+j])
		}
	}
	all := make([]sums, worlds)
	for k := range all {
		xy := mat.NewVecDense(columns, nil)
		xy.CopyVec(mat.NewDense(columns, worlds, m.xy).ColView(k))
		all[k] = sums{xx: xx, xy: xy, yy: m.yy[k], n: m.n, logDet: m.logDet}
	}
	return all
}

// daySums are the weighted sums over the runs of one day. A run's weight is 1, or less for
// one that heat stopped.
type daySums struct {
	n     float64   // Σ weight
	x     []float64 // Σ x
	y     []float64 // Σ y, one for each world
	stops []heatStop
}

func (d *daySums) add(weight float64, x, y []float64) {
	d.n += weight
	floats.AddScaled(d.x, weight, x)
	floats.AddScaled(d.y, weight, y)
}

// accumulated is all that the fits need of the runs: one pass over the log serves every
// world and every day effect.
type accumulated struct {
	plain     moments // the runs that heat did not stop, as if each had a day of its own
	dayShares []Weighted
	shared    []moments // what days have in common, one for each of the day shares
	stopDays  []daySums // the days on which heat stopped runs
	jacobian  []float64 // Σ ln rise, one for each world
}

// accumulate sums up the plain runs, and sets the heat stops apart.
func (f *Fit) accumulate(m *measured, worlds []world) *accumulated {
	columns, n := m.columns(), len(worlds)
	a := &accumulated{plain: newMoments(columns, n), dayShares: f.Prior.DayShares, jacobian: make([]float64, n)}
	x, y, lnRise := make([]float64, columns), make([]float64, n), make([]float64, n)
	days := make([]daySums, len(m.days))
	for d, both := range slices.Collect(slices.Chunk(make([]float64, len(days)*(columns+n)), columns+n)) {
		days[d].x, days[d].y = both[:columns], both[columns:]
	}
	for i, at := range m.at {
		m.fill(x, i)
		m.respond(worlds, y, lnRise, i)
		floats.Add(a.jacobian, lnRise)
		day := &days[m.day[at]]
		if m.stoppedByHeat(i) {
			day.stops = append(day.stops, heatStop{slices.Clone(x), slices.Clone(y)})
			continue
		}
		a.plain.n++
		a.plain.add(1, x, y)
		day.add(1, x, y)
	}
	for _, share := range a.dayShares {
		shared := newMoments(columns, n)
		for d := range days {
			shared.share(&days[d], share.Value, 1)
		}
		a.shared = append(a.shared, shared)
	}
	a.stopDays = slices.DeleteFunc(days, func(d daySums) bool { return len(d.stops) == 0 })
	return a
}
