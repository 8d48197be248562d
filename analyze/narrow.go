package analyze

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Narrowing returns the spread of ln(rise) that the fit expects of a run under
// target: now, and after one further run under test whose outcome is not yet known.
//
// Both come from the model's own variances. With s the responses' covariance over
// everything the log leaves open (coefficients, day, time constant),
//
//	var(target | test) = var(target) - cov(target, test)² / var(test)
//
// which is exact for one component and linear where they are mixed.
func (f *Fit) Narrowing(target, test Conditions) (now, after float64) {
	p := f.design.columns()
	xv, zv := mat.NewVecDense(p, f.design.next(&target)), mat.NewVecDense(p, f.design.next(&test))

	var meanX, meanZ, xx, zz, xz float64
	for i := range f.components {
		k := &f.components[i]
		var solved mat.VecDense
		_ = k.chol.SolveVecTo(&solved, zv)
		s2, own := k.spread2(), k.dayScatter()
		mx := mat.Dot(xv, k.mean) + math.Log(heating(target.Minutes, k.tau))
		mz := mat.Dot(zv, k.mean) + math.Log(heating(test.Minutes, k.tau))
		xx += k.weight * (mx*mx + s2*(own+k.leverage(xv)))
		zz += k.weight * (mz*mz + s2*(own+k.leverage(zv)))
		xz += k.weight * (mx*mz + s2*mat.Dot(xv, &solved))
		meanX += k.weight * mx
		meanZ += k.weight * mz
	}
	variance := xx - meanX*meanX
	covariance := xz - meanX*meanZ
	left := variance - covariance*covariance/(zz-meanZ*meanZ)
	return math.Sqrt(variance), math.Sqrt(math.Max(0, left))
}

// spread2 returns the variance of a Student t of the component's scale 1: the mean
// of σ². Every prior has the degrees of freedom that it needs to exist.
func (p *posterior) spread2() float64 { return p.rate / (p.shape - 1) }
