// Package physics stands in for real cars, so that advice can be judged.
//
// It moves an electric car along a track in short time steps, keeps account of every
// joule, and lets the heat flow through a thermal network for minutes. It shares no
// formula with the fit: it contains no power of rollout and no exponential in time; both
// come out, roughly, of motors, drivers and air. The spans of the random cars are
// plausible ones from physics and common practice; none was chosen to suit an adviser.
package physics

import "math"

// NumParts is the number of places that are read, in the order motor can, ESC,
// battery.
const NumParts = 3

// ByPart holds a number for each of the parts.
type ByPart = [NumParts]float64

// Car is one car with its driver and track.
type Car struct {
	Body   Body
	Motor  Motor
	ESC    ESC
	Pack   Pack
	Driver Driver
	Track  []Segment
	Luck   Variation

	thermal layout
}

// layout is a thermal network and where heat enters it and is read.
type layout struct {
	network
	winding   int           // node of the copper loss
	iron      int           // node of the iron loss
	esc, pack int           // nodes of the ESC's and the pack's losses
	readings  [NumParts]int // nodes that a driver reads
	// ironToCase is the share of the iron loss that warms the iron node; the rest
	// leaves with the motor's own air.
	ironToCase float64
}

// Winding temperatures in °C at which laps are driven, to interpolate between.
const (
	coolWinding = 40.0
	hotWinding  = 120.0
)

// Load is what a setup does to a car lap after lap.
type Load struct {
	cool, hot State   // W into each node, at either winding temperature
	airflow   float64 // factor on the nodes' moving conductance
}

// Load drives laps in a setup. It reports false if the car can't get round.
func (c *Car) Load(s Setup) (Load, bool) {
	cool, ok := c.drive(s, coolWinding)
	hot, round := c.drive(s, hotWinding)
	if !ok || !round {
		return Load{}, false
	}
	return Load{
		cool:    c.watts(cool),
		hot:     c.watts(hot),
		airflow: c.thermal.airflow(cool.Meters / cool.Seconds),
	}, true
}

func (c *Car) watts(l Lap) (w State) {
	t := &c.thermal
	w[t.winding] = l.Copper / l.Seconds
	w[t.iron] = t.ironToCase * l.Iron / l.Seconds
	w[t.esc] = l.ESC / l.Seconds
	w[t.pack] = l.Pack / l.Seconds
	return w
}

// Outing is one run to be driven.
type Outing struct {
	Air     float64 // °C
	Minutes float64 // planned
	Power   float64 // multiplies every loss: pace, traffic, weather, pack; 1 = typical
	Start   State
	CutOff  CutOff
}

// CutOff is a protection that watches the parts from inside. The zero value never
// acts.
type CutOff struct {
	Celsius ByPart // 0: the part is not watched
	// LimpShare is the share of the losses that is left while it acts; 0 ends the run.
	LimpShare float64
}

// excess returns by how much the worst part is over its threshold in K; negative
// below all of them, -Inf if none is watched.
func (o CutOff) excess(parts ByPart) float64 {
	worst := math.Inf(-1)
	for i, most := range o.Celsius {
		if most > 0 {
			worst = math.Max(worst, parts[i]-most)
		}
	}
	return worst
}

// Outcome is how a run ended.
type Outcome struct {
	End     State
	Minutes float64
	Cut     bool // the cut-off acted
}

// AllAt returns the state of a car that has stood in air of a temperature in °C.
func AllAt(celsius float64) (s State) {
	for i := range s {
		s[i] = celsius
	}
	return s
}

// Run drives an outing at a load.
func (c *Car) Run(load Load, o Outing) Outcome {
	t := &c.thermal
	state := o.Start
	cut, limping := false, false
	at, seconds := 0.0, o.Minutes*60
	for at < seconds {
		excess := o.CutOff.excess(c.Parts(state))
		switch {
		case excess >= 0:
			cut, limping = true, true
		case excess < -limpBand:
			limping = false
		}
		power := o.Power
		if limping {
			power *= o.CutOff.LimpShare
		}
		if limping && power == 0 {
			break
		}
		step := math.Min(thermalStep, seconds-at)
		heat := load.at(state[t.winding], power)
		t.advance(&state, &heat, o.Air, load.airflow, step)
		at += step
	}
	return Outcome{End: state, Minutes: at / 60, Cut: cut}
}

const limpBand = 3 // K below the cut-off at which full power comes back

// at returns the losses in W that belong to a winding temperature in °C, times power.
func (l *Load) at(winding, power float64) (heat State) {
	share := (winding - coolWinding) / (hotWinding - coolWinding)
	for i := range heat {
		heat[i] = power * (l.cool[i] + share*(l.hot[i]-l.cool[i]))
	}
	return heat
}

// Rest lets a car stand in air of a temperature in °C for some seconds.
func (c *Car) Rest(s State, air, seconds float64) State {
	var none State
	for seconds > 0 {
		step := math.Min(thermalStep, seconds)
		c.thermal.advance(&s, &none, air, 0, step)
		seconds -= step
	}
	return s
}

// FreshPack puts a pack of a temperature in °C into a warm car.
func (c *Car) FreshPack(s State, celsius float64) State {
	s[c.thermal.pack] = celsius
	s[c.thermal.readings[2]] = celsius
	return s
}

// Parts returns the temperatures at the three places that are read.
func (c *Car) Parts(s State) (p ByPart) {
	for i, n := range c.thermal.readings {
		p[i] = s[n]
	}
	return p
}

// Heron is the invented car of the demo: a four-cell buggy of set A's kind whose
// driver has put larger tires on. Every number is made up.
func Heron() *Member {
	const (
		corner = 4.2  // m/s
		push   = 21.0 // m/s wanted on straights
	)
	c := &Car{
		Body: Body{
			Mass: 3.2, TireMass: 0.62, TireSize: 118, TireGrows: 2, TireSpin: 0.75,
			Rolling: 0.07, TireDrag: 0.4, AirDrag: 0.038, MeshLoss: 0.09,
		},
		Motor: Motor{
			KV: 2000, Resistance: 0.0135, FluxLoss: 0.001, Inertia: 6e-6,
			Iron: powerLaw(13, 3141.6, 1.6),
		},
		ESC:    ESC{OnResistance: 0.0025, Switching: 0.007, Drop: 0.2, Idle: 0.5, Limit: 110},
		Pack:   Pack{Cells: 4, CellVolts: 3.8, Resistance: 0.024},
		Driver: Driver{Push: 9, Brake: 6, MotorBrake: 0.5, ComfortRollout: 35},
		Luck: Variation{
			Day: 0.025, Run: 0.045, Part: ByPart{0.025, 0.025, 0.03},
			Air: 0.5, Gun: 0.8, Aim: ByPart{1, 1, 1}, Delay: 20, Haste: 0.3,
		},
	}
	for _, straight := range []float64{70, 38, 52, 30} {
		c.Track = append(c.Track,
			Segment{Length: straight, Speed: push},
			Segment{Length: 5, Speed: corner})
	}
	c.thermal = layout{
		network: network{
			nodes: []node{
				{capacity: 19},
				toAir(140, 6, 0.5),
				toAir(62, 4.5, 0.4),
				toAir(520, 26, 0.2),
			},
			links: []link{{0, 1, 1.6}},
			film:  0.5,
		},
		winding: 0, iron: 1, esc: 2, pack: 3,
		readings:   [NumParts]int{1, 2, 3},
		ironToCase: 0.9,
	}
	return &Member{Car: c, Pinion: 17, Spur: 68, Internal: 2.5, Tire: 118, Cells: 4, Minutes: 12, Air: 26}
}
