package analyze

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// A run that heat stopped says that its response is at least y: the driver eased off
// or the cut-off cut in, so a full run would have gone higher, though hardly twice as
// high. The excess is believed to be of excessPrior, whose tail is heavy enough that a
// stop far below what the other runs predict adds next to nothing; one above them pulls.
//
// Had the excess been read, the log would be plain. So the log is completed: with the
// other runs' Student t for the full response, the excess has a density that is known
// at every point, and a few values of equal chance stand for it. Each gives a plain log
// with its posterior in closed form; their mixture is exact but for the number of
// values. Several stops are completed one after the other, each knowing those before
// it, at the points of a low-discrepancy sequence.

// completion is the posterior of one completed log, and the logarithm of how well it
// explains what was read.
type completion struct {
	*posterior
	logEvidence float64
}

// complete returns the completions of the log for a time constant and a day effect.
// Without heat stops there is one, the log itself.
func (a *accumulated) complete(prior normalInverseGamma, k, share int, bounds []bound) ([]completion, error) {
	plain := a.sums(k, share)
	read, err := prior.update(plain)
	if err != nil {
		return nil, err
	}
	if len(bounds) == 0 {
		return []completion{{read, read.logEvidence}}, nil
	}
	// The stop that the others explain least comes first: what it tells leaves less
	// surprise to the next, and so less difference between the points' weights.
	alone := a.incomplete(plain, k, share)
	surprise := func(b bound) float64 {
		location, scale := alone.expect(read, &b)
		return (b.y[k] - location) / scale
	}
	bounds = slices.SortedFunc(slices.Values(bounds), func(b, c bound) int { return cmp.Compare(surprise(c), surprise(b)) })

	all := make([]completion, completions(len(bounds)))
	for i := range all {
		logEvidence := read.logEvidence - math.Log(float64(len(all)))
		e := a.incomplete(plain, k, share)
		post := read
		for j := range bounds {
			b := &bounds[j]
			density, excess := e.excess(post, b, a.excess, spreadPoint(i, len(all), j, len(bounds)))
			logEvidence += math.Log(density)
			e.enter(b, b.y[k]+excess)
			if post, err = prior.update(e.sums); err != nil {
				return nil, err
			}
		}
		all[i] = completion{post, logEvidence}
	}
	return all, nil
}

// completions returns how many values stand for what heat stops leave open. On the small
// logs of the tests the chances then come within 0.005 of the exact ones.
// Of many stops each matters less, and the cost of all grows with both numbers.
func completions(stops int) int {
	switch {
	case stops == 1:
		return 8
	case stops <= 8:
		return 16
	default:
		return 4
	}
}

// spreadPoint returns coordinate j of point i of n, in (0, 1): the first is evenly
// spread, the others follow the additive recurrence whose steps are the powers of the
// root of x^d = x + 1, with d the number of coordinates (Roberts 2018, from memory).
func spreadPoint(i, n, j, d int) float64 {
	if j == 0 {
		return (float64(i) + 0.5) / float64(n)
	}
	root := 1.5
	for range 60 {
		root = math.Pow(1+root, 1/float64(d))
	}
	_, f := math.Modf(0.5 + float64(i)*math.Pow(root, -float64(j)))
	return f
}

// incomplete holds the sums of a log that is being completed.
type incomplete struct {
	sums
	days   map[int32]*daySums // those on which heat stopped a run
	k      int
	lambda float64
}

func (a *accumulated) incomplete(plain sums, k, share int) *incomplete {
	e := &incomplete{sums: plain, days: make(map[int32]*daySums, len(a.stopDays)), k: k, lambda: a.shares[share].lambda}
	e.xx = mat.NewSymDense(a.columns, nil)
	e.xx.CopySym(plain.xx)
	e.xy = mat.VecDenseCopyOf(plain.xy)
	for rank, day := range a.stopDays {
		own := day.clone()
		e.days[rank] = &own
	}
	return e
}

// shareDay takes the day's common part out of the sums (sign 1), or puts it back
// (sign -1).
func (e *incomplete) shareDay(d *daySums, sign float64) {
	if e.lambda == 0 || d.n == 0 {
		return
	}
	c := sign * e.lambda / (1 + e.lambda*d.n)
	x, y := mat.NewVecDense(len(d.x), d.x), d.y[e.k]
	e.xx.SymRankOne(e.xx, -c, x)
	e.xy.AddScaledVec(e.xy, -c*y, x)
	e.yy -= c * y * y
	e.logDet += sign * math.Log1p(e.lambda*d.n)
}

// expect returns the location and scale of the full response of a stopped run.
func (e *incomplete) expect(post *posterior, b *bound) (location, scale float64) {
	// f = xᵀβ + day, where the day's own runs have already told of the day.
	day := e.days[b.day]
	known := e.lambda / (1 + e.lambda*day.n)
	x := make([]float64, len(b.x))
	for j := range x {
		x[j] = b.x[j] - known*day.x[j]
	}
	at := mat.NewVecDense(len(x), x)
	return mat.Dot(at, post.mean) + known*day.y[e.k],
		math.Sqrt(post.variance() * (1 + known + post.leverage(at)))
}

// excessCells is how many cells the excess's density is summed in, from 0 to ten times
// its mean, or beyond the full response where that is expected higher.
const excessCells = 200

// excess returns the density of a stopped run's bound, and the excess that is not
// exceeded with chance q given that bound.
func (e *incomplete) excess(post *posterior, b *bound, mean, q float64) (density, excess float64) {
	location, scale := e.expect(post, b)
	full := studentDensity(location, scale, post.df())
	width := max(10*mean, location-b.y[e.k]+10*scale) / excessCells
	var below [excessCells + 1]float64
	for i := range excessCells {
		v := (float64(i) + 0.5) * width
		below[i+1] = below[i] + width*excessPrior(v/mean)/mean*full(b.y[e.k]+v)
	}
	density = below[excessCells]
	above, _ := slices.BinarySearch(below[:], q*density)
	i := min(max(above, 1), excessCells) - 1
	return density, width * (float64(i) + (q*density-below[i])/(below[i+1]-below[i]))
}

// studentDensity returns the density of a Student t. Its constant is computed once,
// since it is asked at hundreds of points.
func studentDensity(location, scale, df float64) func(float64) float64 {
	peak := distuv.StudentsT{Mu: location, Sigma: scale, Nu: df}.Prob(location)
	return func(y float64) float64 {
		z := (y - location) / scale
		return peak * math.Exp(-(df+1)/2*math.Log1p(z*z/df))
	}
}

// excessPrior is the density of the excess in units of its mean: Lomax with shape 3,
//
//	p(v) = 3/2 (1 + v/2)⁻⁴
func excessPrior(v float64) float64 {
	square := (1 + v/2) * (1 + v/2)
	return 1.5 / (square * square)
}

// enter completes a stopped run with response y.
func (e *incomplete) enter(b *bound, y float64) {
	x := mat.NewVecDense(len(b.x), b.x)
	day := e.days[b.day]
	e.shareDay(day, -1)
	e.n++
	e.xx.SymRankOne(e.xx, 1, x)
	e.xy.AddScaledVec(e.xy, y, x)
	e.yy += y * y
	day.n++
	for j, xj := range b.x {
		day.x[j] += xj
	}
	day.y[e.k] += y
	e.shareDay(day, 1)
}
