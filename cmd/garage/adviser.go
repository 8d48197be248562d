package main

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"regear/advise"
	"regear/analyze"
	domain "regear/analyze/run"
	"regear/analyze/units"
)

// Question is what an adviser is asked after a log.
type Question struct {
	// Next is the run to come: its day, spur, internal ratio, tire, air, minutes and
	// labels, with the last run's pinion and no readings.
	Next       domain.Run
	Candidates []int // pinions, rising
	Limits     domain.ByPart[units.Celsius]
	Confidence float64
	MaxStepUp  int // most teeth above the last run's rollout at once
}

// Answer is what an adviser states.
type Answer struct {
	Forecasts []Forecast // one a candidate, in the question's order
	Pick      int        // pinion; 0 where none reaches the wanted confidence
}

// Forecast is what an adviser states of one candidate. The zero value states
// nothing.
type Forecast struct {
	Chance float64 // that the run stays under every limit
	Known  bool    // Chance is stated
	Peaks  domain.ByPart[Interval]
}

// Interval is the stated 80 % interval of a part's peak: its 10th and 90th
// percentile.
type Interval struct{ Low, High units.Celsius }

// Adviser is anything that answers a question from a log.
type Adviser struct {
	name   string
	advise func(log []domain.Run, q Question) Answer
}

// advisers are judged in the order of the tables.
var advisers = []Adviser{
	{"regear", askRegear},
	{"one tooth = 5.5 °C", perTooth.advise},
	{"line of peak on ratio, t", lineOnRatio.advise},
	{"rise ∝ rollout², 10 %", squareLaw.advise},
	{"least squares on logs, t", logLine.advise},
}

// askRegear asks this repository as its command does. A log that can't be fitted gets no
// forecast.
func askRegear(log []domain.Run, q Question) Answer {
	answer := Answer{Forecasts: make([]Forecast, len(q.Candidates))}
	car, err := analyze.FitCar(log)
	if err != nil {
		return answer
	}
	request := advise.Request{
		Confidence: q.Confidence,
		Gearings:   advise.Pinions(q.Next.Gearing, q.Candidates, []int{q.Next.Gearing.Spur}),
		Next:       analyze.ConditionsOf(&q.Next),
		MaxStepUp:  q.MaxStepUp,
	}
	for part, limit := range q.Limits.All() {
		request.Limits.Set(part, advise.Limit{Temperature: limit, Origin: advise.Given})
	}
	advice, err := advise.For(car, request)
	if err != nil {
		return answer
	}
	for i, c := range advice.Candidates {
		f := Forecast{Chance: c.Chance, Known: true}
		for part, p := range c.Parts.All() {
			f.Peaks.Set(part, Interval{Low: p.P10, High: p.P90})
		}
		answer.Forecasts[i] = f
	}
	if advice.Action != advise.NoneReachesConfidence {
		answer.Pick = advice.Pick.Gearing.Pinion
	}
	return answer
}

// answerEach answers with a forecast for every candidate, and with the policy's pick of
// their chances.
func answerEach(log []domain.Run, q Question, forecast func(candidate int) Forecast) (a Answer) {
	for i := range q.Candidates {
		a.Forecasts = append(a.Forecasts, forecast(i))
	}
	a.Pick = tallest(log, q, func(i int) float64 { return a.Forecasts[i].Chance })
	return a
}

// tallest returns the policy's pick, on stated chances or true ones: the tallest allowed
// candidate with at least the wanted chance, or 0.
func tallest(log []domain.Run, q Question, chance func(candidate int) float64) int {
	most := highestAllowed(log, q)
	pick := 0
	for i, pinion := range q.Candidates {
		if chance(i) >= q.Confidence && float64(pinion) <= most {
			pick = pinion
		}
	}
	return pick
}

// highestAllowed returns, in teeth, how far up the question lets an adviser go: so many
// teeth above the last run's rollout.
func highestAllowed(log []domain.Run, q Question) float64 {
	last := log[len(log)-1]
	const rounding = 1e-9 // the same gearing must not miss itself
	return q.Next.Gearing.PinionFor(last.Rollout(), q.Next.Tire) + float64(q.MaxStepUp) + rounding
}

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
