package analyze

import (
	"math"

	"regear/analyze/runlog"
)

// Belief is a normal distribution over one coefficient before any run is seen.
type Belief struct {
	Mean, SD float64
}

// Weighted is one value of a quantity that is averaged over, and its prior weight.
type Weighted struct {
	Value, Weight float64
}

// Prior is all that the model holds of a part before it has seen a run.
//
// Every spread is the one that holds when runs scatter as Scatter says: the
// regression is conjugate, so a car whose runs scatter twice as much is also
// believed to differ twice as much from the middle.
type Prior struct {
	// Level is the natural logarithm of the plateau rise in kelvin at the middle
	// gearing of the log. It is wide on purpose: one run is enough to override it.
	Level Belief
	// Exponent is d ln(rise) / d ln(rollout) at the middle gearing of the log.
	Exponent Belief
	// Bend is the coefficient of ln²(rollout): half of how much the exponent itself
	// grows for each unit of ln(rollout).
	Bend Belief
	// Tire is what a tire does beyond its rollout: d ln(rise) / d ln(diameter).
	Tire Belief
	// Cells is d ln(rise) / d ln(cells).
	Cells Belief
	// Label is the spread of one surface's or one cooling's effect on ln(rise).
	Label float64
	// Drifts are the spreads of the change of ln(rise) over driftDays days of driving
	// (the whole log, where that is longer) that are averaged over: most cars stay
	// as they are, some wear.
	Drifts []Weighted
	// Scatter is the run-to-run scatter of ln(rise), and ScatterRuns says how many
	// runs' worth of evidence that figure has (degrees of freedom).
	Scatter, ScatterRuns float64
	// HeatStopExcess is by how much the ln(rise) of an undisturbed run exceeds that of
	// one that heat cut short, on average.
	HeatStopExcess float64
	// TimeConstants are the time constants in minutes that are averaged over.
	TimeConstants []Weighted
	// DayShares are the variances of the day effect, in units of the run-to-run
	// variance, that are averaged over.
	DayShares []Weighted
}

// taus returns the time constants without their weights.
func (p *Prior) taus() []float64 {
	all := make([]float64, len(p.TimeConstants))
	for k, tau := range p.TimeConstants {
		all[k] = tau.Value
	}
	return all
}

// spread returns the spread of a mixture of normals about 0 of the given spreads.
func spread(of []Weighted) float64 {
	squares, weights := 0.0, 0.0
	for _, w := range of {
		squares += w.Weight * w.Value * w.Value
		weights += w.Weight
	}
	return math.Sqrt(squares / weights)
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
// takes from the slope below the middle gearing what it adds above. A larger tire is also a heavier one that grips more, hence Tire.
// The battery's rise is small, so that a gun's own scatter weighs more. Time
// constants, day effects, label effects and scatter are common practice without a
// source. All were tried on the simulated garages of cmd/garage, and none was set to
// please a single one.
func PriorOf(part runlog.Part) Prior {
	p := Prior{
		Level:          Belief{Mean: math.Log(45), SD: 1},
		Tire:           Belief{Mean: 0.4, SD: 0.35},
		Cells:          Belief{Mean: 2, SD: 0.7},
		Label:          0.1,
		Drifts:         []Weighted{{0.03, 0.75}, {0.2, 0.25}},
		Scatter:        0.075,
		ScatterRuns:    6,
		HeatStopExcess: 0.25,
		DayShares:      []Weighted{{0, 0.4}, {0.35, 0.35}, {1, 0.25}},
	}
	switch part {
	case runlog.Motor:
		p.Exponent = Belief{Mean: 1.4, SD: 0.9}
		p.Bend = Belief{Mean: 0.5, SD: 0.8}
		p.TimeConstants = logNormalGrid(6, 0.4)
	case runlog.ESC:
		p.Exponent = Belief{Mean: 1.95, SD: 0.45}
		p.Bend = Belief{Mean: 0, SD: 0.5}
		p.TimeConstants = logNormalGrid(5, 0.4)
	case runlog.Battery:
		p.Exponent = Belief{Mean: 2.35, SD: 0.45}
		p.Bend = Belief{Mean: 0, SD: 0.5}
		p.Scatter = 0.1
		p.TimeConstants = logNormalGrid(24, 0.4)
	}
	return p
}

// logNormalGrid stands for a log-normal distribution by five of its points: the
// middle and one and two spreads to each side, weighted by the density there.
func logNormalGrid(middle, spread float64) []Weighted {
	grid := make([]Weighted, 0, 5)
	for k := -2; k <= 2; k++ {
		z := float64(k)
		grid = append(grid, Weighted{middle * math.Exp(z*spread), math.Exp(-z * z / 2)})
	}
	return grid
}
