package analyze

import (
	"math"

	"regear/analyze/run"
)

// Belief is a normal distribution over one coefficient before any run is seen.
type Belief struct {
	Mean, SD float64
}

// Weighted is one value of a quantity that is averaged over, and its prior weight.
type Weighted struct {
	Value, Weight float64
}

// Prior is all that the model holds of a part before it has seen a run. Every spread
// is in units of its own: a driver whose runs repeat closely is held to the general rule
// no harder than any other.
type Prior struct {
	// Level is the natural logarithm of the plateau rise in kelvin at the middle
	// gearing of the log. It is wide on purpose: one run is enough to override it.
	Level Belief
	// Exponent is d ln(rise) / d ln(rollout) at the middle gearing of the log, by the
	// general rule. Some parts follow no rule: NoRule is what is held of those, and
	// NoRuleWeight how often they are met.
	Exponent, NoRule Belief
	NoRuleWeight     float64
	// Bend is the coefficient of ln²(rollout): half of how much the exponent itself
	// grows for each unit of ln(rollout).
	Bend Belief
	// Tire is what a tire does beyond its rollout: d ln(rise) / d ln(diameter).
	Tire Belief
	// Cells is d ln(rise) / d ln(cells).
	Cells Belief
	// Air is d ln(rise) / d air, for each kelvin.
	Air Belief
	// Label is the spread of one surface's or one cooling's effect on ln(rise).
	Label float64
	// Drifts are the spreads of the change of ln(rise) over driftDays days of driving
	// (the whole log, where that is longer) that are averaged over: most cars stay
	// as they are, some wear. A log of one day has no drift.
	Drifts []Weighted
	// Scatters are how ln(rise) may scatter between runs of different days: the root of the
	// variance within a day plus that of the day effect.
	Scatters []Weighted
	// DayShares are the variances that runs of one day have in common, in units of the
	// variance within a day, that are averaged over.
	DayShares []Weighted
	// HeatStopExcesses are by how much the ln(rise) of a full run exceeds that of one that
	// heat cut short, on average and in spread, over the heat stops of one log.
	HeatStopExcesses []Weighted
	// HeatLeft are the shares of the heat that standing leaves in a part from one run to
	// the next, that are averaged over where no start was read: a fan takes it all away.
	HeatLeft []Weighted
	// TimeConstants are the time constants in minutes that are averaged over.
	TimeConstants []Weighted
}

// PriorOf returns what is held of a part before any run.
//
// The exponents' middles and spans come from a time-stepped drivetrain model over
// plausible cars (motor 1.3, 5 to 95 % -0.4 to 2.5; ESC 1.9, 1.3 to 2.7; battery
// 2.3, 1.8 to 3.1), as no measured exponent is published; the limits that they
// have to respect are physics: copper loss alone gives 2, air drag alone about 3,
// and losses that follow motor speed 0 or less. The motor's bend is positive because
// its heat is a sum of one part that grows and one that shrinks with rollout, and such
// a sum is convex; its exponent is a little above the middle to go with that, as the bend
// takes from the slope below the middle gearing what it adds above. A part without a rule is
// one whose heat is mostly constant, as an ESC's that feeds the servo and its own supply,
// and exponents from below 0 to beyond 1 are then as likely; the motor's own span is so wide
// that it hardly needs one. A larger tire is also a heavier one that grips more, hence
// Tire. Copper's resistance grows by 0.393 % a kelvin (1/254.5 from 20 °C on:
// electrical-engineering-portal.com, "Temperature rise", read), so that hot air makes the rise itself larger, by that much at most
// and by nothing where other losses decide, hence Air. The battery's rise is small, so that
// a gun's own scatter weighs more. Time constants, day effects, label effects, scatter and
// the excess of heat stops are common practice without a source. All were tried on the
// simulated garages of cmd/garage, and none was set to please a single kind.
func PriorOf(part run.Part) Prior {
	p := Prior{
		Level:            Belief{Mean: math.Log(45), SD: 1},
		NoRule:           Belief{Mean: 0.5, SD: 0.7},
		Tire:             Belief{Mean: 0.4, SD: 0.35},
		Cells:            Belief{Mean: 2, SD: 0.7},
		Air:              Belief{Mean: 0.002, SD: 0.002},
		Label:            0.1,
		Drifts:           []Weighted{{0.03, 0.85}, {0.27, 0.15}},
		DayShares:        []Weighted{{0, 0.38}, {0.35, 0.33}, {1, 0.23}, {9, 0.06}},
		HeatStopExcesses: []Weighted{{0.05, 0.2}, {0.1, 0.22}, {0.2, 0.22}, {0.4, 0.18}, {0.8, 0.1}, {1.6, 0.05}, {3.2, 0.03}},
		HeatLeft:         []Weighted{{0, 1. / 3}, {0.5, 1. / 3}, {1, 1. / 3}},
	}
	scatter := 0.065
	switch part {
	case run.Motor:
		p.Exponent = Belief{Mean: 1.5, SD: 0.9}
		p.NoRuleWeight = 0.03
		p.Bend = Belief{Mean: 0.5, SD: 0.8}
		p.TimeConstants = logNormalGrid(6, 0.4)
	case run.ESC:
		p.Exponent = Belief{Mean: 1.95, SD: 0.45}
		p.NoRuleWeight = 0.1
		p.Bend = Belief{Mean: 0, SD: 0.5}
		p.TimeConstants = logNormalGrid(5, 0.4)
	case run.Battery:
		p.Exponent = Belief{Mean: 2.35, SD: 0.45}
		p.NoRuleWeight = 0.05
		p.Bend = Belief{Mean: 0, SD: 0.5}
		scatter = 0.089
		p.TimeConstants = logNormalGrid(24, 0.4)
		// The pack that goes in is another one, at the temperature of the air.
		p.HeatLeft = []Weighted{{0, 1}}
	}
	p.Scatters = scatterGrid(scatter, 3)
	return p
}

// scatterGrid stands for what is held of a scatter σ whose σ² is inverse gamma around
// middle² with the evidence of so many runs, by ten of its values, weighted by the density
// of ln σ:
//
//	p(ln σ) ∝ σ^-runs exp(-runs middle²/(2σ²))
func scatterGrid(middle, runs float64) []Weighted {
	const lowest, highest, n = 0.25, 2.7, 10 // from the middle
	grid := make([]Weighted, n)
	for i := range grid {
		ratio := lowest * math.Pow(highest/lowest, float64(i)/(n-1))
		grid[i] = Weighted{middle * ratio, math.Pow(ratio, -runs) * math.Exp(-runs/(2*ratio*ratio))}
	}
	return normalized(grid)
}

func normalized(grid []Weighted) []Weighted {
	total := 0.0
	for _, w := range grid {
		total += w.Weight
	}
	for i := range grid {
		grid[i].Weight /= total
	}
	return grid
}

// logNormalGrid stands for a log-normal distribution by five of its points: the
// middle and one and two spreads to each side, weighted by the density there.
func logNormalGrid(middle, spread float64) []Weighted {
	grid := make([]Weighted, 0, 5)
	for k := -2; k <= 2; k++ {
		z := float64(k)
		grid = append(grid, Weighted{middle * math.Exp(z*spread), math.Exp(-z * z / 2)})
	}
	return normalized(grid)
}
