package analyze

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"regear/analyze/runlog"
)

// daySums are the sums over the runs of one day. Runs carry a weight, 1 for a
// plain run; a heat stop enters with the weight that its bound is worth.
type daySums struct {
	n float64   // Σ w
	x []float64 // Σ w x
	y []float64 // Σ w y, one for each time constant
}

// accumulated is all that the fits need of the plain runs: one pass over the log
// serves every time constant and every day effect.
type accumulated struct {
	columns  int
	n        float64
	xx       []float64   // Σ x xᵀ, columns × columns
	xy       [][]float64 // Σ x y, one for each time constant
	yy       []float64   // Σ y², one for each time constant
	days     []daySums
	jacobian []float64 // Σ ln rise, one for each time constant
	excess   float64   // mean excess of a full run over a heat stop's bound
}

// bound is a run that heat stopped: its response is at least y.
type bound struct {
	x   []float64
	y   []float64 // one for each time constant
	day int
}

// accumulate sums up the plain runs, and sets the heat stops apart as bounds.
func (f *Fit) accumulate(runs []*runlog.Run) (*accumulated, []bound) {
	p, taus := f.design.columns(), f.Prior.TimeConstants
	a := &accumulated{
		columns: p,
		xx:      make([]float64, p*p), xy: make([][]float64, len(taus)),
		yy: make([]float64, len(taus)), jacobian: make([]float64, len(taus)),
		days: make([]daySums, len(f.design.days)), excess: f.Prior.HeatStopExcess,
	}
	for k := range taus {
		a.xy[k] = make([]float64, p)
	}
	for i := range a.days {
		a.days[i] = daySums{x: make([]float64, p), y: make([]float64, len(taus))}
	}
	var bounds []bound
	x, y := make([]float64, p), make([]float64, len(taus))
	for _, r := range runs {
		f.design.rowOf(r, x)
		day := f.design.days[r.Day()]
		if r.StoppedByHeat {
			b := bound{x: make([]float64, p), y: make([]float64, len(taus)), day: day}
			copy(b.x, x)
			f.responses(r, b.y, a.jacobian)
			bounds = append(bounds, b)
			continue
		}
		f.responses(r, y, a.jacobian)
		a.n++
		for i, xi := range x {
			if xi == 0 {
				continue
			}
			for j, xj := range x[:i+1] {
				a.xx[i*p+j] += xi * xj
			}
		}
		for k, yk := range y {
			a.yy[k] += yk * yk
			for j, xj := range x {
				a.xy[k][j] += xj * yk
			}
		}
		a.days[day].add(1, x, y)
	}
	return a, bounds
}

// add enters one run of weight w.
func (d *daySums) add(w float64, x, y []float64) {
	d.n += w
	for j, xj := range x {
		d.x[j] += w * xj
	}
	for k, yk := range y {
		d.y[k] += w * yk
	}
}

// responses fills y with ln(rise) - ln(1 - exp(-t/τ)) of a run for every time
// constant, and adds ln(rise) to jacobian: peaks are what was observed, and
// dy/dpeak = 1/rise differs between time constants after a warm start.
func (f *Fit) responses(r *runlog.Run, y, jacobian []float64) {
	peak, _ := r.Peak.Of(f.Part)
	rise := float64(peak.Above(r.Ambient))
	lnRise := math.Log(rise)
	start, warm := r.Start.Of(f.Part)
	for k, tau := range f.Prior.TimeConstants {
		left := math.Exp(-float64(r.Minutes) / tau.Value)
		ln := lnRise
		if warm {
			ln = math.Log(rise - float64(start.Above(r.Ambient))*left)
		}
		y[k] = ln - math.Log1p(-left)
		jacobian[k] += ln
	}
}

// sums returns the regression's sums for the time constant k under a day effect
// of variance λ (in units of σ²), from
//
//	V⁻¹ = I - Σ_d λ/(1+λ n_d) 1_d 1_dᵀ,   |V| = Π_d (1+λ n_d)
func (a *accumulated) sums(k int, lambda float64) sums {
	p := a.columns
	s := sums{xx: mat.NewSymDense(p, nil), xy: mat.NewVecDense(p, nil), yy: a.yy[k], n: a.n}
	for i := range p {
		for j := range i + 1 {
			s.xx.SetSym(i, j, a.xx[i*p+j])
		}
		s.xy.SetVec(i, a.xy[k][i])
	}
	for i := range a.days {
		s.shareDay(&a.days[i], k, lambda, 1)
	}
	return s
}

// shareDay takes the day's common part out of the sums (sign 1), or puts it back
// (sign -1).
func (s *sums) shareDay(d *daySums, k int, lambda, sign float64) {
	if lambda == 0 || d.n == 0 {
		return
	}
	c := sign * lambda / (1 + lambda*d.n)
	x := mat.NewVecDense(len(d.x), d.x)
	s.xx.SymRankOne(s.xx, -c, x)
	s.xy.AddScaledVec(s.xy, -c*d.y[k], x)
	s.yy -= c * d.y[k] * d.y[k]
	s.logDet += sign * math.Log1p(lambda*d.n)
}

// response returns one run's ln(rise) - ln(1 - exp(-t/τ)).
func (f *Fit) response(r *runlog.Run, tau float64) float64 {
	peak, _ := r.Peak.Of(f.Part)
	c := ConditionsOf(r)
	rise := float64(peak.Above(r.Ambient) - carried(&c, f.Part, tau))
	return math.Log(rise) - math.Log(heating(r.Minutes, tau))
}
