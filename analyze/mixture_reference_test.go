package analyze

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"regear/analyze/drivetrain"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// The tests below reach the chances of a whole fit by two other roads, which share
// neither formula nor code with it beyond the model as Fit's comment states it:
//
//   - worlds drawn from the prior and weighed by how well they explain the log, which
//     knows no algebra at all, and is good to its own Monte-Carlo error;
//   - the joint normal distribution of all runs and the next one, with its n × n
//     covariance written out, summed over even steps of ln σ² and over Gauss-Legendre
//     nodes of how much higher each heat stop would have gone. Without heat stops that is
//     good to about ten digits.

// smallLog is a log of few runs and one run to come.
type smallLog struct {
	name string
	runs []runlog.Run
	next Conditions
}

// driven returns the conditions of an invented car's run.
func driven(pinion int, minutes units.Minutes, ambient units.Celsius) Conditions {
	return Conditions{
		Gearing: drivetrain.Gearing{Pinion: pinion, Spur: 68, Internal: 2.5},
		Tire:    118, Ambient: ambient, Minutes: minutes, Cells: 2,
	}
}

// after returns c with the motor warm at the start.
func after(start units.Celsius, c Conditions) Conditions {
	c.Start.Set(runlog.Motor, start)
	return c
}

// on returns c on a surface.
func on(surface string, c Conditions) Conditions {
	c.Surface = surface
	return c
}

// stopped returns r cut short by heat.
func stopped(r runlog.Run) runlog.Run {
	r.StoppedByHeat = true
	return r
}

// aDay returns the n-th day of an invented season.
func aDay(n int) time.Time { return time.Date(2026, time.May, n, 0, 0, 0, 0, time.UTC) }

// plainLogs are logs without heat stops.
func plainLogs() []smallLog {
	return []smallLog{
		{"one run", []runlog.Run{
			ran(driven(16, 9, 22), aDay(1), 71),
		}, driven(15, 12, 28)},
		{"two gearings and a warm start", []runlog.Run{
			ran(driven(15, 8, 20), aDay(1), 61),
			ran(after(45, driven(17, 7, 21)), aDay(1), 86),
		}, after(50, driven(16, 12, 25))},
		{"three days", []runlog.Run{
			ran(driven(15, 8, 20), aDay(1), 60),
			ran(driven(15, 8, 20), aDay(1), 63),
			ran(driven(16, 8, 20), aDay(2), 78),
			ran(driven(15, 12, 24), aDay(3), 72),
		}, driven(16, 12, 25)},
		{"two surfaces and a third", []runlog.Run{
			ran(on("clay", driven(15, 8, 20)), aDay(1), 60),
			ran(on("turf", driven(15, 8, 20)), aDay(1), 66),
		}, on("gravel", driven(15, 8, 20))},
	}
}

// stoppedLogs are logs with heat stops, which count as lower bounds.
func stoppedLogs() []smallLog {
	return []smallLog{
		{"a heat stop alone", []runlog.Run{
			stopped(ran(driven(17, 6, 22), aDay(1), 85)),
		}, driven(15, 12, 22)},
		{"a heat stop above plain runs", []runlog.Run{
			ran(driven(15, 8, 20), aDay(1), 60),
			ran(driven(16, 8, 20), aDay(2), 66),
			stopped(ran(driven(17, 6, 20), aDay(2), 88)),
		}, driven(16, 10, 25)},
		{"a heat stop where plain runs expect it", []runlog.Run{
			ran(driven(15, 8, 20), aDay(1), 60),
			ran(driven(16, 8, 20), aDay(2), 66),
			stopped(ran(driven(17, 8, 20), aDay(2), 72)),
		}, driven(17, 8, 20)},
		{"a heat stop below plain runs", []runlog.Run{
			ran(driven(15, 8, 20), aDay(1), 60),
			ran(driven(16, 8, 20), aDay(2), 66),
			stopped(ran(driven(17, 8, 20), aDay(2), 55)),
		}, driven(17, 8, 20)},
		{"two heat stops and a plain run", []runlog.Run{
			ran(driven(15, 8, 20), aDay(1), 62),
			stopped(ran(driven(17, 6, 20), aDay(1), 80)),
			stopped(ran(after(35, driven(16, 9, 20)), aDay(2), 79)),
		}, driven(16, 10, 25)},
	}
}

// regressor is one column of the model: what belief its coefficient starts from, and
// what it is for a run, on which day the run was, counted from the first, of how many.
type regressor struct {
	prior Belief
	value func(c Conditions, day, days int) float64
}

// regressors restates the columns of Fit's formula for one log, under one drift.
func regressors(p Prior, log []runlog.Run, drift float64) []regressor {
	var rollout, tire, cells float64
	surfaces := map[string]bool{}
	for i := range log {
		rollout += math.Log(float64(log[i].Rollout())) / float64(len(log))
		tire += math.Log(float64(log[i].Tire)) / float64(len(log))
		cells += math.Log(float64(log[i].Cells)) / float64(len(log))
		surfaces[log[i].Surface] = true
	}
	x := func(c Conditions) float64 { return math.Log(float64(c.Rollout())) - rollout }
	all := []regressor{
		{p.Level, func(Conditions, int, int) float64 { return 1 }},
		{p.Exponent, func(c Conditions, _, _ int) float64 { return x(c) }},
		{p.Bend, func(c Conditions, _, _ int) float64 { return x(c) * x(c) }},
		{p.Tire, func(c Conditions, _, _ int) float64 { return math.Log(float64(c.Tire)) - tire }},
		{p.Cells, func(c Conditions, _, _ int) float64 { return math.Log(float64(c.Cells)) - cells }},
		{Belief{SD: drift}, func(_ Conditions, day, days int) float64 {
			if days == 1 {
				return 0
			}
			return float64(day-(days-1)) / math.Max(driftDays, float64(days-1))
		}},
	}
	// The one surface of a log is part of its level.
	if len(surfaces) > 1 {
		for s := range surfaces {
			all = append(all, regressor{Belief{SD: p.Label}, func(c Conditions, _, _ int) float64 {
				if c.Surface == s {
					return 1
				}
				return 0
			}})
		}
	}
	return all
}

// newLabels returns how many label effects the next run has that no regressor carries.
func (l smallLog) newLabels() float64 {
	if slices.ContainsFunc(l.runs, func(r runlog.Run) bool { return r.Surface == l.next.Surface }) {
		return 0
	}
	return 1
}

// daysOf returns the rank of each run's day and how many days there are.
func daysOf(log []runlog.Run) (rank []int, days int) {
	var seen []runlog.Day
	for i := range log {
		seen = append(seen, log[i].Day())
	}
	slices.Sort(seen)
	seen = slices.Compact(seen)
	for i := range log {
		rank = append(rank, slices.Index(seen, log[i].Day()))
	}
	return rank, len(seen)
}

// riseOf returns how far the motor rose beyond what was left of its start, and the
// share of the plateau that its minutes reach.
func riseOf(c Conditions, peak units.Celsius, tau float64) (rise, share float64) {
	left := math.Exp(-float64(c.Minutes) / tau)
	start, warm := c.Start.Of(runlog.Motor)
	if !warm {
		start = c.Ambient
	}
	return float64(peak-c.Ambient) - float64(start-c.Ambient)*left, 1 - left
}

// temperatures are where the roads are compared: from next to impossible to next to
// certain.
var temperatures = []units.Celsius{50, 58, 64, 70, 76, 84, 95, 120}

// weighedWorlds returns the chance of the next run to stay under each temperature, by
// drawing worlds from the prior and weighing each by the density of the log's peaks in
// it, and the standard errors.
func weighedWorlds(p Prior, l smallLog, draws int, seed uint64) (chance, stdErr []float64) {
	random := rand.New(rand.NewPCG(seed, 0))
	rank, days := daysOf(l.runs)
	pick := func(of []Weighted) float64 {
		total := 0.0
		for _, w := range of {
			total += w.Weight
		}
		at := random.Float64() * total
		for _, w := range of {
			if at -= w.Weight; at < 0 {
				return w.Value
			}
		}
		return of[len(of)-1].Value
	}
	precision := distuv.Gamma{Alpha: p.ScatterRuns / 2, Beta: 1, Src: random}
	weights := make([]float64, draws)
	under := make([][]float64, draws)
	byDrift := map[float64][]regressor{}
	for _, d := range p.Drifts {
		byDrift[d.Value] = regressors(p, l.runs, d.Value)
	}
	coefficients, dayEffects := make([]float64, len(byDrift[p.Drifts[0].Value])), make([]float64, days)
	for i := range draws {
		tau, share, columns := pick(p.TimeConstants), pick(p.DayShares), byDrift[pick(p.Drifts)]
		sigma := p.Scatter * math.Sqrt(p.ScatterRuns/2/precision.Rand())
		for j, c := range columns {
			coefficients[j] = c.prior.Mean + c.prior.SD*sigma/p.Scatter*random.NormFloat64()
		}
		for d := range dayEffects {
			dayEffects[d] = math.Sqrt(share) * sigma * random.NormFloat64()
		}
		expected := func(c Conditions, day int) float64 {
			f := 0.0
			for j := range columns {
				f += coefficients[j] * columns[j].value(c, day, days)
			}
			return f
		}

		logWeight := 0.0
		for k := range l.runs {
			r := &l.runs[k]
			c := ConditionsOf(r)
			peak, _ := r.Peak.Of(runlog.Motor)
			rise, reached := riseOf(c, peak, tau)
			response := math.Log(rise) - math.Log(reached)
			if r.StoppedByHeat {
				// Undisturbed, it would have gone higher by an amount that nobody knows.
				// Lomax of shape 3 by its inverse: P(v > x) = (1 + x/2)⁻³.
				response += p.HeatStopExcess * 2 * (math.Pow(1-random.Float64(), -1.0/3) - 1)
			}
			z := (response - expected(c, rank[k]) - dayEffects[rank[k]]) / sigma
			logWeight += -z*z/2 - math.Log(sigma*rise)
		}
		weights[i] = math.Exp(logWeight)

		// The next run has a day, a scatter, and where its label is new a label effect of
		// its own.
		unknown := sigma * math.Sqrt(1+share+l.newLabels()*p.Label*p.Label/(p.Scatter*p.Scatter))
		f := expected(l.next, days)
		under[i] = make([]float64, len(temperatures))
		for j, temperature := range temperatures {
			if rise, reached := riseOf(l.next, temperature, tau); rise > 0 {
				under[i][j] = distuv.UnitNormal.CDF((math.Log(rise) - math.Log(reached) - f) / unknown)
			}
		}
	}
	total := 0.0
	for _, w := range weights {
		total += w
	}
	chance, stdErr = make([]float64, len(temperatures)), make([]float64, len(temperatures))
	for j := range temperatures {
		for i, w := range weights {
			chance[j] += w * under[i][j] / total
		}
		for i, w := range weights {
			stdErr[j] += math.Pow(w/total*(under[i][j]-chance[j]), 2)
		}
		stdErr[j] = math.Sqrt(stdErr[j])
	}
	return chance, stdErr
}

// written returns the same chances from the joint normal distribution, written out.
func written(t *testing.T, p Prior, l smallLog) []float64 {
	t.Helper()
	type point struct {
		*joint
		center, variance, logWeight float64
	}
	var grid []point
	top := math.Inf(-1)
	excesses, sigmas := l.excesses(p), variances(p)
	for _, tau := range p.TimeConstants {
		for _, share := range p.DayShares {
			for _, drift := range p.Drifts {
				j := l.jointly(t, p, tau.Value, share.Value, drift.Value)
				logPrior := math.Log(tau.Weight * share.Weight * drift.Weight)
				for _, e := range excesses {
					center, square := j.given(e.values)
					for _, v := range sigmas {
						w := logPrior + e.logWeight + v.logWeight + j.logDensity(v.value, square)
						top = math.Max(top, w)
						if w > top-30 {
							grid = append(grid, point{j, center, v.value, w})
						}
					}
				}
			}
		}
	}
	chance, total := make([]float64, len(temperatures)), 0.0
	for _, g := range grid {
		w := math.Exp(g.logWeight - top)
		if w < 1e-13 {
			continue
		}
		total += w
		for i, under := range g.chances(g.center, g.variance) {
			chance[i] += w * under
		}
	}
	for i := range chance {
		chance[i] /= total
	}
	return chance
}

// gridExcess is one point of the grid over how much higher each heat stop would have
// gone.
type gridExcess struct {
	values    []float64
	logWeight float64
}

// excesses returns the product of a Gauss-Legendre rule for every heat stop, with the
// density of the Lomax prior, 3/2 (1 + v/2)⁻⁴; a single empty point where there is none.
func (l smallLog) excesses(p Prior) []gridExcess {
	grid := []gridExcess{{}}
	stops := 0
	for i := range l.runs {
		if l.runs[i].StoppedByHeat {
			stops++
		}
	}
	if stops == 0 {
		return grid
	}
	nodes := map[int]int{1: 400, 2: 60}[stops]
	at, weight := make([]float64, nodes), make([]float64, nodes)
	quad.Legendre{}.FixedLocations(at, weight, 0, 20*p.HeatStopExcess)
	for range stops {
		var next []gridExcess
		for _, g := range grid {
			for k, x := range at {
				next = append(next, gridExcess{append(slices.Clone(g.values), x), g.logWeight + math.Log(weight[k]) - 4*math.Log1p(x/(2*p.HeatStopExcess))})
			}
		}
		grid = next
	}
	return grid
}

// gridVariance is one point of the grid over σ².
type gridVariance struct{ value, logWeight float64 }

// variances returns a grid over ln σ² with the density of its inverse gamma prior.
func variances(p Prior) []gridVariance {
	const step = 0.125
	a, b := p.ScatterRuns/2, p.ScatterRuns/2*p.Scatter*p.Scatter
	var grid []gridVariance
	for u := -6.0; u <= 14; u += step {
		v := p.Scatter * p.Scatter * math.Exp(u)
		grid = append(grid, gridVariance{v, -a*math.Log(v/b) - b/v})
	}
	return grid
}

// joint is the normal distribution of the log's responses and the next one's, for one
// time constant, day share and drift; covariances in units of σ².
type joint struct {
	tau      float64
	next     Conditions
	runs     int
	logDet   float64   // ln|K|, with K the responses' covariance
	jacobian float64   // Σ ln rise
	residual []float64 // responses less their prior mean, as read
	stops    []int     // which of them heat cut short

	inverse *mat.SymDense // K⁻¹
	pull    *mat.VecDense // K⁻¹ cov(responses, next)
	mean    float64       // the next response's, before the log
	own     float64       // its variance given the log
}

// jointly writes the distribution out.
func (l smallLog) jointly(t *testing.T, p Prior, tau, share, drift float64) *joint {
	t.Helper()
	columns := regressors(p, l.runs, drift)
	rank, days := daysOf(l.runs)
	n := len(l.runs)
	// The log's runs, and then the next one, which has a day of its own.
	rows := make([][]float64, n+1)
	means := make([]float64, n+1)
	for i := range rows {
		c, day := l.next, days
		if i < n {
			c, day = ConditionsOf(&l.runs[i]), rank[i]
		}
		for _, column := range columns {
			x := column.value(c, day, days)
			rows[i] = append(rows[i], x)
			means[i] += x * column.prior.Mean
		}
	}
	covariance := func(i, j int) float64 {
		k := 0.0
		for m, column := range columns {
			k += rows[i][m] * rows[j][m] * column.prior.SD * column.prior.SD / (p.Scatter * p.Scatter)
		}
		if i < n && j < n && rank[i] == rank[j] || i == j && i == n {
			k += share
		}
		if i == j {
			k++
		}
		return k
	}
	out := &joint{tau: tau, next: l.next, runs: n, mean: means[n], inverse: mat.NewSymDense(n, nil), pull: mat.NewVecDense(n, nil)}
	k, cross := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i := range n {
		r := &l.runs[i]
		peak, _ := r.Peak.Of(runlog.Motor)
		rise, reached := riseOf(ConditionsOf(r), peak, tau)
		out.residual = append(out.residual, math.Log(rise/reached)-means[i])
		out.jacobian += math.Log(rise)
		if r.StoppedByHeat {
			out.stops = append(out.stops, i)
		}
		for j := range i + 1 {
			k.SetSym(i, j, covariance(i, j))
		}
		cross.SetVec(i, covariance(i, n))
	}
	var chol mat.Cholesky
	if !chol.Factorize(k) {
		t.Fatal("the runs' covariance is not positive definite")
	}
	out.logDet = chol.LogDet()
	if err := chol.InverseTo(out.inverse); err != nil {
		t.Fatal(err)
	}
	out.pull.MulVec(out.inverse, cross)
	out.own = covariance(n, n) - mat.Dot(cross, out.pull) + l.newLabels()*p.Label*p.Label/(p.Scatter*p.Scatter)
	return out
}

// given returns where the next response is expected once every heat stop is raised by
// its excess, and rᵀK⁻¹r with r the residuals.
func (j *joint) given(excess []float64) (center, square float64) {
	r := mat.NewVecDense(j.runs, slices.Clone(j.residual))
	for k, i := range j.stops {
		r.SetVec(i, r.AtVec(i)+excess[k])
	}
	return j.mean + mat.Dot(j.pull, r), mat.Inner(r, j.inverse, r)
}

// logDensity returns the log density of the log's peaks, but for a constant.
func (j *joint) logDensity(variance, square float64) float64 {
	return -float64(j.runs)/2*math.Log(variance) - j.logDet/2 - square/variance/2 - j.jacobian
}

// chances returns the chance of the next peak to lie under each temperature.
func (j *joint) chances(center, variance float64) []float64 {
	spread := math.Sqrt(variance * j.own)
	under := make([]float64, len(temperatures))
	for i, temperature := range temperatures {
		if rise, reached := riseOf(j.next, temperature, j.tau); rise > 0 {
			under[i] = distuv.UnitNormal.CDF((math.Log(rise/reached) - center) / spread)
		}
	}
	return under
}

// coarse returns p with fewer values to average over: a heat stop costs the written
// distribution a further dimension.
func coarse(p Prior) Prior {
	p.TimeConstants = p.TimeConstants[1:4]
	p.DayShares = p.DayShares[:2]
	p.Drifts = p.Drifts[:1]
	return p
}

// TestFitReachesWrittenDistribution has the two other roads confirm each other, within
// four standard errors of the drawn one, and holds whole fits against the distribution
// written out. Plain runs are closed form on both sides. A heat stop is approximated, and
// has to come within a hundredth: the step in which chances are told to a driver.
func TestFitReachesWrittenDistribution(t *testing.T) {
	prior := PriorOf(runlog.Motor)
	for _, c := range []struct {
		logs  []smallLog
		prior Prior
		most  float64
		draws int // few worlds explain a heat stop well
	}{
		{plainLogs(), prior, 1e-10, 60_000},
		{stoppedLogs(), coarse(prior), 0.01, 400_000},
	} {
		for _, l := range c.logs {
			t.Run(l.name, func(t *testing.T) {
				t.Parallel()
				want := written(t, c.prior, l)
				drawn, stdErr := weighedWorlds(c.prior, l, c.draws, 7)
				prediction := motorFit(t, c.prior, l.runs).Predict(l.next)
				var worst, worstDrawn, widest float64
				for i, temperature := range temperatures {
					off := math.Abs(drawn[i]-want[i]) / stdErr[i]
					worstDrawn, widest = math.Max(worstDrawn, off), math.Max(widest, stdErr[i])
					if !(off <= 4) || stdErr[i] > 0.02 {
						t.Errorf("under %g °C: written %.4f, weighed worlds %.4f, standard error %.4f", temperature, want[i], drawn[i], stdErr[i])
					}
					got := prediction.CDF(temperature)
					worst = math.Max(worst, math.Abs(got-want[i]))
					if !(math.Abs(got-want[i]) <= c.most) {
						t.Errorf("under %g °C: chance %.4f, want %.4f", temperature, got, want[i])
					}
				}
				t.Logf("the roads agree to %.1f standard errors, of %.4f at most; the fit to %.1g", worstDrawn, widest, worst)
			})
		}
	}
}
