package main

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	domain "regear/analyze/run"
	"regear/analyze/units"
)

// peer is a plain way to answer: a line for each part by itself, through the runs that
// have a reading of it, and chances multiplied as if the parts were independent.
type peer struct {
	x     func(*domain.Run) float64
	logs  bool    // y is the logarithm of the rise in K, otherwise the reading in °C
	fits  bool    // through all runs, otherwise through the last one alone
	slope float64 // where the runs don't give one
	// least is the smallest scatter of y that is stated, as runs that agree perfectly don't
	// make the next one certain, and alone is the scatter after a single run.
	least, alone float64
}

func pinionTeeth(r *domain.Run) float64  { return float64(r.Gearing.Pinion) }
func finalDrive(r *domain.Run) float64   { return r.Gearing.FinalDriveRatio() }
func logOfRollout(r *domain.Run) float64 { return math.Log(float64(r.Rollout())) }

const (
	ofRounding    = 0.29 // K: that of readings rounded to whole degrees, 1/sqrt(12)
	ofRuleOfThumb = 3.0  // K
)

var (
	// perTooth adds a fixed step a tooth to the last reading.
	perTooth = peer{x: pinionTeeth, slope: 5.5, alone: ofRuleOfThumb}
	// lineOnRatio is the spreadsheet's line of peak on final drive ratio with its
	// prediction interval, the mean where there is no slope to be had.
	lineOnRatio = peer{x: finalDrive, fits: true, least: ofRounding, alone: ofRuleOfThumb}
	// squareLaw scales the last rise with the square of rollout.
	squareLaw = peer{x: logOfRollout, logs: true, slope: 2, alone: 0.10}
	// logLine is least squares of ln rise on ln rollout with its prediction interval,
	// the square law about the mean where there is no slope to be had.
	logLine = peer{x: logOfRollout, logs: true, fits: true, slope: 2, least: 0.01, alone: 0.10}
)

func (p peer) advise(log []domain.Run, q Question) Answer {
	return answerEach(log, q, func(i int) Forecast {
		f := Forecast{Chance: 1, Known: true}
		next := q.Next
		next.Gearing = next.Gearing.WithPinion(q.Candidates[i])
		for part, limit := range q.Limits.All() {
			y := p.predict(log, part, &next)
			f.Chance *= y.CDF(p.y(limit, &next, 0))
			f.Peaks.Set(part, Interval{Low: p.peak(y.Quantile(0.1), &next), High: p.peak(y.Quantile(0.9), &next)})
		}
		return f
	})
}

// y returns what the peer's line is drawn through: a part's peak in a run, or the
// logarithm of its rise, which is taken as least if it is smaller.
func (p peer) y(peak units.Celsius, r *domain.Run, least units.Rise) float64 {
	if p.logs {
		return math.Log(float64(max(least, peak.Above(r.Ambient))))
	}
	return float64(peak)
}

// peak is the inverse of y.
func (p peer) peak(y float64, r *domain.Run) units.Celsius {
	if p.logs {
		return r.Ambient.Plus(units.Rise(math.Exp(y)))
	}
	return units.Celsius(y)
}

// predict states y of a part in the next run, from a log that has a reading of it.
func (p peer) predict(log []domain.Run, part domain.Part, next *domain.Run) bell {
	var x, y []float64
	for i := range log {
		if peak, read := log[i].Peak.Of(part); read {
			x, y = append(x, p.x(&log[i])), append(y, p.y(peak, &log[i], 1))
		}
	}
	if !p.fits {
		x, y = x[len(x)-1:], y[len(y)-1:]
	}
	return p.line(x, y, p.x(next))
}

// bell is a bell curve.
type bell interface {
	CDF(x float64) float64
	Quantile(share float64) float64
}

// line predicts one further y at a given x from a line through points:
//
//	scale² = s² (1 + 1/n + (at - mean x)² / Sxx), s² on n-2 degrees of freedom
//
// Points at one x, or two alone, give a level instead, carried along the peer's slope,
// with s² on n-1 degrees of freedom and without the last term.
func (p peer) line(x, y []float64, at float64) bell {
	n := float64(len(x))
	if n < 3 || floats.Min(x) == floats.Max(x) {
		level := make([]float64, len(x))
		for i := range x {
			level[i] = y[i] + p.slope*(at-x[i])
		}
		if n == 1 {
			return distuv.Normal{Mu: level[0], Sigma: p.alone}
		}
		middle, s := stat.MeanStdDev(level, nil)
		return distuv.StudentsT{Mu: middle, Sigma: math.Max(p.least, s) * math.Sqrt(1+1/n), Nu: n - 1}
	}
	a, b := stat.LinearRegression(x, y, nil, false)
	meanX := stat.Mean(x, nil)
	var sxx, rss float64
	for i := range x {
		sxx += (x[i] - meanX) * (x[i] - meanX)
		e := y[i] - a - b*x[i]
		rss += e * e
	}
	s := math.Max(p.least, math.Sqrt(rss/(n-2)))
	away := at - meanX
	return distuv.StudentsT{Mu: a + b*at, Sigma: s * math.Sqrt(1+1/n+away*away/sxx), Nu: n - 2}
}
