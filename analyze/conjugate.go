package analyze

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// The regression below is the conjugate one: with y | β, σ² ~ N(Xβ, σ²V) and
//
//	β | σ² ~ N(m, σ² Λ⁻¹),   σ² ~ InverseGamma(a, b)
//
// the posterior has the same form, and everything asked of it is closed form.
// X, y and V enter through sums over runs alone, so a fit costs one pass over the
// log and a solve of the size of β.

// sums are the sums over runs that the regression needs, each taken with V⁻¹ in
// the middle: XᵀV⁻¹X, XᵀV⁻¹y, yᵀV⁻¹y, the number of runs and ln|V|.
type sums struct {
	xx     *mat.SymDense
	xy     *mat.VecDense
	yy     float64
	n      float64
	logDet float64
}

// normalInverseGamma is a joint distribution of coefficients and variance, with
// the coefficients' precision Λ in units of 1/σ².
type normalInverseGamma struct {
	mean      *mat.VecDense
	precision *mat.SymDense
	shape     float64 // a
	rate      float64 // b
}

// posterior is a normalInverseGamma that has seen data, ready to be asked.
type posterior struct {
	normalInverseGamma
	chol        mat.Cholesky
	logEvidence float64 // ln p(y), the marginal likelihood
}

// errSingular reports that neither data nor prior determine every coefficient.
var errSingular = errors.New("analyze: the data do not determine every coefficient")

// update returns the posterior after data:
//
//	Λn = Λ + XᵀV⁻¹X
//	mn = Λn⁻¹ (Λm + XᵀV⁻¹y)
//	an = a + n/2
//	bn = b + (yᵀV⁻¹y + mᵀΛm - mnᵀΛn mn) / 2
//	ln p(y) = -n/2 ln 2π - ln|V|/2 + (ln|Λ| - ln|Λn|)/2
//	          + a ln b - an ln bn + lnΓ(an) - lnΓ(a)
//
// An improper prior (Λ singular, a <= 0 or b = 0) gives a proper posterior where
// the data suffice, and a logEvidence of NaN, for it has none.
func (prior normalInverseGamma) update(data sums) (*posterior, error) {
	p := prior.mean.Len()
	post := &posterior{normalInverseGamma: normalInverseGamma{
		mean:      mat.NewVecDense(p, nil),
		precision: mat.NewSymDense(p, nil),
		shape:     prior.shape + data.n/2,
	}}
	post.precision.AddSym(prior.precision, data.xx)
	if ok := post.chol.Factorize(post.precision); !ok {
		return nil, errSingular
	}
	var pull mat.VecDense
	pull.MulVec(prior.precision, prior.mean)
	priorSquare := mat.Dot(prior.mean, &pull)
	pull.AddVec(&pull, data.xy)
	if err := post.chol.SolveVecTo(post.mean, &pull); err != nil {
		return nil, fmt.Errorf("%w: %v", errSingular, err)
	}
	// Rounding can push a perfect fit's sum of squares a hair below 0.
	post.rate = prior.rate + math.Max(0, data.yy+priorSquare-mat.Dot(post.mean, &pull))/2

	lgPost, _ := math.Lgamma(post.shape)
	lgPrior, _ := math.Lgamma(prior.shape)
	var priorChol mat.Cholesky
	logDetPrior := math.NaN()
	if priorChol.Factorize(prior.precision) {
		logDetPrior = priorChol.LogDet()
	}
	post.logEvidence = -data.n/2*math.Log(2*math.Pi) - data.logDet/2 +
		(logDetPrior-post.chol.LogDet())/2 +
		prior.shape*math.Log(prior.rate) - post.shape*math.Log(post.rate) +
		lgPost - lgPrior
	return post, nil
}

// df returns the degrees of freedom of every Student t that the posterior gives: 2a.
func (p *posterior) df() float64 { return 2 * p.shape }

// variance returns the posterior's scale of σ², b/a.
func (p *posterior) variance() float64 { return p.rate / p.shape }

// along returns where the linear combination xᵀβ lies, as location and scale² of
// a Student t with df degrees of freedom:
//
//	location = xᵀm,   scale² = b/a · xᵀΛ⁻¹x
func (p *posterior) along(x []float64) (location, scale2 float64) {
	v := mat.NewVecDense(len(x), x)
	return mat.Dot(v, p.mean), p.variance() * p.leverage(v)
}

// leverage returns xᵀΛ⁻¹x, the variance of xᵀβ in units of σ².
func (p *posterior) leverage(x *mat.VecDense) float64 {
	var solved mat.VecDense
	// A Condition error still fills the answer, and update has refused the singular.
	_ = p.chol.SolveVecTo(&solved, x)
	return mat.Dot(x, &solved)
}
