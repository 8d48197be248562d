package physics

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
