package main

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	domain "regear/analyze/run"
	"regear/analyze/units"
)

// peer is a plain way to answer: a prediction for each part by itself, chances
// multiplied as if the parts were strangers.
type peer struct {
	name string
	// predict states the next reading of a part with a pinion, from the runs that
	// have a reading of it (one at least, oldest first).
	predict func(runs []reading, next reading) prediction
}

// reading is one run as a peer sees it.
type reading struct {
	pinion         float64
	ratio, rollout float64
	ambient, peak  float64 // °C
}

// rise returns the rise in K, at least 1 so that it has a logarithm.
func (r reading) rise() float64 { return math.Max(1, r.peak-r.ambient) }

// prediction is a bell curve over the next reading, or over the logarithm of its
// rise.
type prediction struct {
	middle, scale float64
	df            float64 // of Student's t; 0 = normal
	ofLogRise     bool
	ambient       float64
}

// Name implements [Adviser].
func (p peer) Name() string { return p.name }

// Advise implements [Adviser].
func (p peer) Advise(log []domain.Run, q Question) Answer {
	answer := Answer{Forecasts: make([]Forecast, len(q.Candidates))}
	for i, pinion := range q.Candidates {
		f := Forecast{Chance: 1, Known: true}
		next := seen(withPinion(q.Next, pinion), 0)
		for _, part := range domain.Parts {
			limit, judged := q.Limits.Of(part)
			if !judged {
				continue
			}
			said := p.predict(readings(log, part), next)
			f.Chance *= said.below(float64(limit))
			f.Peaks[part] = Interval{
				Low:   units.Celsius(said.quantile(0.1)),
				High:  units.Celsius(said.quantile(0.9)),
				Known: true,
			}
		}
		answer.Forecasts[i] = f
	}
	answer.Pick = tallest(log, q, func(i int) (float64, bool) { return answer.Forecasts[i].Chance, true })
	return answer
}

func readings(log []domain.Run, part domain.Part) []reading {
	var runs []reading
	for _, r := range log {
		if peak, ok := r.Peak.Of(part); ok {
			runs = append(runs, seen(r, float64(peak)))
		}
	}
	return runs
}

func withPinion(r domain.Run, teeth int) domain.Run {
	r.Gearing = r.Gearing.WithPinion(teeth)
	return r
}

func seen(r domain.Run, peak float64) reading {
	return reading{
		pinion:  float64(r.Gearing.Pinion),
		ratio:   r.Gearing.FinalDriveRatio(),
		rollout: float64(r.Rollout()),
		ambient: float64(r.Ambient),
		peak:    peak,
	}
}

// below returns the stated chance of a reading up to limit.
func (p prediction) below(limit float64) float64 {
	x := limit
	if p.ofLogRise {
		if limit <= p.ambient {
			return 0
		}
		x = math.Log(limit - p.ambient)
	}
	if p.df == 0 {
		return distuv.Normal{Mu: p.middle, Sigma: p.scale}.CDF(x)
	}
	return distuv.StudentsT{Mu: p.middle, Sigma: p.scale, Nu: p.df}.CDF(x)
}

func (p prediction) quantile(share float64) float64 {
	var x float64
	if p.df == 0 {
		x = distuv.Normal{Mu: p.middle, Sigma: p.scale}.Quantile(share)
	} else {
		x = distuv.StudentsT{Mu: p.middle, Sigma: p.scale, Nu: p.df}.Quantile(share)
	}
	if p.ofLogRise {
		return p.ambient + math.Exp(x)
	}
	return x
}

const (
	degreesPerTooth = 5.5
	fixedScatter    = 3.0  // K, what a rule of thumb allows for
	squareScatter   = 0.10 // of ln rise
	squareExponent  = 2.0
	// Runs that agree perfectly must not state certainty: the least scatters are
	// those of readings rounded to whole degrees, 1/sqrt(12) K.
	leastScatter    = 0.29
	leastLogScatter = 0.01
)

// perTooth adds a fixed step a tooth to the last reading.
func perTooth(runs []reading, next reading) prediction {
	last := runs[len(runs)-1]
	return prediction{middle: last.peak + degreesPerTooth*(next.pinion-last.pinion), scale: fixedScatter}
}

// lineOnRatio is the spreadsheet's line of peak on final drive ratio with its
// prediction interval. With one gearing, or two runs, there is no line with a
// scatter: it answers with the mean and its t interval, and after one run with the
// last reading and a fixed scatter.
func lineOnRatio(runs []reading, next reading) prediction {
	ratio, peak := columns(runs, func(r reading) (x, y float64) { return r.ratio, r.peak })
	return leastSquares(ratio, peak, next.ratio, leastScatter, fixedScatter)
}

// squareLaw scales the last rise with the square of rollout.
func squareLaw(runs []reading, next reading) prediction {
	last := runs[len(runs)-1]
	return prediction{
		middle:    math.Log(last.rise()) + squareExponent*math.Log(next.rollout/last.rollout),
		scale:     squareScatter,
		ofLogRise: true,
		ambient:   next.ambient,
	}
}

// logLine is least squares of ln rise on ln rollout with its prediction interval.
// Without a slope to be had it takes the square law's, about the mean.
func logLine(runs []reading, next reading) prediction {
	rollout, rise := columns(runs, func(r reading) (x, y float64) { return math.Log(r.rollout), math.Log(r.rise()) })
	at := math.Log(next.rollout)
	lift := 0.0
	if !hasLine(rollout) {
		for i, x := range rollout {
			rise[i] -= squareExponent * x
		}
		lift = squareExponent * at
	}
	p := leastSquares(rollout, rise, at, leastLogScatter, squareScatter)
	p.middle += lift
	p.ofLogRise, p.ambient = true, next.ambient
	return p
}

// hasLine tells whether points at x can give a slope and a scatter about it.
func hasLine(x []float64) bool {
	varied := slices.ContainsFunc(x, func(v float64) bool { return v != x[0] })
	return varied && len(x) > 2
}

func columns(runs []reading, of func(reading) (x, y float64)) (x, y []float64) {
	x, y = make([]float64, len(runs)), make([]float64, len(runs))
	for i, r := range runs {
		x[i], y[i] = of(r)
	}
	return x, y
}

// leastSquares predicts one further y at a given x from a line through points, or
// from their mean where a line has no slope or no scatter left:
//
//	scale² = s² (1 + 1/n + (at - mean x)² / Sxx), s² on n-2 degrees of freedom
//
// s is taken as least at the least. One point alone gets the scatter alone.
func leastSquares(x, y []float64, at, least, alone float64) prediction {
	n := float64(len(x))
	if len(x) == 1 {
		return prediction{middle: y[0], scale: alone}
	}
	if !hasLine(x) {
		s := math.Max(least, stat.StdDev(y, nil))
		return prediction{middle: stat.Mean(y, nil), scale: s * math.Sqrt(1+1/n), df: n - 1}
	}
	a, b := stat.LinearRegression(x, y, nil, false)
	meanX := stat.Mean(x, nil)
	var sxx, rss float64
	for i := range x {
		sxx += (x[i] - meanX) * (x[i] - meanX)
		e := y[i] - a - b*x[i]
		rss += e * e
	}
	s := math.Max(least, math.Sqrt(rss/(n-2)))
	away := at - meanX
	return prediction{middle: a + b*at, scale: s * math.Sqrt(1+1/n+away*away/sxx), df: n - 2}
}
