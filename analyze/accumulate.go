package analyze

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// daySums are the weighted sums over the runs of one day. A run's weight is 1, or less for
// one that heat stopped.
type daySums struct {
	n float64   // Σ weight
	x []float64 // Σ x
	y []float64 // Σ y, one for each world
}

// add enters a plain run.
func (d *daySums) add(x, y []float64) {
	d.n++
	floats.Add(d.x, x)
	floats.Add(d.y, y)
}

func (d *daySums) clear() {
	d.n = 0
	clear(d.x)
	clear(d.y)
}

func (d daySums) clone() daySums {
	return daySums{d.n, slices.Clone(d.x), slices.Clone(d.y)}
}

// accumulated is all that the fits need of the plain runs: one pass over the log
// serves every world and every day effect.
type accumulated struct {
	columns  int
	n        float64
	plain    moments
	shares   []dayShare // one for each day effect
	stopDays []daySums  // the plain runs of the days on which heat stopped others
	jacobian []float64  // Σ ln rise, one for each world
	bounds   []bound
}

// moments are sums of squares and products.
type moments struct {
	xx []float64 // Σ x xᵀ, columns × columns, its lower triangle
	xy []float64 // Σ x yᵀ, columns × worlds
	yy []float64 // Σ y², one for each world
}

func newMoments(columns, worlds int) moments {
	return moments{make([]float64, columns*columns), make([]float64, columns*worlds), make([]float64, worlds)}
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

// dayShare is what a day effect of variance λ (in units of σ²) takes out of the sums,
// from
//
//	V⁻¹ = I - Σ_d λ/(1+λ n_d) 1_d 1_dᵀ,   |V| = Π_d (1+λ n_d)
type dayShare struct {
	lambda float64
	moments
	logDet float64 // ln|V|
}

// add enters a day.
func (s *dayShare) add(d *daySums) {
	if s.lambda == 0 {
		return
	}
	s.moments.add(s.lambda/(1+s.lambda*d.n), d.x, d.y)
	s.logDet += math.Log1p(s.lambda * d.n)
}

// accumulate sums up the plain runs, and sets the heat stops apart as bounds. It goes
// day by day, so that no day's sums are kept but those which the bounds need.
func (f *Fit) accumulate(m *measured, worlds []world) *accumulated {
	p := m.columns()
	a := &accumulated{
		columns: p, plain: newMoments(p, len(worlds)), jacobian: make([]float64, len(worlds)),
	}
	for _, share := range f.Prior.DayShares {
		a.shares = append(a.shares, dayShare{lambda: share.Value, moments: newMoments(p, len(worlds))})
	}
	x, y, lnRise := make([]float64, p), make([]float64, len(worlds)), make([]float64, len(worlds))
	d := daySums{x: make([]float64, p), y: make([]float64, len(worlds))}
	for _, runs := range m.byDay() {
		d.clear()
		stops := len(a.bounds)
		for _, i := range runs {
			m.fill(x, i)
			m.respond(worlds, y, lnRise, i)
			floats.Add(a.jacobian, lnRise)
			if m.stoppedByHeat(i) {
				a.bounds = append(a.bounds, bound{slices.Clone(x), slices.Clone(y), len(a.stopDays)})
				continue
			}
			a.plain.add(1, x, y)
			d.add(x, y)
			a.n++
		}
		for s := range a.shares {
			a.shares[s].add(&d)
		}
		if len(a.bounds) > stops {
			a.stopDays = append(a.stopDays, d.clone())
		}
	}
	return a
}

// sums returns the regression's sums for a world and a day effect, without the bounds.
func (a *accumulated) sums(k, share int) sums {
	p, worlds, shared := a.columns, len(a.jacobian), &a.shares[share]
	s := sums{
		xx: mat.NewSymDense(p, nil), xy: mat.NewVecDense(p, nil),
		yy: a.plain.yy[k] - shared.yy[k], n: a.n, logDet: shared.logDet,
	}
	for i := range p {
		for j := range i + 1 {
			s.xx.SetSym(i, j, a.plain.xx[i*p+j]-shared.xx[i*p+j])
		}
		s.xy.SetVec(i, a.plain.xy[i*worlds+k]-shared.xy[i*worlds+k])
	}
	return s
}
