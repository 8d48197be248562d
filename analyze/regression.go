package analyze

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// The regression is the textbook one with a known variance. With
//
//	y | β ~ N(Xβ, σ²V),   β_j ~ N(m_j, s_j²), one by one
//
// the posterior of β is normal and the evidence p(y) is closed form. X, y and V enter
// through sums over runs alone, so a fit costs one pass over the log whatever its length.
//
// Scatters, time constants, day shares and drifts are averaged over a grid, which takes
// thousands of regressions a fit. Those with the same X and V share one [basis], in which
// each is a few divisions.

// basis holds coordinates γ of the coefficients in which the prior is standard normal
// and the data's precision is diagonal. With S the prior's spreads on a diagonal and
// S XᵀV⁻¹X S = Q D Qᵀ,
//
//	β = m + S Q γ,   γ ~ N(0, 1),   the data add D/σ² to the precision of γ
type basis struct {
	prior     []Belief   // m and s, one for each coefficient
	to        *mat.Dense // Qᵀ S: turns a row x into coordinates
	precision []float64  // the diagonal of D
}

var errNotFinite = errors.New("analyze: a sum over the runs is not finite")

func newBasis(prior []Belief, xx *mat.SymDense) (*basis, error) {
	p := len(prior)
	scaled := mat.NewSymDense(p, nil)
	for i := range p {
		for j := range i + 1 {
			scaled.SetSym(i, j, prior[i].SD*xx.At(i, j)*prior[j].SD)
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(scaled, true) {
		return nil, errNotFinite
	}
	b := &basis{prior: prior, precision: eigen.Values(nil)}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	b.to = mat.DenseCopyOf(vectors.T())
	for j := range p {
		b.precision[j] = math.Max(0, b.precision[j]) // rounding leaves a hair below 0
		for i := range p {
			b.to.Set(i, j, b.to.At(i, j)*prior[j].SD)
		}
	}
	return b, nil
}

// place is where a row x stands in a basis: xᵀβ is center + coordinatesᵀγ.
type place struct {
	center      float64
	coordinates []float64
}

func (b *basis) at(x []float64) place {
	p := place{coordinates: make([]float64, len(x))}
	for j, belief := range b.prior {
		p.center += x[j] * belief.Mean
	}
	mat.NewVecDense(len(x), p.coordinates).MulVec(b.to, mat.NewVecDense(len(x), x))
	return p
}

// pulls are what the response of one world adds to a basis: Qᵀ S XᵀV⁻¹(y - Xm) and the sum of
// squares (y - Xm)ᵀ V⁻¹ (y - Xm).
type pulls struct {
	z      []float64
	square float64
	n      float64
	logDet float64
}

func (b *basis) pulls(data *sums, k int) pulls {
	m := mat.NewVecDense(len(b.prior), nil)
	for j, belief := range b.prior {
		m.SetVec(j, belief.Mean)
	}
	xy := data.xy.ColView(k)
	var xxm, left, z mat.VecDense
	xxm.MulVec(data.xx, m)
	left.SubVec(xy, &xxm)
	z.MulVec(b.to, &left)
	square := data.yy[k] - 2*mat.Dot(m, xy) + mat.Dot(m, &xxm)
	return pulls{z.RawVector().Data, math.Max(0, square), data.n, data.logDet}
}

// posterior is what is believed of the coefficients after data: in the coordinates of
// its basis, normal with these means and variances, each by itself.
type posterior struct {
	basis          *basis
	mean, variance []float64
	logEvidence    float64 // ln p(y), the marginal likelihood
}

// update returns the posterior under a variance σ². In the coordinates of the basis,
//
//	variance_j = 1 / (1 + D_j/σ²),   mean_j = variance_j z_j/σ²
//	ln p(y) = -n/2 ln 2πσ² - ln|V|/2 + Σ ln(variance_j)/2 - (square - Σ mean_j z_j)/2σ²
func (b *basis) update(data pulls, variance float64) posterior {
	p := len(b.prior)
	both := make([]float64, 2*p)
	post := posterior{basis: b, mean: both[:p], variance: both[p:]}
	left, ln := data.square, 0.0
	for j, d := range b.precision {
		v := 1 / (1 + d/variance)
		post.variance[j] = v
		post.mean[j] = v * data.z[j] / variance
		left -= post.mean[j] * data.z[j]
		ln += math.Log(v)
	}
	post.logEvidence = (ln - data.n*math.Log(2*math.Pi*variance) - data.logDet - math.Max(0, left)/variance) / 2
	return post
}

// along returns mean and variance of the linear combination xᵀβ, from where x stands in
// the posterior's basis.
func (p *posterior) along(x place) (mean, variance float64) {
	mean = x.center
	for j, w := range x.coordinates {
		mean += w * p.mean[j]
		variance += w * w * p.variance[j]
	}
	return mean, variance
}

// together returns the covariance of two linear combinations.
func (p *posterior) together(x, z place) float64 {
	sum := 0.0
	for j := range x.coordinates {
		sum += x.coordinates[j] * z.coordinates[j] * p.variance[j]
	}
	return sum
}

// coefficients returns the mean of β itself: m + S Q mean.
func (p *posterior) coefficients() []float64 {
	var beta mat.VecDense
	beta.MulVec(p.basis.to.T(), mat.NewVecDense(len(p.mean), p.mean))
	all := beta.RawVector().Data
	for j, belief := range p.basis.prior {
		all[j] += belief.Mean
	}
	return all
}
