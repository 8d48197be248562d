package main

import (
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
	Peaks  [len(domain.Parts)]Interval
}

// Interval is the stated 80 % interval of a part's peak: its 10th and 90th
// percentile.
type Interval struct {
	Low, High units.Celsius
	Known     bool
}

// Adviser is anything that answers a question from a log.
type Adviser interface {
	Name() string
	Advise(log []domain.Run, q Question) Answer
}

// advisers lists who is judged, in the order of the tables.
func advisers() []Adviser {
	return []Adviser{
		regear{},
		peer{name: "one tooth = 5.5 °C", predict: perTooth},
		peer{name: "line of peak on ratio, t", predict: lineOnRatio},
		peer{name: "rise ∝ rollout², 10 %", predict: squareLaw},
		peer{name: "least squares on logs, t", predict: logLine},
	}
}

// tallest returns the policy's pick: of the allowed candidates with at least the
// wanted chance the tallest, or 0. It is used on stated chances and on true ones.
func tallest(log []domain.Run, q Question, chance func(candidate int) (p float64, known bool)) int {
	most := highestAllowed(log, q)
	pick := 0
	for i, pinion := range q.Candidates {
		if p, known := chance(i); known && p >= q.Confidence && float64(pinion) <= most {
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
