package main

import (
	"math"
	"math/rand/v2"
	"slices"

	domain "regear/analyze/run"
	"regear/cmd/garage/internal/physics"
)

// Kind is what a garage's log is like.
type Kind int

// The kinds of log: the usual ones, and from backToBack on the hard ones, each of
// which takes away something that an adviser may have counted on.
const (
	oneRun Kind = iota
	threeRuns
	manyMinutes
	twoGearings
	someGearings
	moreGearings
	longLog
	twoTires
	severalDays
	warmStarts
	heatStops
	twoSurfaces
	driftingCar
	shortGearing
	backToBack
	flatESC
	steadyDriver
	unequalDays
	hotterDay
	fallingPinion
	oneCell
	wholeKelvin
	numKinds
)

// recipe makes the logs of a kind.
type recipe struct {
	name           string // in tables
	runs, gearings span
	perDay         span                                          // runs; by default 3 or 4
	shape          func(*draft)                                  // what makes it one of the kind, if anything
	car            func(physics.Set, *rand.Rand) *physics.Member // by default physics.Draw
}

var recipes = [numKinds]recipe{
	oneRun:        {name: "one run", runs: just(1), gearings: just(1)},
	threeRuns:     {name: "three runs, one gearing", runs: just(3), gearings: just(1)},
	manyMinutes:   {name: "one gearing, many minutes", runs: just(6), gearings: just(1), shape: varyMinutes},
	twoGearings:   {name: "two gearings, 5 runs", runs: just(5), gearings: just(2)},
	someGearings:  {name: "several gearings, 8-9 runs", runs: span{8, 9}, gearings: span{3, 4}},
	moreGearings:  {name: "several gearings, 12 runs", runs: just(12), gearings: span{3, 5}},
	longLog:       {name: "25 runs", runs: just(25), gearings: span{4, 6}},
	twoTires:      {name: "two tires", runs: just(8), gearings: just(2), shape: changeTire},
	severalDays:   {name: "several days", runs: just(12), gearings: just(3), perDay: just(2), shape: letDaysDiffer},
	warmStarts:    {name: "warm starts", runs: just(9), gearings: just(3), shape: startWarm},
	heatStops:     {name: "heat stops", runs: just(9), gearings: just(3), shape: stopByHeat},
	twoSurfaces:   {name: "two surfaces", runs: just(10), gearings: just(3), shape: changeSurface},
	driftingCar:   {name: "drifting car", runs: just(10), gearings: just(3), shape: wearCar},
	shortGearing:  {name: "short gearing", runs: just(9), gearings: just(3), shape: gearShort},
	backToBack:    {name: "packs back to back", runs: span{8, 10}, gearings: just(3), shape: changePacks},
	flatESC:       {name: "ESC hardly follows gearing", runs: span{6, 9}, gearings: span{3, 4}, shape: judgeByESC, car: physics.DrawFlatESC},
	steadyDriver:  {name: "driver repeats to 2 %", runs: span{6, 10}, gearings: just(3), shape: driveSteadily},
	unequalDays:   {name: "days differ more than runs", gearings: just(3), perDay: span{2, 3}, shape: separateDays},
	hotterDay:     {name: "next day 18 K hotter", runs: just(9), gearings: just(3), shape: heatNextDay},
	fallingPinion: {name: "pinion fell with the heat", gearings: span{3, 5}, perDay: span{2, 3}, shape: followHeat},
	oneCell:       {name: "one cell", runs: just(9), gearings: just(3), car: physics.DrawOneCell},
	wholeKelvin:   {name: "no wear, read to 1 K", runs: just(12), gearings: just(3), perDay: just(2), shape: readWell},
}

// String returns the kind's name in tables.
func (k Kind) String() string { return recipes[k].name }

// span is a number to draw, from its least to its most. The zero span leaves it as it is.
type span struct{ least, most int }

func just(n int) span { return span{n, n} }

func (c span) draw(r *rand.Rand, n *int) {
	switch {
	case c.least < c.most:
		*n = c.least + r.IntN(c.most-c.least+1)
	case c.most > 0:
		*n = c.most
	}
}

type group struct {
	name       string
	first, end Kind
}

var (
	usualKinds = group{"usual kinds", oneRun, backToBack}
	hardKinds  = group{"hard kinds", backToBack, numKinds}
)

func (g group) kindAt(i int) Kind { return g.first + Kind(i)%(g.end-g.first) }

func varyMinutes(d *draft) {
	d.times = func(_ int, p *planned) { p.minutes = tenths(d.Minutes * between(d.r, 0.3, 1.4)) }
}

// changeTire puts the early runs on another tire, mostly a smaller one.
func changeTire(d *draft) {
	d.revised = func() {
		other := math.Round(d.Tire * between(d.r, 0.84, 0.94))
		if d.r.Float64() < 0.2 {
			other = math.Round(d.Tire * between(d.r, 1.06, 1.15))
		}
		for i := range 4 + d.r.IntN(2) {
			d.plan[i].tire = other
		}
	}
}

func letDaysDiffer(d *draft) { d.Car.Luck.Day = between(d.r, 0.03, 0.06) }

func startWarm(d *draft) {
	d.times = func(ofDay int, p *planned) {
		if ofDay > 0 && d.r.Float64() < 0.8 {
			p.rest = between(d.r, 3, 20)
		}
	}
}

// stopByHeat sets a protection a little above the limits, which the driver has been
// coming down to. In set A it ends the run, in set B it limps on to the planned end.
func stopByHeat(d *draft) {
	d.comingDown = true
	d.motorAbove = 0
	d.asked = func(q *Question) {
		for _, part := range []domain.Part{domain.Motor, domain.ESC} {
			if limit, judged := q.Limits.Of(part); judged {
				d.cutOff.Celsius[part] = float64(limit) + between(d.r, 0, 6)
			}
		}
		if d.set == physics.B {
			d.cutOff.LimpShare = 0.5
		}
	}
}

func changeSurface(d *draft) {
	d.setups = func(_ int, p *planned) {
		p.surface = roughSurface
		if d.r.Float64() < 0.5 {
			p.surface = homeSurface
		}
	}
}

func wearCar(d *draft) {
	d.setups = func(index int, p *planned) { p.wear = 1 + d.wearPerRun*float64(index) }
}

// gearShort gears a car down until a tooth less heats the motor more.
func gearShort(d *draft) {
	rise := func(pinion int) float64 {
		rises, _ := d.Rises(d.Setup(pinion, d.Tire)) // 0 if it can't be driven
		return rises[domain.Motor]
	}
	const leastRise = 20 // K, below which nobody worries
	for ; d.Pinion > leastPinion+2; d.Pinion-- {
		if here := rise(d.Pinion); here >= leastRise && rise(d.Pinion-1) > here {
			return
		}
	}
	d.unfit = true
}

// changePacks rests the car only for as long as a change of packs takes.
func changePacks(d *draft) {
	d.cooled = d.r.Float64() < 1.0/3
	d.unread = true
	d.times = func(ofDay int, p *planned) {
		if ofDay > 0 {
			p.rest = between(d.r, 2, 4) // and up to two until the reading
		}
	}
}

// judgeByESC has the motor leave the choice to the ESC.
func judgeByESC(d *draft) {
	d.motorBelow, d.motorAbove = -1, reach
	if !slices.Contains(d.parts, domain.ESC) {
		d.parts = slices.Insert(d.parts, 1, domain.ESC)
	}
}

// repeatRuns makes runs of a day equal to 2 %, all in all.
func (d *draft) repeatRuns() {
	luck := &d.Car.Luck
	luck.Run = between(d.r, 0.01, 0.015)
	for i := range luck.Part {
		luck.Part[i] = between(d.r, 0.01, 0.015)
	}
}

func driveSteadily(d *draft) {
	d.repeatRuns()
	luck := &d.Car.Luck
	luck.Day = between(d.r, 0.01, 0.015)
	luck.Gun, luck.Air, luck.Haste, luck.Miss = 0.5, 0.3, 0.1, 0
}

func separateDays(d *draft) {
	d.repeatRuns()
	d.Car.Luck.Day = between(d.r, 0.05, 0.08)
	d.sized = func() { d.runs = d.perDay * (5 + d.r.IntN(4)) }
}

func heatNextDay(d *draft) {
	d.Air = between(d.r, 14, 18)
	d.weather = func(int) float64 { return d.Air + between(d.r, -1.5, 1.5) }
	d.coldest, d.hottest = 14, 20
}

// followHeat makes every day hotter and takes a tooth off the pinion for each.
func followHeat(d *draft) {
	d.comingDown = true
	d.sized = func() {
		d.runs = d.perDay * d.gearings
		climb := between(d.r, 3, 5) // K a day
		d.weather = func(day int) float64 {
			return d.Air + climb*(float64(day)-float64(d.gearings-1)/2) + between(d.r, -1, 1)
		}
	}
}

func readWell(d *draft) { d.Car.Luck.Gun, d.Car.Luck.Air = 0.3, 0.3 }
