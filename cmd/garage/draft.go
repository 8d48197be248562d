package main

import (
	"math"
	"math/rand/v2"
	"slices"

	domain "regear/analyze/run"
	"regear/cmd/garage/internal/physics"
)

// draft is the plan of a garage: a usual log, unless the shape of a kind says otherwise.
type draft struct {
	driver
	set   physics.Set
	unfit bool // the car can't have such a log

	runs, gearings, perDay int
	comingDown             bool    // the pinions fall along the log
	wearPerRun             float64 // of a car that drifts
	plan                   []planned
	next                   planned // the run to come

	coldest, hottest       float64 // the next day, in K from the usual air
	motorBelow, motorAbove int     // teeth from the last pinion that its limit lies between

	// What a kind may do while the plan is made, in this order.
	sized   func()                      // runs, gearings and perDay are drawn
	weather func(day int) float64       // °C of a day
	times   func(ofDay int, p *planned) // minutes and rest of a run
	setups  func(run int, p *planned)   // surface and wear of a run, the next included
	planned func()                      // the log is planned
	asked   func(*Question)             // the question is put
}

// newDraft draws a car and gives it the shape of a kind.
func newDraft(set physics.Set, kind Kind, r *rand.Rand) *draft {
	of := recipes[kind]
	if of.car == nil {
		of.car = physics.Draw
	}
	d := &draft{
		driver:     driver{Member: of.car(set, r), r: r, rough: between(r, 2, 4.5), parts: []domain.Part{domain.Motor}, loads: map[physics.Setup]physics.Load{}},
		set:        set,
		coldest:    -4,
		hottest:    8,
		motorBelow: 3,
		motorAbove: 2,
		sized:      func() {},
		times:      func(int, *planned) {},
		setups:     func(int, *planned) {},
		planned:    func() {},
		asked:      func(*Question) {},
	}
	d.weather = func(int) float64 { return d.Air + 4*r.NormFloat64() }
	for _, part := range []domain.Part{domain.ESC, domain.Battery} {
		if r.Float64() < 0.7 {
			d.parts = append(d.parts, part)
		}
	}
	if of.shape != nil {
		of.shape(d)
	}
	if d.unfit {
		return d
	}
	d.perDay = 3 + r.IntN(2)
	of.runs.draw(r, &d.runs)
	of.gearings.draw(r, &d.gearings)
	of.perDay.draw(r, &d.perDay)
	d.sized()
	return d
}

// makePlan plans the runs of the log and the run to come.
func (d *draft) makePlan() {
	pinions := d.pinions()
	d.wearPerRun = between(d.r, 0.06, 0.2)
	var air float64
	for i, pinion := range pinions {
		day, ofDay := i/d.perDay, i%d.perDay
		if ofDay == 0 {
			air = d.weather(day)
		}
		p := planned{pinion: pinion, tire: d.Tire, day: day, air: air, wear: 1}
		p.minutes = tenths(d.Minutes * math.Exp(0.12*d.r.NormFloat64()))
		d.times(ofDay, &p)
		d.setups(i, &p)
		d.plan = append(d.plan, p)
	}
	d.planned()
	d.next = d.plan[d.runs-1]
	d.next.day++
	d.next.rest = 0
	d.next.minutes = math.Round(d.Minutes * between(d.r, 0.8, 1.25))
	d.setups(d.runs, &d.next)
}

// pinions returns a pinion for each run: a handful of neighbors about the usual one,
// in any order, none left out, or falling where the driver has been coming down.
func (d *draft) pinions() []int {
	lowest := d.Pinion - d.r.IntN(d.gearings)
	all := make([]int, d.runs)
	for i := range all {
		all[i] = max(leastPinion, lowest+i%d.gearings)
	}
	d.r.Shuffle(d.runs, func(i, j int) { all[i], all[j] = all[j], all[i] })
	if d.comingDown {
		slices.SortFunc(all, func(x, y int) int { return y - x })
	}
	return all
}
