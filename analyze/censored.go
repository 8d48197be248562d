package analyze

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// A run that heat stopped says that its response is at least y: the driver eased off
// or the cut-off cut in, so a full run would have gone higher, though hardly twice as
// high. The excess is believed to be exponential of rate r, so that with f the run's
// expected response the likelihood is
//
//	∫ N(y+δ; f, σ²) r exp(-rδ) dδ = r exp(r(y-f) + r²σ²/2) Φ((f - y - rσ²)/σ)
//
// Its first factor is linear in f and only shifts f's distribution; the second is not
// conjugate. The whole is replaced by the normal factor on f that moves mean and
// variance of f as the exact one does, each in the company of all the others
// (expectation propagation; Minka 2001, from memory). A bound far below what the other
// runs predict adds next to nothing; a bound above them pulls.

// site is the normal factor that stands for a bound: one observation at y of
// weight w, its precision in units of 1/σ².
type site struct{ y, w float64 }

const (
	maxSweeps     = 30
	sweepsSettled = 1e-6 // change of a site's weight that ends the sweeps
)

// posterior returns the posterior for time constant k and day effect λ, and the
// logarithm of how well the pair explains the log.
func (a *accumulated) posterior(prior normalInverseGamma, k int, lambda float64, bounds []bound) (*posterior, float64, error) {
	plain := a.sums(k, lambda)
	post, err := prior.update(plain)
	if err != nil || len(bounds) == 0 {
		return post, post.evidence(), err
	}
	logEvidence := post.logEvidence
	e := newExpectation(a, prior, plain, k, lambda)
	sites := make([]site, len(bounds))
	for sweep := range maxSweeps {
		change := 0.0
		for i := range bounds {
			was := sites[i]
			logZ, err := e.refine(&sites[i], &bounds[i])
			if err != nil {
				return nil, 0, err
			}
			// In the first sweep each bound is met knowing only those before it, so the
			// chances multiply to the chance of all.
			if sweep == 0 {
				logEvidence += logZ
			}
			change = max(change, math.Abs(sites[i].w-was.w))
		}
		if change < sweepsSettled {
			break
		}
	}
	post, err = e.posterior()
	return post, logEvidence, err
}

// evidence returns the log evidence, or NaN of no posterior.
func (p *posterior) evidence() float64 {
	if p == nil {
		return math.NaN()
	}
	return p.logEvidence
}

// expectation holds the sums with the present sites in them.
type expectation struct {
	prior  normalInverseGamma
	plain  sums // without sites
	all    sums // with sites
	days   []daySums
	k      int
	lambda float64
	rate   float64 // of the excess of a full run over its bound
}

func newExpectation(a *accumulated, prior normalInverseGamma, plain sums, k int, lambda float64) *expectation {
	e := &expectation{prior: prior, plain: plain, all: plain, k: k, lambda: lambda, rate: 1 / a.excess}
	e.all.xx = mat.NewSymDense(a.columns, nil)
	e.all.xx.CopySym(plain.xx)
	e.all.xy = mat.VecDenseCopyOf(plain.xy)
	e.days = make([]daySums, len(a.days))
	for i, d := range a.days {
		e.days[i] = daySums{n: d.n, x: slices.Clone(d.x), y: slices.Clone(d.y)}
	}
	return e
}

// enter adds a site to the sums, or with sign -1 takes it out.
func (e *expectation) enter(s site, b *bound, sign float64) {
	w := sign * s.w
	if w == 0 {
		return
	}
	x := mat.NewVecDense(len(b.x), b.x)
	day := &e.days[b.day]
	e.all.shareDay(day, e.k, e.lambda, -1)
	day.n += w
	for j, xj := range b.x {
		day.x[j] += w * xj
	}
	day.y[e.k] += w * s.y
	e.all.xx.SymRankOne(e.all.xx, w, x)
	e.all.xy.AddScaledVec(e.all.xy, w*s.y, x)
	e.all.shareDay(day, e.k, e.lambda, 1)
}

// posterior returns coefficients from plain runs and sites together, and a
// variance from the plain runs alone, about those coefficients: a bound has no
// residual of its own.
func (e *expectation) posterior() (*posterior, error) {
	post, err := e.prior.update(e.all)
	if err != nil {
		return nil, err
	}
	var away, pull mat.VecDense
	away.SubVec(post.mean, e.prior.mean)
	pull.MulVec(e.prior.precision, &away)
	square := e.plain.yy - 2*mat.Dot(post.mean, e.plain.xy) +
		mat.Inner(post.mean, e.plain.xx, post.mean) + mat.Dot(&away, &pull)
	post.shape = e.prior.shape + e.plain.n/2
	post.rate = e.prior.rate + math.Max(0, square)/2
	return post, nil
}

// refine replaces the site of one bound by the one that fits it among all the
// others, and returns ln of the density that the others give to the bound.
func (e *expectation) refine(s *site, b *bound) (logZ float64, err error) {
	e.enter(*s, b, -1)
	others, err := e.posterior()
	if err != nil {
		return 0, err
	}
	// f = xᵀβ + day, where the day's own runs have already told of the day.
	day := &e.days[b.day]
	known := e.lambda / (1 + e.lambda*day.n)
	x := make([]float64, len(b.x))
	for j := range x {
		x[j] = b.x[j] - known*day.x[j]
	}
	at := mat.NewVecDense(len(x), x)
	mean := mat.Dot(at, others.mean) + known*day.y[e.k]
	sigma2 := others.variance()
	spread := (others.leverage(at) + known) * sigma2

	total := math.Sqrt(spread + sigma2)
	shifted := mean - e.rate*spread
	z := (shifted - b.y[e.k] - e.rate*sigma2) / total
	hazard := inverseMills(z)
	newMean := shifted + spread/total*hazard
	newSpread := spread - spread*spread/(total*total)*hazard*(z+hazard)
	*s = site{}
	if precision := 1/newSpread - 1/spread; precision > 0 && !math.IsInf(precision, 0) {
		*s = site{y: (newMean/newSpread - mean/spread) / precision, w: precision * sigma2}
	}
	e.enter(*s, b, 1)
	return math.Log(e.rate) + e.rate*(b.y[e.k]-mean) + e.rate*e.rate*(spread+sigma2)/2 + logCDF(z), nil
}

// logCDF returns ln Φ(z), by Φ(z) = φ(z)/inverseMills(z) where Φ would underflow.
func logCDF(z float64) float64 {
	if z < farTail {
		return distuv.UnitNormal.LogProb(z) - math.Log(inverseMills(z))
	}
	return math.Log(distuv.UnitNormal.CDF(z))
}

// farTail is where φ/Φ is its asymptote to better than 0.2 %.
const farTail = -30

// inverseMills returns φ(z)/Φ(z), by its asymptotic -z where Φ underflows.
func inverseMills(z float64) float64 {
	if z < farTail {
		return -z
	}
	return distuv.UnitNormal.Prob(z) / distuv.UnitNormal.CDF(z)
}
