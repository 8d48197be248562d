package physics

import (
	"math"
	"math/rand/v2"
)

// Set is a population of cars with assumptions of its own, so that advice tuned on
// one can be tried on another.
type Set byte

const (
	// A has drivers who drive to speeds, iron losses as one power of speed, a motor
	// of two nodes with a laminar film, and log-normal luck.
	A Set = 'a'
	// B has drivers who hold a throttle and ease it as gearing grows, iron losses
	// kept apart, can and ESC coupled through the chassis in a turbulent and buoyant
	// air, a pack with a shell, heavy-tailed luck and missed spots.
	B Set = 'b'
)

// String returns the set's letter.
func (s Set) String() string { return string(byte(s)) }

// class is a kind of car with the spans it comes in: common practice, no source.
type class struct {
	mass, tire, tireMass span // kg, mm, kg of all four
	cells                [2]int
	unloadedRPM          span // thousands a minute
	topSpeed             span // unloaded, m/s: gearing follows from it
	motorMass            span // kg
	rolling, airDrag     span // share of weight; m²
	corner               span // m/s
}

var classes = []class{
	{mass: span{1.2, 1.6}, tire: span{60, 68}, tireMass: span{0.10, 0.18}, cells: [2]int{2, 2}, unloadedRPM: span{20, 38},
		topSpeed: span{13, 24}, motorMass: span{0.15, 0.20}, rolling: span{0.025, 0.05}, airDrag: span{0.012, 0.025}, corner: span{3.5, 6.5}},
	{mass: span{1.4, 2.3}, tire: span{80, 112}, tireMass: span{0.16, 0.40}, cells: [2]int{2, 3}, unloadedRPM: span{22, 42},
		topSpeed: span{11, 21}, motorMass: span{0.16, 0.24}, rolling: span{0.04, 0.10}, airDrag: span{0.018, 0.04}, corner: span{2.5, 5.5}},
	{mass: span{2.8, 3.8}, tire: span{106, 122}, tireMass: span{0.4, 0.8}, cells: [2]int{4, 4}, unloadedRPM: span{26, 40},
		topSpeed: span{13, 22}, motorMass: span{0.26, 0.40}, rolling: span{0.045, 0.11}, airDrag: span{0.03, 0.055}, corner: span{3, 6}},
	{mass: span{3.2, 5.2}, tire: span{132, 176}, tireMass: span{0.7, 1.5}, cells: [2]int{4, 6}, unloadedRPM: span{26, 44},
		topSpeed: span{12, 22}, motorMass: span{0.30, 0.50}, rolling: span{0.05, 0.12}, airDrag: span{0.04, 0.09}, corner: span{2.5, 5}},
}

// oneCell is the class of light cars that run on a single cell: common practice, no
// source. The populations hold none.
var oneCell = class{mass: span{0.4, 0.9}, tire: span{42, 56}, tireMass: span{0.04, 0.09}, cells: [2]int{1, 1}, unloadedRPM: span{14, 30},
	topSpeed: span{9, 16}, motorMass: span{0.05, 0.12}, rolling: span{0.02, 0.05}, airDrag: span{0.006, 0.014}, corner: span{2.5, 5}}

type span struct{ low, high float64 }

func (s span) draw(r *rand.Rand) float64 { return s.low + (s.high-s.low)*r.Float64() }

// drawLog draws evenly on a log scale, for sizes that differ by factors.
func (s span) drawLog(r *rand.Rand) float64 { return s.low * math.Pow(s.high/s.low, r.Float64()) }

// Member is a random car with the way it is usually run.
type Member struct {
	Car      *Car
	Pinion   int
	Spur     int
	Internal float64
	Tire     float64 // mm
	Cells    int
	Minutes  float64 // of a usual run
	Air      float64 // °C of a usual day
}

// Setup returns the member's usual setup with another pinion and tire.
func (m *Member) Setup(pinion int, tire float64) Setup {
	return Setup{
		Ratio:   float64(m.Spur) / float64(pinion) * m.Internal,
		Tire:    tire,
		Surface: 1,
		Wear:    1,
	}
}

// usualRise are the usual spans of the rise in K after a usual run: a car above them would
// be changed by any driver, and one below them needs no advice.
var usualRise = [NumParts]span{{22, 80}, {10, 60}, {4, 35}}

// Draw draws a member of a set: random cars until one is usable, with rises that a driver
// would accept.
func Draw(set Set, r *rand.Rand) *Member { return drawOf(classes, set, r) }

// DrawOneCell is [Draw] for a light car on a single cell.
func DrawOneCell(set Set, r *rand.Rand) *Member { return drawOf([]class{oneCell}, set, r) }

func drawOf(some []class, set Set, r *rand.Rand) *Member {
	for {
		if m, ok := draw(some[r.IntN(len(some))], set, r); ok && m.usual() {
			return m
		}
	}
}

// FlatGearing is the span of the ESC's exponent on rollout in cars of [DrawFlatESC].
var FlatGearing = [2]float64{-0.2, 0.6}

// DrawFlatESC is [Draw] for a car whose ESC hardly follows the gearing: most of its
// heat is that of a linear supply for servo, fan and receiver, which draw the same
// whatever the motor does.
func DrawFlatESC(set Set, r *rand.Rand) *Member {
	const esc = 1
	for {
		m := Draw(set, r)
		lap, ok := m.Car.drive(m.Setup(m.Pinion, m.Tire), hotWinding)
		if !ok {
			continue
		}
		m.Car.ESC.supply(lap.ESC/lap.Seconds, span{0.65, 1}.draw(r))
		if !m.usual() {
			continue
		}
		step := math.Exp(surveyStep)
		e := slope(m.rise(1/step, 1, 1)[esc], m.rise(step, 1, 1)[esc])
		if e >= FlatGearing[0] && e <= FlatGearing[1] {
			return m
		}
	}
}

func (m *Member) usualOuting() Outing {
	return Outing{Air: m.Air, Minutes: m.Minutes, Power: 1, Start: AllAt(m.Air)}
}

// usual reports whether a usual run can be driven and warms every part as usual.
func (m *Member) usual() bool {
	rises, ok := m.Rises(m.Setup(m.Pinion, m.Tire))
	for i, rise := range rises {
		ok = ok && rise >= usualRise[i].low && rise <= usualRise[i].high
	}
	return ok
}

// Rises returns the rises in K of a usual run in a setup. It reports false if the car
// can't get round.
func (m *Member) Rises(s Setup) (ByPart, bool) { return m.rises(s, m.usualOuting()) }

func (m *Member) rises(s Setup, o Outing) (rises ByPart, ok bool) {
	load, ok := m.Car.Load(s)
	if !ok {
		return rises, false
	}
	for i, t := range m.Car.Parts(m.Car.Run(load, o).End) {
		rises[i] = t - o.Air
	}
	return rises, true
}

// draw draws one car of a class. It reports false where the gearing that the car
// needs can't be had with usual gears.
func draw(k class, set Set, r *rand.Rand) (*Member, bool) {
	m := &Member{
		Tire:    math.Round(k.tire.draw(r)),
		Cells:   k.cells[0] + r.IntN(k.cells[1]-k.cells[0]+1),
		Pinion:  10 + r.IntN(11),
		Minutes: math.Round(span{6, 15}.draw(r)),
		Air:     math.Round(span{12, 34}.draw(r)),
	}
	rpm := 1000 * k.unloadedRPM.draw(r)
	top := k.topSpeed.draw(r)
	rollout := 60000 * top / rpm
	ratio := math.Pi * m.Tire / rollout
	m.Spur = int(math.Round(float64(m.Pinion) * span{2.4, 5}.draw(r)))
	m.Internal = math.Round(100*ratio*float64(m.Pinion)/float64(m.Spur)) / 100
	if m.Internal < 1 || m.Internal > 4.5 {
		return nil, false
	}

	c := &Car{
		Body: Body{
			Mass:      k.mass.draw(r),
			TireMass:  k.tireMass.draw(r),
			TireSize:  m.Tire,
			TireGrows: span{1.5, 2.5}.draw(r),
			TireSpin:  span{0.6, 0.9}.draw(r),
			TireDrag:  span{0, 0.8}.draw(r),
			Rolling:   k.rolling.drawLog(r),
			AirDrag:   k.airDrag.drawLog(r),
			MeshLoss:  span{0.05, 0.16}.draw(r),
		},
		Pack: Pack{
			Cells:      m.Cells,
			CellVolts:  span{3.7, 3.9}.draw(r),
			Resistance: float64(m.Cells) * span{0.004, 0.014}.drawLog(r),
		},
		Driver: Driver{
			Push:           span{6, 13}.draw(r),
			Brake:          span{4, 8}.draw(r),
			MotorBrake:     span{0.2, 0.8}.draw(r),
			ComfortRollout: rollout,
		},
	}
	mass := k.motorMass.draw(r)
	c.Motor = motor(set, r, mass, rpm/c.Pack.voltage())
	c.ESC = controller(r, c, rollout)
	c.Track = track(set, r, top, k.corner.draw(r))
	c.Luck = variation(set, r)
	if set == A {
		c.thermal = plainLayout(r, mass, c.Body.Mass, m.Cells)
	} else {
		c.thermal = coupledLayout(r, mass, c.Body.Mass, m.Cells)
		c.Driver.Ease = span{0, 0.6}.draw(r)
	}
	m.Car = c
	return m, true
}

// motor draws a motor of a mass in kg and a kV. What a size of motor can do is its
// motor constant, torque per square root of copper loss, which grows a little
// slower than its mass whatever the winding.
func motor(set Set, r *rand.Rand, mass, kv float64) Motor {
	m := Motor{
		KV:       kv,
		FluxLoss: span{0, 0.0012}.draw(r), // 0.0011 to 0.0012 for NdFeB, from memory
		Inertia:  span{2e-5, 5e-5}.draw(r) * math.Pow(mass, 5.0/3),
	}
	constant := span{0.065, 0.11}.draw(r) * math.Pow(mass, 0.8)
	flux := m.fluxConstant(roomCelsius)
	m.Resistance = math.Pow(flux/constant, 2)

	watts := mass * span{45, 180}.drawLog(r) // at the reference speed
	const reference = 30000 * math.Pi / 30
	if set == A {
		m.Iron = powerLaw(watts, reference, span{1.2, 1.95}.draw(r))
		return m
	}
	hysteresis, windage := span{0.15, 0.5}.draw(r), span{0.03, 0.15}.draw(r)
	torque := watts / reference
	m.Iron = separatedLaw(torque*hysteresis, torque*(1-hysteresis-windage)/reference, torque*windage/(reference*reference))
	return m
}

func controller(r *rand.Rand, c *Car, rollout float64) ESC {
	push := (c.Body.Mass + c.Body.TireMass) * c.Driver.Push * rollout / 1000 / (2 * math.Pi) // N m
	amperes := push / c.Motor.fluxConstant(roomCelsius)
	return ESC{
		OnResistance: span{0.05, 0.16}.drawLog(r) / amperes,
		Switching:    span{0.004, 0.02}.drawLog(r),
		Drop:         span{0.05, 0.5}.draw(r),
		Idle:         span{0.2, 0.8}.draw(r),
		Limit:        amperes * span{1.8, 4}.draw(r),
	}
}

// track draws what is driven: laps, stop and go, or speed runs. It ends in its
// slowest corner, where a lap begins.
func track(set Set, r *rand.Rand, top, corner float64) []Segment {
	var t []Segment
	pace := top * span{0.95, 1.7}.draw(r)
	straight := func(length, speed float64) {
		s := Segment{Length: length, Speed: speed}
		if set == B {
			s.Throttle = span{0.6, 1}.draw(r)
		}
		t = append(t, s)
	}
	bend := func(length, speed, pause float64) {
		t = append(t, Segment{Length: length, Speed: speed, Pause: pause})
	}
	switch kind := r.Float64(); {
	case kind < 0.65: // laps
		for range 5 + r.IntN(4) {
			straight(span{15, 60}.draw(r), pace*span{0.8, 1.15}.draw(r))
			bend(span{3, 8}.draw(r), corner*span{0.7, 1.3}.draw(r), 0)
		}
	case kind < 0.85: // stop and go
		for range 3 + r.IntN(3) {
			straight(span{20, 70}.draw(r), pace*span{0.9, 1.3}.draw(r))
			bend(span{1.5, 3}.draw(r), span{1, 2}.draw(r), span{0, 3}.draw(r))
		}
	default: // speed runs
		for range 2 {
			straight(span{70, 140}.draw(r), pace*span{1.1, 1.6}.draw(r))
			bend(span{5, 10}.draw(r), corner*0.7, span{1, 6}.draw(r))
		}
	}
	slowest := 0
	for i, s := range t {
		if s.Throttle == 0 && s.Speed < t[slowest].Speed || t[slowest].Throttle > 0 {
			slowest = i
		}
	}
	return append(t[slowest+1:len(t):len(t)], t[:slowest+1]...)
}

func variation(set Set, r *rand.Rand) Variation {
	v := Variation{
		Day:   span{0, 0.055}.draw(r),
		Run:   span{0.03, 0.08}.draw(r),
		Air:   span{0.3, 1}.draw(r),
		Gun:   span{0.5, 1.5}.draw(r),
		Aim:   ByPart{1, 1, 1},
		Delay: span{10, 45}.drawLog(r),
		Haste: span{0.2, 0.5}.draw(r),
	}
	for i := range v.Part {
		v.Part[i] = span{0.015, 0.045}.draw(r)
	}
	if set == B {
		v.Heavy = true
		v.Miss, v.Depth = span{0, 0.08}.draw(r), span{0.1, 0.25}.draw(r)
		v.Aim = ByPart{span{0.86, 1}.draw(r), span{0.86, 1}.draw(r), span{0.92, 1}.draw(r)}
	}
	return v
}

const (
	copperHeat = 385.0  // J/(kg K)
	steelHeat  = 460.0  // J/(kg K)
	metalHeat  = 900.0  // J/(kg K), aluminium
	packHeat   = 1000.0 // J/(kg K), common practice for lithium cells
	cellMass   = 0.13   // kg, about 5 Ah with its share of the case
)

// toAir makes a node that loses its heat to the air with a time constant in
// minutes at the reference speed, a share of it only while the car moves.
func toAir(capacity, minutes, moving float64) node {
	total := capacity / (60 * minutes)
	return node{capacity: capacity, still: total * (1 - moving), moving: total * moving}
}

// plainLayout is set A's network: winding in can, ESC, pack, each by itself.
func plainLayout(r *rand.Rand, motorMass, carMass float64, cells int) layout {
	copper := motorMass * span{0.12, 0.2}.draw(r)
	winding := node{capacity: copper * copperHeat}
	can := toAir((motorMass-copper)*steelHeat*span{1.1, 1.5}.draw(r), span{2.8, 6.5}.drawLog(r), span{0.3, 0.7}.draw(r))
	esc := toAir(escCapacity(r, carMass), span{2.8, 7}.drawLog(r), span{0.2, 0.6}.draw(r))
	pack := toAir(float64(cells)*cellMass*packHeat, span{15, 40}.drawLog(r), span{0, 0.3}.draw(r))
	return layout{
		network: network{
			nodes: []node{winding, can, esc, pack},
			links: []link{{0, 1, winding.capacity / span{9, 18}.draw(r)}},
			film:  0.5,
		},
		winding: 0, iron: 1, esc: 2, pack: 3,
		readings:   [NumParts]int{1, 2, 3},
		ironToCase: span{0.8, 1}.draw(r),
	}
}

// escCapacity draws the heat capacity of an ESC with its sink in J/K; larger cars
// carry larger ones.
func escCapacity(r *rand.Rand, carMass float64) float64 {
	return metalHeat * span{0.02, 0.04}.draw(r) * math.Sqrt(carMass)
}

// coupledLayout is set B's network: winding in stator in can, can and ESC on a
// common chassis, the pack's core in its shell.
func coupledLayout(r *rand.Rand, motorMass, carMass float64, cells int) layout {
	copper := motorMass * span{0.12, 0.2}.draw(r)
	stator := motorMass * span{0.3, 0.45}.draw(r)
	winding := node{capacity: copper * copperHeat}
	iron := node{capacity: stator * steelHeat}
	can := toAir((motorMass-copper)*steelHeat*span{1, 1.2}.draw(r), span{3, 7}.drawLog(r), span{0.3, 0.7}.draw(r))
	can.capacity -= iron.capacity * 0.9
	chassis := toAir(carMass*span{0.06, 0.12}.draw(r)*metalHeat, span{10, 25}.draw(r), span{0.1, 0.4}.draw(r))
	esc := toAir(escCapacity(r, carMass), span{3, 8}.drawLog(r), span{0.2, 0.6}.draw(r))
	shell := toAir(float64(cells)*cellMass*packHeat, span{15, 40}.drawLog(r), span{0, 0.3}.draw(r))
	core := node{capacity: 0.7 * shell.capacity}
	shell.capacity *= 0.3
	return layout{
		network: network{
			nodes: []node{winding, iron, can, chassis, esc, core, shell},
			links: []link{
				{0, 1, winding.capacity / span{9, 18}.draw(r)},
				{1, 2, iron.capacity / span{15, 40}.draw(r)},
				{2, 3, span{0.01, 0.06}.draw(r)},
				{4, 3, span{0.005, 0.04}.draw(r)},
				{5, 6, core.capacity / span{120, 300}.draw(r)},
			},
			film:    0.8,
			buoyant: true,
		},
		winding: 0, iron: 1, esc: 4, pack: 5,
		readings:   [NumParts]int{2, 4, 6},
		ironToCase: span{0.8, 1}.draw(r),
	}
}
