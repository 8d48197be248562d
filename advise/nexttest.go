package advise

import (
	"slices"

	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// NextTest is another run than the pick's that would narrow the answer much.
type NextTest struct {
	Gearing drivetrain.Gearing
	Minutes units.Minutes
	Chance  float64 // of staying under every limit, at this length
	// Part is the part whose forecast it narrows, and For the gearing that the
	// forecast is of.
	Part run.Part
	For  drivetrain.Gearing
	// Narrower is by what share the spread of that forecast shrinks: 1 - after/now.
	Narrower float64
}

// worthAPack is by what share another run has to narrow the pick's range to be worth a
// pack of its own.
const worthAPack = 0.15

// nextTest looks for the run that takes most from the spread of the binding part's
// forecast for the pick: with any other candidate that may be tried, full or half, if it
// reaches the wanted confidence at that length. Only the model's variances enter, so no
// outcome needs to be guessed. It returns nil where none is worth a pack, where the pick,
// which is run anyway, teaches as much, and where the car wants a look first.
func (a *Advice) nextTest() *NextTest {
	if slices.ContainsFunc(a.Warnings, analyze.ChecksFirst) {
		return nil
	}
	fit, limits := a.Car.Fit(a.Binding), Temperatures(a.Limits)
	target := a.With(a.Pick.Gearing)
	narrower := func(test analyze.Conditions) float64 {
		now, after := fit.Narrowing(target, test)
		return 1 - after/now
	}
	least := worthAPack
	if a.Action != NoneReachesConfidence {
		least = max(least, narrower(target))
	}
	var best *NextTest
	for i := range a.Candidates {
		c := &a.Candidates[i]
		if c == a.Pick || c.TooFarUp || c.Unproven {
			continue
		}
		for _, share := range []units.Minutes{1, 0.5} {
			test := a.With(c.Gearing)
			test.Minutes *= share
			n := narrower(test)
			if n < least || best != nil && n <= best.Narrower {
				continue
			}
			if chance := a.Car.Under(test, limits).All; chance >= a.Confidence {
				best = &NextTest{c.Gearing, test.Minutes, chance, a.Binding, a.Pick.Gearing, n}
			}
		}
	}
	return best
}

// Help is what else would bring the most probable candidate to the wanted confidence,
// where no candidate reaches it. It is 0 where nothing within reason would.
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

func (a *Advice) help() Help {
	var h Help
	base := a.With(a.Pick.Gearing)
	limits := Temperatures(a.Limits)
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
