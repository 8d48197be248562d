package analyze

import "math"

// Narrowing returns the spread of ln(rise) that the fit expects of a run under
// target: now, and after one further run under test whose outcome is not yet known. Both
// start at the air's temperature.
//
// With variance and covariance over everything the log leaves open (coefficients, day, time
// constant, scatter),
//
//	var(target | test) = var(target) - cov(target, test)² / var(test)
//
// which is exact for one component and linear where they are mixed.
func (f *Fit) Narrowing(target, test Conditions) (now, after float64) {
	atTarget, atTest := f.places(f.design.next(&target)), f.places(f.design.next(&test))
	var meanX, meanZ, xx, zz, xz float64
	for i := range f.components {
		k := &f.components[i]
		x, z := atTarget[k.base], atTest[k.base]
		mx, vx := k.along(x.center, x.coordinates)
		mz, vz := k.along(z.center, z.coordinates)
		mx += math.Log(Heating(target.Minutes, k.tau))
		mz += math.Log(Heating(test.Minutes, k.tau))
		xx += k.weight * (mx*mx + vx + k.ofNewDay())
		zz += k.weight * (mz*mz + vz + k.ofNewDay())
		xz += k.weight * (mx*mz + k.together(x.coordinates, z.coordinates))
		meanX += k.weight * mx
		meanZ += k.weight * mz
	}
	variance := xx - meanX*meanX
	covariance := xz - meanX*meanZ
	left := variance - covariance*covariance/(zz-meanZ*meanZ)
	return math.Sqrt(variance), math.Sqrt(math.Max(0, left))
}
