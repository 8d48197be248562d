package advise

import (
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// NextTest is the one run that would narrow the answer most.
type NextTest struct {
	Gearing drivetrain.Gearing
	Minutes units.Minutes
	// Part is the part whose forecast it narrows, and For the gearing that the
	// forecast is of.
	Part runlog.Part
	For  drivetrain.Gearing
	// Narrower is by what share the spread of that forecast shrinks: 1 - after/now.
	Narrower float64
}

// goodEnough is the share of the most that a run can teach from which the pick at
// full length is preferred: it will be run anyway.
const goodEnough = 0.8

// shortestTest is the shortest run that is worth reading.
const shortestTest units.Minutes = 2

// nextTest looks for the run that takes most from the spread of the binding part's
// forecast for the pick, over the candidates that may be tried and a full or half
// run, none longer than reaches the wanted confidence. Only the model's variances enter, so no outcome needs to be guessed.
func (a *Advice) nextTest() NextTest {
	fit := a.Car.Fit(a.Binding)
	target := a.With(a.Pick.Gearing)
	try := func(c *Candidate, share units.Minutes) NextTest {
		test := a.With(c.Gearing)
		test.Minutes *= share
		if c.HasMinutesToLimit {
			test.Minutes = min(test.Minutes, max(c.MinutesToLimit, shortestTest))
		}
		now, after := fit.Narrowing(target, test)
		return NextTest{Gearing: c.Gearing, Minutes: test.Minutes, Part: a.Binding, For: a.Pick.Gearing, Narrower: 1 - after/now}
	}
	pick := try(a.Pick, 1)
	best := pick
	for i := range a.Candidates {
		if c := &a.Candidates[i]; a.mayTry(c) {
			for _, share := range []units.Minutes{1, 0.5} {
				if t := try(c, share); t.Narrower > best.Narrower {
					best = t
				}
			}
		}
	}
	if pick.Narrower >= goodEnough*best.Narrower {
		return pick
	}
	return best
}

// mayTry reports whether a candidate is safe enough to be run for the sake of
// learning: the pick itself, or one within the step up that reaches the confidence.
func (a *Advice) mayTry(c *Candidate) bool {
	return c == a.Pick || c.Reaches && !c.TooFarUp
}

// Help is what else would bring the most probable candidate to the wanted
// confidence, where no candidate reaches it. What would not, or not within reason,
// is absent (0).
type Help struct {
	Minutes units.Minutes     // a run no longer than this
	Tire    units.Millimeters // a tire no larger than this
	Spur    int               // a spur of at least this many teeth
}

// How far help is looked for: beyond these, it is another car.
const (
	smallestTireShare = 0.7
	largestSpurShare  = 1.4
)

// help looks for what else would do.
func (a *Advice) help() Help {
	var h Help
	base := a.With(a.Pick.Gearing)
	limits := a.limits()
	reaches := func(c analyze.Conditions) bool { return a.Car.Under(c, limits).All >= a.Confidence }

	if a.Pick.HasMinutesToLimit && a.Pick.MinutesToLimit >= 1 {
		h.Minutes = a.Pick.MinutesToLimit
	}
	for tire := base.Tire - 1; tire >= base.Tire*smallestTireShare; tire-- {
		c := base
		if c.Tire = tire; reaches(c) {
			h.Tire = tire
			break
		}
	}
	for spur := base.Gearing.Spur + 1; float64(spur) <= float64(base.Gearing.Spur)*largestSpurShare; spur++ {
		c := base
		if c.Gearing.Spur = spur; reaches(c) {
			h.Spur = spur
			break
		}
	}
	return h
}
