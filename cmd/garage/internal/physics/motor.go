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

// IronLaw is what turning costs a motor whatever its current: hysteresis, eddy
// currents and windage.
type IronLaw interface {
	// Torque returns the drag in N m at a speed in rad/s, 0 or above.
	Torque(speed float64) float64
}

// PowerLaw lumps all speed losses into one power of speed:
//
//	loss = Watts * (speed / Reference)^Exponent
type PowerLaw struct {
	Watts     float64 // at Reference
	Reference float64 // rad/s
	Exponent  float64 // 1 to 2 in laminated steel, common practice
}

// Torque implements [IronLaw].
func (l PowerLaw) Torque(speed float64) float64 {
	if speed <= 0 {
		return 0
	}
	return l.Watts / l.Reference * math.Pow(speed/l.Reference, l.Exponent-1)
}

// SeparatedLaw keeps the losses apart: a constant hysteresis torque, an eddy
// torque that grows with speed, and windage with its square.
type SeparatedLaw struct {
	Hysteresis float64 // N m
	Eddy       float64 // N m s
	Windage    float64 // N m s²
}

// Torque implements [IronLaw].
func (l SeparatedLaw) Torque(speed float64) float64 {
	return l.Hysteresis + speed*(l.Eddy+speed*l.Windage)
}
