package physics

import "math"

const (
	// gravity is the standard acceleration of free fall in m/s², exact by definition.
	gravity = 9.80665
	// airDensity is that of dry air near 20 °C in kg/m³, common practice.
	airDensity = 1.2
	// copperPerKelvin is how copper's resistance grows per kelvin, as a share of its
	// value at 20 °C: 1/254.5, the inferred zero-resistance point of -234.5 °C
	// (electrical-engineering-portal.com, "Temperature rise").
	copperPerKelvin = 1 / 254.5
	// roomCelsius is where cold resistances and fluxes are given.
	roomCelsius = 20.0
)

// hotCopper returns a copper resistance at a temperature in °C:
//
//	cold * (1 + (t - 20) / 254.5)
func hotCopper(cold, celsius float64) float64 {
	return cold * (1 + copperPerKelvin*(celsius-roomCelsius))
}

// Motor is a brushless motor seen from its direct-current side.
type Motor struct {
	KV         float64 // unloaded turns per minute and volt, cold
	Resistance float64 // Ω at 20 °C
	FluxLoss   float64 // share of the magnets' flux lost per kelvin above 20 °C
	Inertia    float64 // of the rotor, kg m²
	Iron       IronLaw
}

// fluxConstant returns torque per ampere in N m/A, which is also voltage per
// rad/s, at a temperature in °C.
func (m Motor) fluxConstant(celsius float64) float64 {
	return 30 / (math.Pi * m.KV) * (1 - m.FluxLoss*(celsius-roomCelsius))
}

// IronLaw is what turning costs a motor whatever its current, hysteresis, eddy currents
// and windage: the drag in N m at a speed in rad/s, 0 or above.
type IronLaw func(speed float64) float64

// powerLaw lumps all speed losses into one power of speed, from watts at a reference
// speed in rad/s; the exponent is 1 to 2 in laminated steel, common practice:
//
//	loss = watts * (speed / reference)^exponent
func powerLaw(watts, reference, exponent float64) IronLaw {
	return func(speed float64) float64 {
		if speed <= 0 {
			return 0
		}
		return watts / reference * math.Pow(speed/reference, exponent-1)
	}
}

// separatedLaw keeps the losses apart: a constant hysteresis torque in N m, an eddy
// torque in N m s that grows with speed, and windage in N m s² with its square.
func separatedLaw(hysteresis, eddy, windage float64) IronLaw {
	return func(speed float64) float64 { return hysteresis + speed*(eddy+speed*windage) }
}

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
