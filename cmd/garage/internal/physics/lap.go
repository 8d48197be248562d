package physics

import "math"

// Segment is a stretch of a track as a driver takes it.
type Segment struct {
	Length   float64 // m
	Speed    float64 // m/s that the driver wants or the corner allows
	Throttle float64 // 0 to 1: what a trigger driver holds; 0 = drives to Speed
	Pause    float64 // s of standing still before the stretch
}

// Driver is how a car is taken over a track.
type Driver struct {
	Push  float64 // hardest acceleration asked for, m/s²
	Brake float64 // deceleration asked for, m/s²
	// MotorBrake is the share of the braking that the motor does; tire scrub and
	// drag do the rest.
	MotorBrake float64
	// Ease is how far a trigger driver backs off as gearing grows taller:
	// throttle ∝ (rollout / ComfortRollout)^-Ease.
	Ease           float64
	ComfortRollout float64 // mm
}

// Body is the car without its drive.
type Body struct {
	Mass      float64 // kg without tires
	TireMass  float64 // kg of all tires at TireSize
	TireSize  float64 // mm
	Rolling   float64 // resistance as a share of weight, at TireSize
	TireDrag  float64 // exponent with which Rolling grows with tire size
	AirDrag   float64 // drag coefficient × frontal area, m²
	MeshLoss  float64 // share of power lost in gears and joints
	TireSpin  float64 // rotating mass share of the tires, 0.5 (disc) to 1 (hoop)
	TireGrows float64 // exponent with which tire mass grows with its size
}

// Setup is one way to run the car.
type Setup struct {
	Ratio   float64 // motor turns per wheel turn
	Tire    float64 // mm
	Surface float64 // multiplies rolling resistance; 1 on the home track
	Wear    float64 // multiplies rolling resistance and mesh loss; 1 when fresh
}

// rollout returns millimeters per motor turn.
func (s Setup) rollout() float64 { return math.Pi * s.Tire / s.Ratio }

// Lap is the energy account of one lap, in J, with its time and length.
// Chemical equals the sum of all the others.
type Lap struct {
	Seconds, Meters float64

	Chemical float64 // drawn from the pack's cells
	Pack     float64 // heat in the pack
	ESC      float64 // heat in the ESC
	Copper   float64 // heat in the winding
	Iron     float64 // heat in iron, magnets and motor air
	Mesh     float64 // lost in gears and joints
	Rolling  float64 // lost in tires
	Air      float64 // lost in drag
	Brakes   float64 // lost in scrub while braking
	Kinetic  float64 // gained: car, tires, rotor
}

const (
	lapStep   = 0.04 // s
	reaction  = 0.25 // s in which a driver closes a gap in speed
	slowestGo = 0.5  // m/s, the crawl from which a lap starts at least
	longest   = 240  // s after which a lap counts as not driveable
)

// drive takes the car round its track once with the winding at a temperature in
// °C. It reports false if the drive can't bring the car round.
func (c *Car) drive(s Setup, winding float64) (Lap, bool) {
	d := newDrive(c, s, winding)
	v := math.Max(c.Track[len(c.Track)-1].Speed, slowestGo)
	var lap Lap
	for i, seg := range c.Track {
		lap.Seconds += seg.Pause
		idle := c.Pack.current(c.ESC.Idle)
		lap.ESC += c.ESC.Idle * seg.Pause
		lap.Pack += c.Pack.Resistance * idle * idle * seg.Pause
		lap.Chemical += c.Pack.voltage() * idle * seg.Pause
		next := c.Track[(i+1)%len(c.Track)].Speed
		for at := 0.0; at < seg.Length; {
			v = d.step(&lap, v, d.wish(seg, next, seg.Length-at, v))
			at += v * lapStep
			if lap.Seconds > longest || v <= 0 {
				return lap, false
			}
		}
	}
	return lap, true
}

// drive holds what stays the same along a lap.
type drive struct {
	*Car
	flux, winding float64 // N m/A, Ω
	turns         float64 // motor rad per meter of road
	mass          float64 // kg with everything that rotates
	rolling, air  float64 // N; N per (m/s)²
	efficiency    float64 // of gears and joints
	throttle      float64 // what easing leaves of a held throttle
	voltage, most float64 // of the pack: V; W
}

func newDrive(c *Car, s Setup, winding float64) *drive {
	b := c.Body
	grown := s.Tire / b.TireSize
	tires := b.TireMass * math.Pow(grown, b.TireGrows)
	weight := (b.Mass + tires) * gravity
	d := &drive{
		Car:     c,
		flux:    c.Motor.fluxConstant(winding),
		winding: hotCopper(c.Motor.Resistance, winding),
		turns:   s.Ratio / (s.Tire / 2000),
		rolling: weight * b.Rolling * math.Pow(grown, b.TireDrag) * s.Surface * s.Wear,
		air:     airDensity / 2 * b.AirDrag,
		voltage: c.Pack.voltage(),
		most:    c.Pack.most(),
	}
	d.efficiency = 1 - b.MeshLoss*s.Wear
	d.mass = b.Mass + tires*(1+b.TireSpin) + c.Motor.Inertia*d.turns*d.turns
	d.throttle = math.Pow(s.rollout()/c.Driver.ComfortRollout, -c.Driver.Ease)
	return d
}

// wish is what a driver asks for at one moment: an acceleration, or a throttle.
type wish struct {
	acceleration float64
	throttle     float64 // above 0: used instead of acceleration
}

// wish is the driver at work: brakes in time for the next stretch, and otherwise holds
// the throttle or drives to the speed wanted.
func (d *drive) wish(seg Segment, next, remaining, v float64) wish {
	allowed := math.Sqrt(next*next + 2*d.Driver.Brake*remaining)
	if seg.Throttle > 0 && v < allowed {
		return wish{throttle: math.Min(1, seg.Throttle*d.throttle)}
	}
	target := math.Min(seg.Speed, allowed)
	if seg.Throttle > 0 {
		target = allowed
	}
	a := (target - v) / reaction
	return wish{acceleration: math.Min(d.Driver.Push, math.Max(-1.3*d.Driver.Brake, a))}
}

// step moves the car on by lapStep and keeps account of the energy. Forces are those at
// the old speed and their power is taken at the mean of old and new, so that the account
// closes to rounding.
func (d *drive) step(lap *Lap, v float64, w wish) float64 {
	drag := d.Motor.Iron(v * d.turns)
	resist := d.rolling + d.air*v*v
	current, scrub := d.current(w, v, drag, resist)

	shaft := d.flux*current - drag
	wheel := d.atWheel(shaft)
	after := v + (wheel-resist-scrub)/d.mass*lapStep
	mean := (v + after) / 2
	speed := mean * d.turns

	copper := current * current * d.winding
	terminal := d.flux*current*speed + copper
	duty := math.Min(1, math.Abs(d.flux*speed+current*d.winding)/d.voltage)
	esc := d.ESC.loss(current, d.voltage, duty)
	pack := d.Pack.current(terminal + esc)

	lap.Seconds += lapStep
	lap.Meters += mean * lapStep
	lap.Chemical += d.voltage * pack * lapStep
	lap.Pack += d.Pack.Resistance * pack * pack * lapStep
	lap.ESC += esc * lapStep
	lap.Copper += copper * lapStep
	lap.Iron += drag * speed * lapStep
	lap.Mesh += (shaft*d.turns - wheel) * mean * lapStep
	lap.Rolling += d.rolling * mean * lapStep
	lap.Air += d.air * v * v * mean * lapStep
	lap.Brakes += scrub * mean * lapStep
	lap.Kinetic += d.mass / 2 * (after*after - v*v)
	return after
}

// current returns the motor current in A that answers a wish, inside what pack
// and ESC allow, and the force in N left to tire scrub.
func (d *drive) current(w wish, v, drag, resist float64) (current, scrub float64) {
	back := d.flux * v * d.turns
	ohms := d.winding + d.ESC.OnResistance
	sagged := (math.Sqrt(back*back+4*ohms*d.most) - back) / (2 * ohms)
	most := math.Min(d.ESC.Limit, sagged)
	if h := w.throttle; h > 0 {
		current = (h*d.voltage - back) / (ohms + h*h*d.Pack.Resistance)
		gripped := (d.atShaft(d.mass*d.Driver.Push+resist) + drag) / d.flux
		return math.Max(0, math.Min(current, math.Min(gripped, most))), 0
	}
	force := d.mass*w.acceleration + resist
	if force >= 0 {
		full := math.Max(0, (d.voltage-back)/(ohms+d.Pack.Resistance))
		current = (d.atShaft(force) + drag) / d.flux
		return math.Min(current, math.Min(full, most)), 0
	}
	byMotor := d.Driver.MotorBrake * force
	current = math.Max((d.atShaft(byMotor)+drag)/d.flux, -d.ESC.Limit)
	return current, byMotor - force
}

// atWheel turns a shaft torque in N m into a force at the road in N: driving, the
// gears take their share on the way out; braking, on the way in.
func (d *drive) atWheel(torque float64) float64 {
	if torque >= 0 {
		return torque * d.turns * d.efficiency
	}
	return torque * d.turns / d.efficiency
}

// atShaft is the inverse of atWheel.
func (d *drive) atShaft(force float64) float64 {
	if force >= 0 {
		return force / (d.turns * d.efficiency)
	}
	return force * d.efficiency / d.turns
}
