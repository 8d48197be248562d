package main

import (
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

// advisers are those who are judged, in the order of the tables.
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
	advice, err := regearAdvice(log, q)
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

func regearAdvice(log []domain.Run, q Question) (*advise.Advice, error) {
	car, err := analyze.FitCar(log)
	if err != nil {
		return nil, err
	}
	var limits domain.ByPart[advise.Limit]
	for part, limit := range q.Limits.All() {
		limits.Set(part, advise.Limit{Temperature: limit, Origin: advise.Given})
	}
	return advise.For(car, advise.Request{
		Limits:     limits,
		Confidence: q.Confidence,
		Gearings:   advise.Pinions(q.Next.Gearing, q.Candidates, []int{q.Next.Gearing.Spur}),
		Next:       analyze.ConditionsOf(&q.Next),
		MaxStepUp:  q.MaxStepUp,
	})
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

// tallest returns the policy's pick: of the allowed candidates with at least the
// wanted chance the tallest, or 0. It is used on stated chances and on true ones.
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
