package analyze

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Sums are taken up to maxSummedDF degrees of freedom, beyond which they are no longer
// the faster way, and to maxSummedT, beyond which their rounding shows in the tail.
const maxSummedDF, maxSummedT = 200, 8

// studentCDF returns the probability that a Student t of df degrees of freedom is at
// most t. A mixture asks for it thousands of times and its df are whole numbers, for
// which the sums of Abramowitz and Stegun 26.7.3 and 26.7.4 (from memory) take a
// fraction of the time of an incomplete beta function: with θ = atan(t/√df),
//
//	even: A = sin θ (1 + 1/2 cos²θ + (1·3)/(2·4) cos⁴θ + … up to cos^(df-2) θ)
//	odd:  A = 2/π (θ + sin θ (cos θ + 2/3 cos³θ + (2·4)/(3·5) cos⁵θ + …))
//
// and P = (1 + A)/2. The error is absolute, some 1e-15. All else goes to gonum.
func studentCDF(t, df float64) float64 {
	if df != math.Trunc(df) || df > maxSummedDF || math.Abs(t) > maxSummedT {
		return distuv.StudentsT{Sigma: 1, Nu: df}.CDF(t)
	}
	n := int(df)
	square, sin := df/(df+t*t), t/math.Sqrt(df+t*t) // cos²θ, sin θ
	first, term := 2, 1.0
	if n%2 == 1 {
		first, term = 3, math.Sqrt(square)
	}
	sum := 0.0
	for k := first; k <= n; k += 2 {
		sum += term
		term *= square * float64(k-1) / float64(k)
	}
	if n%2 == 0 {
		return (1 + sin*sum) / 2
	}
	return 0.5 + (math.Atan(t/math.Sqrt(df))+sin*sum)/math.Pi
}
