package analyze

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"regear/analyze/run"
	"regear/analyze/units"
)

// The tests below reach the chances of a whole fit by two other roads, which share
// neither formula nor code with it beyond the model as the comments at Fit and at heat stops
// state it:
//
//   - worlds drawn from the prior and weighed by how well they explain the log, which
//     knows no algebra to speak of, and is good to its own Monte-Carlo error;
//   - the joint normal distribution of all runs and the next one, with its covariance
//     written out, cell by cell of the grid.

// smallLog is a log of few runs and one run to come.
type smallLog struct {
	name string
	runs []run.Run
	next Conditions
}

// atTime returns r with the time of day at which it ended.
func atTime(hour, minute int, r run.Run) run.Run {
	r.When = r.When.Add(time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute)
	r.HasTime = true
	return r
}

// plainLogs are logs without heat stops.
func plainLogs() []smallLog {
	return []smallLog{
		{"one run", []run.Run{
			ran(driven(16, 9, 22), aDay(1), 71),
		}, driven(15, 12, 28)},
		{"two gearings and a warm start", []run.Run{
			ran(driven(15, 8, 20), aDay(1), 61),
			ran(after(45, driven(17, 7, 21)), aDay(1), 86),
		}, after(50, driven(16, 12, 25))},
		{"three days", []run.Run{
			ran(driven(15, 8, 20), aDay(1), 60),
			ran(driven(15, 8, 20), aDay(1), 63),
			ran(driven(16, 8, 30), aDay(2), 78),
			ran(driven(15, 12, 24), aDay(3), 72),
		}, driven(16, 12, 25)},
		{"two surfaces and a third", []run.Run{
			ran(on("clay", driven(15, 8, 20)), aDay(1), 60),
			ran(on("turf", driven(15, 8, 20)), aDay(1), 66),
		}, on("gravel", driven(15, 8, 20))},
		{"one surface and another", []run.Run{
			ran(on("clay", driven(15, 8, 20)), aDay(1), 60),
			ran(on("clay", driven(16, 8, 20)), aDay(1), 66),
		}, on("turf", driven(15, 8, 20))},
		{"packs back to back", []run.Run{
			atTime(10, 0, ran(driven(15, 8, 20), aDay(1), 60)),
			atTime(10, 14, ran(driven(15, 8, 20), aDay(1), 70)),
			atTime(10, 26, ran(driven(16, 8, 21), aDay(1), 79)),
			atTime(15, 0, ran(driven(16, 8, 24), aDay(1), 70)),
		}, driven(16, 12, 25)},
	}
}

// stoppedLogs are logs with heat stops, which count as lower bounds.
func stoppedLogs() []smallLog {
	// several returns a log of some heat stops over three days, and three plain runs.
	several := func(stops int) []run.Run {
		runs := []run.Run{
			ran(driven(15, 8, 20), aDay(1), 62), ran(driven(16, 9, 22), aDay(2), 70), ran(driven(15, 9, 21), aDay(3), 65),
		}
		for i := range stops {
			runs = append(runs, stopped(ran(driven(16+i%2, 6, 20), aDay(1+i%3), units.Celsius(64+5*(i%2)+i%4))))
		}
		return runs
	}
	// plainThen returns two plain runs and a heat stop.
	plainThen := func(stop run.Run) []run.Run {
		return []run.Run{ran(driven(15, 8, 20), aDay(1), 60), ran(driven(16, 8, 20), aDay(2), 66), stopped(stop)}
	}
	return []smallLog{
		{"a heat stop alone", []run.Run{
			stopped(ran(driven(17, 6, 22), aDay(1), 85)),
		}, driven(15, 12, 22)},
		{"a heat stop above plain runs", plainThen(ran(driven(17, 6, 20), aDay(2), 88)), driven(16, 10, 25)},
		{"a heat stop where plain runs expect it", plainThen(ran(driven(17, 8, 20), aDay(2), 72)), driven(17, 8, 20)},
		{"a heat stop below plain runs", plainThen(ran(driven(17, 8, 20), aDay(2), 55)), driven(17, 8, 20)},
		{"a heat stop on the first of two days", []run.Run{
			ran(driven(15, 8, 20), aDay(1), 60),
			stopped(ran(driven(17, 6, 20), aDay(1), 70)),
			ran(driven(16, 8, 20), aDay(2), 66),
			ran(driven(15, 8, 20), aDay(2), 61),
		}, driven(16, 10, 25)},
		{"a warm heat stop", []run.Run{
			ran(driven(15, 8, 20), aDay(1), 60),
			stopped(ran(after(50, driven(17, 4, 20)), aDay(1), 78)),
			ran(driven(16, 8, 20), aDay(2), 66),
		}, after(45, driven(16, 8, 25))},
		{"a heat stop right after a run", []run.Run{
			atTime(10, 0, ran(driven(15, 8, 20), aDay(1), 60)),
			atTime(10, 10, stopped(ran(driven(17, 5, 20), aDay(1), 76))),
			atTime(10, 25, ran(driven(15, 8, 20), aDay(1), 70)),
		}, driven(16, 8, 25)},
		{"two heat stops and a plain run", []run.Run{
			ran(driven(15, 8, 20), aDay(1), 62),
			stopped(ran(driven(17, 6, 20), aDay(1), 80)),
			stopped(ran(after(35, driven(16, 9, 20)), aDay(2), 79)),
		}, driven(16, 10, 25)},
		{"two heat stops that disagree", []run.Run{
			ran(driven(15, 8, 20), aDay(1), 60),
			ran(driven(16, 8, 20), aDay(2), 66),
			stopped(ran(driven(17, 8, 20), aDay(1), 40)),
			stopped(ran(driven(17, 8, 20), aDay(2), 85)),
		}, driven(17, 8, 20)},
		{"nine heat stops", several(9), driven(16, 10, 25)},
		{"twelve heat stops", several(12), driven(16, 10, 25)},
	}
}

// cell is one cell of the grid that a fit averages over.
type cell struct {
	world
	share, drift, scatter, excess float64
	ruled                         bool
}

// variance returns that of runs of one day.
func (c cell) variance() float64 { return c.scatter * c.scatter / (1 + c.share) }

// cells calls with every cell of the grid for a log, and its prior weight. What a log
// can't tell of has one value.
func (l smallLog) cells(p Prior, with func(c cell, weight float64)) {
	drifts, excesses, heatLeft := p.Drifts, p.HeatStopExcesses, p.HeatLeft
	if _, days := daysOf(l.runs); days == 1 {
		drifts = drifts[:1]
	}
	if !slices.ContainsFunc(l.runs, func(r run.Run) bool { return r.StoppedByHeat }) {
		excesses = []Weighted{{0, 1}}
	}
	if !slices.ContainsFunc(l.runs, func(r run.Run) bool { return r.HasTime }) {
		heatLeft = []Weighted{{0, 1}}
	}
	for _, share := range p.DayShares {
		for _, drift := range drifts {
			for _, scatter := range p.Scatters {
				for _, excess := range excesses {
					for rule, ruled := range []bool{true, false} {
						for _, tau := range p.TimeConstants {
							for _, left := range heatLeft {
								weight := share.Weight * drift.Weight * scatter.Weight * excess.Weight * tau.Weight * left.Weight *
									[]float64{1 - p.NoRuleWeight, p.NoRuleWeight}[rule]
								with(cell{world{tau.Value, left.Value}, share.Value, drift.Value, scatter.Value, excess.Value, ruled}, weight)
							}
						}
					}
				}
			}
		}
	}
}

// regressor is one column of the model: what belief its coefficient starts from, and
// what it is for a run, on which day the run was, counted from the first, of how many.
type regressor struct {
	prior Belief
	value func(c Conditions, day, days int) float64
}

// regressors restates the columns of Fit's formula for one log in one cell.
func regressors(p Prior, log []run.Run, of cell) []regressor {
	var rollout, tire, cells, air float64
	surfaces := map[string]bool{}
	for i := range log {
		rollout += math.Log(float64(log[i].Rollout())) / float64(len(log))
		tire += math.Log(float64(log[i].Tire)) / float64(len(log))
		cells += math.Log(float64(log[i].Cells)) / float64(len(log))
		air += float64(log[i].Ambient) / float64(len(log))
		surfaces[log[i].Surface] = true
	}
	exponent := p.Exponent
	if !of.ruled {
		exponent = p.NoRule
	}
	x := func(c Conditions) float64 { return math.Log(float64(c.Rollout())) - rollout }
	all := []regressor{
		{p.Level, func(Conditions, int, int) float64 { return 1 }},
		{exponent, func(c Conditions, _, _ int) float64 { return x(c) }},
		{p.Bend, func(c Conditions, _, _ int) float64 { return x(c) * x(c) }},
		{p.Tire, func(c Conditions, _, _ int) float64 { return math.Log(float64(c.Tire)) - tire }},
		{p.Cells, func(c Conditions, _, _ int) float64 { return math.Log(float64(c.Cells)) - cells }},
		{p.Air, func(c Conditions, _, _ int) float64 { return float64(c.Ambient) - air }},
		{Belief{SD: of.drift}, func(_ Conditions, day, days int) float64 {
			const wholeDrift = 4 // days of driving
			if days == 1 {
				return 0
			}
			return float64(day-(days-1)) / math.Max(wholeDrift, float64(days-1))
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

// rowOf returns what the columns are for a run.
func rowOf(columns []regressor, c Conditions, day, days int) []float64 {
	row := make([]float64, len(columns))
	for j, column := range columns {
		row[j] = column.value(c, day, days)
	}
	return row
}

// newLabels returns how many label effects the next run has that no regressor carries: its
// own, and that of the log's only surface, which the level holds.
func (l smallLog) newLabels() float64 {
	if slices.ContainsFunc(l.runs, func(r run.Run) bool { return r.Surface == l.next.Surface }) {
		return 0
	}
	if !slices.ContainsFunc(l.runs, func(r run.Run) bool { return r.Surface != l.runs[0].Surface }) {
		return 2
	}
	return 1
}

// daysOf returns the rank of each run's day and how many days there are.
func daysOf(log []run.Run) (rank []int, days int) {
	var seen []run.Day
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

// riseBeyond returns how far the motor rose beyond what was left of a start so far above
// the air, and the share of the plateau that its minutes reach.
func riseBeyond(c Conditions, peak units.Celsius, start, tau float64) (rise, share float64) {
	left := math.Exp(-float64(c.Minutes) / tau)
	return float64(peak-c.Ambient) - start*left, 1 - left
}

// logged returns how far above the air the motor was logged to start.
func logged(c Conditions) float64 {
	if start, warm := c.Start.Of(run.Motor); warm {
		return float64(start - c.Ambient)
	}
	return 0
}

// writtenRise returns rise and share of the i-th run of a log in time order. A run that
// began within half an hour after the one before, both with a time, began with a share of
// what was left of that one's heat, unless a start was logged.
func writtenRise(log []run.Run, i int, w world) (rise, share float64) {
	c := ConditionsOf(&log[i])
	start := logged(c)
	if _, read := c.Start.Of(run.Motor); !read && i > 0 && log[i].HasTime && log[i-1].HasTime {
		rest := log[i].When.Sub(log[i-1].When).Minutes() - float64(c.Minutes)
		if rest >= 0 && rest <= 30 {
			peak, _ := log[i-1].Peak.Of(run.Motor)
			start = w.heatLeft * float64(peak-c.Ambient) * math.Exp(-rest/w.tau)
		}
	}
	peak, _ := log[i].Peak.Of(run.Motor)
	return riseBeyond(c, peak, start, w.tau)
}

// temperaturesAsked are where the roads are compared: from next to impossible to next to
// certain.
var temperaturesAsked = []units.Celsius{50, 58, 64, 70, 76, 84, 95, 120}

// weighedWorlds returns the chance of the next run to stay under each temperature, by
// drawing worlds from the prior and weighing each by the density of the log's peaks in
// it, and the standard errors.
func weighedWorlds(p Prior, l smallLog, draws int, seed uint64) (chance, stdErr []float64) {
	random := rand.New(rand.NewPCG(seed, 0))
	rank, days := daysOf(l.runs)
	type drawable struct {
		cell
		priors []Belief
		rises  [][2]float64 // of each run, and its share of the plateau
		until  float64
	}
	var all []drawable
	var rows [][]float64 // of each run, and the next one
	total := 0.0
	l.cells(p, func(c cell, weight float64) {
		total += weight
		d := drawable{cell: c, until: total}
		columns := regressors(p, l.runs, c)
		for _, column := range columns {
			d.priors = append(d.priors, column.prior)
		}
		for i := range l.runs {
			rise, share := writtenRise(l.runs, i, c.world)
			d.rises = append(d.rises, [2]float64{rise, share})
			if len(all) == 0 {
				rows = append(rows, rowOf(columns, ConditionsOf(&l.runs[i]), rank[i], days))
			}
		}
		if len(all) == 0 {
			rows = append(rows, rowOf(columns, l.next, days, days))
		}
		all = append(all, d)
	})
	weights, under := make([]float64, draws), make([][]float64, draws)
	dayEffects, coefficients := make([]float64, days), make([]float64, len(rows[0]))
	top := math.Inf(-1)
	for i := range draws {
		at := random.Float64() * total
		k, _ := slices.BinarySearchFunc(all, at, func(d drawable, at float64) int {
			if d.until <= at {
				return -1
			}
			return 1
		})
		c := all[k]
		sigma := math.Sqrt(c.variance())
		for j, prior := range c.priors {
			coefficients[j] = prior.Mean + prior.SD*random.NormFloat64()
		}
		for d := range dayEffects {
			dayEffects[d] = math.Sqrt(c.share) * sigma * random.NormFloat64()
		}

		logWeight := 0.0
		for k := range l.runs {
			rise, share := c.rises[k][0], c.rises[k][1]
			if rise <= 0 {
				logWeight = math.Inf(-1)
				break
			}
			off := math.Log(rise/share) - floats.Dot(rows[k], coefficients) - dayEffects[rank[k]]
			logWeight -= math.Log(rise)
			if !l.runs[k].StoppedByHeat {
				logWeight += distuv.UnitNormal.LogProb(off/sigma) - math.Log(sigma)
				continue
			}
			// A full run would have gone higher by the excess, give or take a third of that.
			spread := math.Hypot(sigma, c.excess/3)
			logWeight += distuv.UnitNormal.LogProb((off+c.excess)/spread) - math.Log(spread)
		}
		top = math.Max(top, logWeight)
		if logWeight < top-25 {
			continue // no world to speak of
		}
		weights[i] = math.Exp(logWeight)

		// The next run has a day, a scatter, and where its label is new label effects of
		// its own.
		unknown := math.Sqrt(c.scatter*c.scatter + l.newLabels()*p.Label*p.Label)
		f := floats.Dot(rows[len(l.runs)], coefficients)
		under[i] = make([]float64, len(temperaturesAsked))
		for j, temperature := range temperaturesAsked {
			if rise, share := riseBeyond(l.next, temperature, logged(l.next), c.tau); rise > 0 {
				under[i][j] = distuv.UnitNormal.CDF((math.Log(rise/share) - f) / unknown)
			}
		}
	}
	total = 0
	for _, w := range weights {
		total += w
	}
	chance, stdErr = make([]float64, len(temperaturesAsked)), make([]float64, len(temperaturesAsked))
	for j := range temperaturesAsked {
		for i, w := range weights {
			if w > 0 {
				chance[j] += w * under[i][j] / total
			}
		}
		for i, w := range weights {
			if w > 0 {
				stdErr[j] += math.Pow(w/total*(under[i][j]-chance[j]), 2)
			}
		}
		stdErr[j] = math.Sqrt(stdErr[j])
	}
	return chance, stdErr
}

// told is what one cell of the grid tells.
type told struct {
	cell
	weight float64 // of all that the log leaves possible
	under  []float64
}

// writtenCells returns every cell that the log leaves possible, from the joint normal
// distribution, written out.
func writtenCells(t *testing.T, p Prior, l smallLog) []told {
	t.Helper()
	var all []told
	top := math.Inf(-1)
	var last cell
	var joint *joint
	l.cells(p, func(c cell, weight float64) {
		if same := last; joint == nil || c != (cell{c.world, same.share, same.drift, same.scatter, same.excess, same.ruled}) {
			joint, last = l.jointly(t, p, c), c
		}
		logDensity, under := joint.given(c.world)
		if logDensity += math.Log(weight); logDensity > math.Inf(-1) {
			top = math.Max(top, logDensity)
			all = append(all, told{c, logDensity, under})
		}
	})
	total := 0.0
	for i := range all {
		all[i].weight = math.Exp(all[i].weight - top)
		total += all[i].weight
	}
	for i := range all {
		all[i].weight /= total
	}
	return all
}

// written returns the same chances from the joint normal distribution, written out; and
// those that are left if cells below a share of the whole are dropped.
func written(t *testing.T, p Prior, l smallLog, drop float64) (whole, kept []float64) {
	t.Helper()
	all := writtenCells(t, p, l)
	mix := func(least float64) []float64 {
		chance, sum := make([]float64, len(temperaturesAsked)), 0.0
		for _, a := range all {
			if a.weight < least {
				continue
			}
			sum += a.weight
			for i, under := range a.under {
				chance[i] += a.weight * under
			}
		}
		for i := range chance {
			chance[i] /= sum
		}
		return chance
	}
	return mix(0), mix(drop)
}

// joint is the normal distribution of the log's responses and the next one's, in the cells
// that differ in their world alone: its root, with the next run last.
type joint struct {
	smallLog
	cell
	mean []float64
	root mat.TriDense // lower triangle
}

// jointly writes the distribution out.
func (l smallLog) jointly(t *testing.T, p Prior, c cell) *joint {
	t.Helper()
	out := &joint{smallLog: l, cell: c}
	columns := regressors(p, l.runs, c)
	rank, days := daysOf(l.runs)
	n := len(l.runs)
	rows := make([][]float64, n+1)
	out.mean = make([]float64, n+1)
	for k := range rows {
		of, day := l.next, days
		if k < n {
			of, day = ConditionsOf(&l.runs[k]), rank[k]
		}
		rows[k] = rowOf(columns, of, day, days)
		for m, column := range columns {
			out.mean[k] += rows[k][m] * column.prior.Mean
		}
	}
	covariance := mat.NewSymDense(n+1, nil)
	for i := range n + 1 {
		for j := range i + 1 {
			v := 0.0
			for m, column := range columns {
				v += rows[i][m] * rows[j][m] * column.prior.SD * column.prior.SD
			}
			// The next run has a day of its own.
			if i == j || i < n && rank[i] == rank[j] {
				v += c.variance() * c.share
			}
			if i == j {
				v += c.variance()
			}
			if i == j && i < n && l.runs[i].StoppedByHeat {
				v += c.excess * c.excess / 9
			}
			if i == n && j == n {
				v += l.newLabels() * p.Label * p.Label
			}
			covariance.SetSym(i, j, v)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(covariance) {
		t.Fatal("the runs' covariance is not positive definite")
	}
	chol.LTo(&out.root)
	return out
}

// given returns the log density of the log's peaks in a world, and the chance of the next
// peak to lie under each temperature given them.
func (j *joint) given(w world) (logDensity float64, under []float64) {
	n := len(j.runs)
	z := make([]float64, n)
	// center returns where the k-th response is expected, knowing those before.
	center := func(k int) float64 {
		at := j.mean[k]
		for m := range k {
			at += j.root.At(k, m) * z[m]
		}
		return at
	}
	for k := range n {
		rise, share := writtenRise(j.runs, k, w)
		if rise <= 0 {
			return math.Inf(-1), nil
		}
		full := math.Log(rise / share)
		if j.runs[k].StoppedByHeat {
			full += j.excess
		}
		z[k] = (full - center(k)) / j.root.At(k, k)
		logDensity += distuv.UnitNormal.LogProb(z[k]) - math.Log(j.root.At(k, k)) - math.Log(rise)
	}
	under = make([]float64, len(temperaturesAsked))
	at, scale := center(n), j.root.At(n, n)
	for i, temperature := range temperaturesAsked {
		if rise, share := riseBeyond(j.next, temperature, logged(j.next), w.tau); rise > 0 {
			under[i] = distuv.UnitNormal.CDF((math.Log(rise/share) - at) / scale)
		}
	}
	return logDensity, under
}

// knowing returns p as it is of a car that is well known, whose runs scatter much. Few
// worlds drawn from a wide prior explain a dozen heat stops, and then those drawn tell little.
func knowing(p Prior) Prior {
	p.Level, p.Exponent, p.NoRule, p.Bend = Belief{4.15, 0.1}, Belief{1.5, 0.3}, Belief{0.5, 0.3}, Belief{0.5, 0.2}
	p.Scatters, p.DayShares = []Weighted{{0.12, 0.5}, {0.2, 0.5}}, []Weighted{{0, 0.5}, {0.35, 0.5}}
	return p
}

// holdRoads holds worlds drawn from the prior against the distribution written out: within
// four of the former's standard errors. Next to no drawn world gives a tiny chance, and then the
// error is as good as unknown: it counts as a millionth at least.
func holdRoads(t *testing.T, p Prior, l smallLog, want []float64) {
	t.Helper()
	drawn, stdErr := weighedWorlds(p, l, 400_000, 7)
	var most, widest float64
	for i, temperature := range temperaturesAsked {
		off := math.Abs(drawn[i]-want[i]) / math.Max(stdErr[i], 1e-6)
		most, widest = math.Max(most, off), math.Max(widest, stdErr[i])
		if !(off <= 4) || stdErr[i] > 0.015 {
			t.Errorf("under %g °C: written %.4f, weighed worlds %.4f, standard error %.4f", temperature, want[i], drawn[i], stdErr[i])
		}
	}
	t.Logf("the roads agree to %.1f standard errors, of %.4f at most", most, widest)
}

// holdChances holds a forecast's chances against others.
func holdChances(t *testing.T, what string, got Prediction, want []float64, most float64) {
	t.Helper()
	var near worst
	for i, temperature := range temperaturesAsked {
		if !near.holds(got.CDF(temperature), want[i], most) {
			t.Errorf("%s: under %g °C: chance %.12g, want %.12g", what, temperature, got.CDF(temperature), want[i])
		}
	}
	t.Logf("%s: chances agree to %.1g", what, near.off)
}

// TestFitReachesWrittenDistribution has the two other roads confirm each other, and holds
// fits to plain logs against the distribution written out.
func TestFitReachesWrittenDistribution(t *testing.T) {
	p := PriorOf(run.Motor)
	for _, l := range plainLogs() {
		t.Run(l.name, func(t *testing.T) {
			t.Parallel()
			whole, kept := written(t, p, l, negligible)
			holdRoads(t, p, l, whole)
			fit := motorFit(t, p, l.runs)
			holdChances(t, "not merged, the negligible dropped", unmerged(fit, l.next), kept, modelTolerance)
			holdChances(t, "forecast", fit.Predict(l.next), whole, forecastTolerance)
		})
	}
}

// TestHeatStopsReachWrittenDistribution does so for logs with any number of heat stops. They
// are held as plain runs are; only that more cells are negligible, and dropping them costs
// more.
func TestHeatStopsReachWrittenDistribution(t *testing.T) {
	const dropped = 4e-4
	p := PriorOf(run.Motor)
	for _, l := range stoppedLogs() {
		t.Run(l.name, func(t *testing.T) {
			t.Parallel()
			confirm := p
			if len(l.runs) > 9 {
				confirm = knowing(p)
			}
			whole, _ := written(t, confirm, l, negligible)
			holdRoads(t, confirm, l, whole)

			whole, kept := written(t, p, l, negligible)
			fit := motorFit(t, p, l.runs)
			holdChances(t, "not merged, the negligible dropped", unmerged(fit, l.next), kept, modelTolerance)
			holdChances(t, "forecast", fit.Predict(l.next), whole, dropped)
		})
	}
}
