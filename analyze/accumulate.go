package analyze

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// daySums are the sums over the runs of one day.
type daySums struct {
	n float64
	x []float64 // Σ x
	y []float64 // Σ y, one for each time constant
}

// add enters a run.
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
// serves every time constant and every day effect.
type accumulated struct {
	columns  int
	n        float64
	plain    moments
	shares   []dayShare        // one for each day effect
	stopDays map[int32]daySums // the plain runs of the days on which heat stopped others
	jacobian []float64         // Σ ln rise, one for each time constant
	excess   float64           // mean excess of a full run over a heat stop's bound
}

// moments are sums of squares and products.
type moments struct {
	xx []float64 // Σ x xᵀ, columns × columns, its lower triangle
	xy []float64 // Σ x yᵀ, columns × time constants
	yy []float64 // Σ y², one for each time constant
}

func newMoments(columns, taus int) moments {
	return moments{make([]float64, columns*columns), make([]float64, columns*taus), make([]float64, taus)}
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

// bound is a run that heat stopped: its response is at least y.
type bound struct {
	x   []float64
	y   []float64 // one for each time constant
	day int32
}

// accumulate sums up the plain runs, and sets the heat stops apart as bounds. It goes
// day by day, so that no day's sums are kept but those which the bounds need.
func (f *Fit) accumulate(m *measured) (*accumulated, []bound) {
	p, taus := m.columns(), f.Prior.taus()
	a := newAccumulated(p, &f.Prior)
	var bounds []bound
	of := m.responses(taus...)
	x, y, lnRise := make([]float64, p), make([]float64, len(taus)), make([]float64, len(taus))
	d := daySums{x: make([]float64, p), y: make([]float64, len(taus))}
	for day, runs := range m.byDay() {
		d.clear()
		stops := len(bounds)
		for _, i := range runs {
			m.fill(x, int(i))
			of.fill(y, lnRise, int(i))
			floats.Add(a.jacobian, lnRise)
			if m.stoppedByHeat(int(i)) {
				bounds = append(bounds, bound{slices.Clone(x), slices.Clone(y), day})
				continue
			}
			a.plain.add(1, x, y)
			d.add(x, y)
		}
		a.n += d.n
		for s := range a.shares {
			a.shares[s].add(&d)
		}
		if len(bounds) > stops {
			a.stopDays[day] = d.clone()
		}
	}
	return a, bounds
}

func newAccumulated(columns int, prior *Prior) *accumulated {
	taus := len(prior.TimeConstants)
	a := &accumulated{
		columns: columns, plain: newMoments(columns, taus), stopDays: map[int32]daySums{},
		jacobian: make([]float64, taus), excess: prior.HeatStopExcess,
	}
	for _, share := range prior.DayShares {
		a.shares = append(a.shares, dayShare{lambda: share.Value, moments: newMoments(columns, taus)})
	}
	return a
}

// sums returns the regression's sums for a time constant and a day effect.
func (a *accumulated) sums(k, share int) sums {
	p, taus, shared := a.columns, len(a.jacobian), &a.shares[share]
	s := sums{
		xx: mat.NewSymDense(p, nil), xy: mat.NewVecDense(p, nil),
		yy: a.plain.yy[k] - shared.yy[k], n: a.n, logDet: shared.logDet,
	}
	for i := range p {
		for j := range i + 1 {
			s.xx.SetSym(i, j, a.plain.xx[i*p+j]-shared.xx[i*p+j])
		}
		s.xy.SetVec(i, a.plain.xy[i*taus+k]-shared.xy[i*taus+k])
	}
	return s
}
