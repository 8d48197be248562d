package main

import (
	"regear/advise"
	"regear/analyze"
	domain "regear/analyze/run"
)

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
