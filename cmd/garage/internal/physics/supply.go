package physics

import "math"

// ESC is the speed controller: a chopper between pack and motor.
type ESC struct {
	OnResistance float64 // Ω in the motor current's way
	Switching    float64 // share of pack voltage × motor current lost in chopping
	Drop         float64 // V across the freewheeling path
	Idle         float64 // W, always
	Limit        float64 // A of motor current, either way
}

// loss returns the heat in the ESC in W at a motor current, a pack voltage and a
// duty of 0 to 1. At full duty nothing is chopped; just below it chopping fades in.
func (e ESC) loss(current, voltage, duty float64) float64 {
	i := math.Abs(current)
	chopped := math.Min(1, 10*(1-duty))
	return e.OnResistance*i*i + e.Switching*voltage*i*chopped + e.Drop*i*(1-duty) + e.Idle
}

// supply makes a share of an ESC's loss of some watts constant, and leaves the rest
// to follow the motor.
func (e *ESC) supply(watts, share float64) {
	e.OnResistance *= 1 - share
	e.Switching *= 1 - share
	e.Drop *= 1 - share
	e.Idle += share * (watts - e.Idle)
}

// Pack is a battery with a constant open voltage behind a resistance: a lap is
// short beside a discharge.
type Pack struct {
	Cells      int
	CellVolts  float64 // open voltage of a cell half way through the pack
	Resistance float64 // Ω, all cells and leads
}

func (p Pack) voltage() float64 { return float64(p.Cells) * p.CellVolts }

// most returns the power in W at which the pack has sagged to a share of its open
// voltage of lowestShare, where an ESC's voltage protection holds it.
func (p Pack) most() float64 {
	v := p.voltage()
	return lowestShare * (1 - lowestShare) * v * v / p.Resistance
}

const lowestShare = 0.65

// current returns the pack current in A that delivers a power in W (negative:
// takes back) at the terminals. It solves
//
//	voltage*i - Resistance*i² = power
//
// for the smaller current, and is the peak-power current where the pack can't
// deliver that much.
func (p Pack) current(power float64) float64 {
	v := p.voltage()
	inside := v*v - 4*p.Resistance*power
	return (v - math.Sqrt(math.Max(0, inside))) / (2 * p.Resistance)
}
