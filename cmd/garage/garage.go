package main

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/garage/internal/physics"
)

// garage is one driver with a log and a question, and the truth that only the
// physics knows.
type garage struct {
	log      []domain.Run
	question Question
	truth    truth
}

// dayAlone is the share of garages whose log gives days without a time.
const dayAlone = 0.3

// newGarage makes a garage of a set and kind; equal seeds make equal garages.
func newGarage(set physics.Set, kind Kind, seed, index uint64) garage {
	r := rand.New(rand.NewPCG(seed<<8|uint64(set), uint64(kind)<<32|index))
	d, g := drawFair(set, kind, r)
	if r.Float64() < dayAlone && !d.unread {
		g.dropTimes()
	}
	return g
}

// drawFair draws drafts of a kind until one makes a fair garage.
func drawFair(set physics.Set, kind Kind, r *rand.Rand) (*draft, garage) {
	for {
		d := newDraft(set, recipes[kind], r)
		if d.unfit || !d.makePlan() {
			continue
		}
		q, t, ok := d.ask()
		if !ok {
			continue
		}
		log := d.drive(d.plan)
		stopped := slices.ContainsFunc(log, func(r domain.Run) bool { return r.StoppedByHeat })
		if watched := d.cutOff != (physics.CutOff{}); watched == stopped {
			return d, garage{log: log, question: q, truth: t}
		}
	}
}

// dropTimes leaves a log and its question with days alone.
func (g *garage) dropTimes() {
	drop := func(r *domain.Run) { r.When, r.HasTime = r.When.Truncate(24*time.Hour), false }
	for i := range g.log {
		drop(&g.log[i])
	}
	drop(&g.question.Next)
}

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
	setups  func(index int, p *planned) // surface and wear of a run, the next included
	revised func()                      // the log is planned
	asked   func(*Question)             // the question is put
}

func newDraft(set physics.Set, of recipe, r *rand.Rand) *draft {
	if of.car == nil {
		of.car = physics.Draw
	}
	d := &draft{
		driver:  driver{Member: of.car(set, r), r: r, rough: between(r, 2, 4.5), parts: []domain.Part{domain.Motor}},
		set:     set,
		coldest: -4, hottest: 8,
		motorBelow: 3, motorAbove: 2,
		sized:   func() {},
		times:   func(int, *planned) {},
		setups:  func(int, *planned) {},
		revised: func() {},
		asked:   func(*Question) {},
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

// makePlan plans the runs of the log and the run to come. It reports false if the car
// can't be driven so.
func (d *draft) makePlan() bool {
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
	d.revised()
	d.next = d.plan[d.runs-1]
	d.next.day++
	d.next.rest = 0
	d.next.minutes = math.Round(d.Minutes * between(d.r, 0.8, 1.25))
	d.setups(d.runs, &d.next)
	return !slices.ContainsFunc(d.plan, func(p planned) bool {
		_, ok := d.load(p)
		return !ok
	})
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

const (
	wantedConfidence = 0.8
	stepUp           = 2   // teeth that an adviser may go up at once
	reach            = 4   // candidates are the last pinion and so many teeth either way
	leastPinion      = 6   // teeth
	highestLimit     = 110 // °C, above what magnets and windings are sold for
	numFates         = 400 // draws that a true chance is the share of
)

// truth is what the next run will read, candidate by candidate, as a share of fates.
type truth struct {
	chance []float64 // that it reads at or under every limit
	// peaks are the readings under every fate, by part and candidate, rising; nil
	// where a part is not judged.
	peaks [len(domain.Parts)][][]float64
}

// best returns the pick that the policy makes of the true chances, or 0.
func (t truth) best(log []domain.Run, q Question) int {
	return tallest(log, q, func(i int) float64 { return t.chance[i] })
}

// content returns the true probability of an interval of a part's peak.
func (t truth) content(part domain.Part, candidate int, in Interval) float64 {
	peaks := t.peaks[part][candidate]
	from, _ := slices.BinarySearch(peaks, float64(in.Low))
	to, _ := slices.BinarySearch(peaks, math.Nextafter(float64(in.High), math.Inf(1)))
	return float64(max(0, to-from)) / float64(len(peaks))
}

// ask puts the question and finds its truth: the next run, its candidates, every fate
// met with every candidate, and limits drawn so that the choice matters. It reports
// false if a candidate can't be driven, or no driver would set such a limit.
func (d *draft) ask() (q Question, t truth, ok bool) {
	next := d.blank(d.next, len(d.plan))
	next.Ambient = whole(d.Air + between(d.r, d.coldest, d.hottest))
	air := float64(next.Ambient)
	q = Question{Next: next, Confidence: wantedConfidence, MaxStepUp: stepUp}
	fates := physics.Fates(d.r, numFates)
	var met [][]physics.ByPart // by candidate and fate
	for pinion := max(leastPinion, d.next.pinion-reach); pinion <= d.next.pinion+reach; pinion++ {
		p := d.next
		p.pinion = pinion
		load, ok := d.load(p)
		if !ok {
			return q, t, false
		}
		prospect := d.Car.Prospect(load, physics.Outing{Air: air, Minutes: p.minutes, Start: physics.AllAt(air)})
		readings := make([]physics.ByPart, len(fates))
		for i, fate := range fates {
			readings[i] = prospect.Readings(fate)
		}
		met = append(met, readings)
		q.Candidates = append(q.Candidates, pinion)
	}
	for _, part := range d.parts {
		t.peaks[part] = sortedPeaks(met, part)
		limit := d.limit(part, q.Candidates, t.peaks[part])
		if limit > highestLimit {
			return q, t, false
		}
		q.Limits.Set(part, limit)
	}
	for _, readings := range met {
		t.chance = append(t.chance, shareUnder(readings, q.Limits))
	}
	d.asked(&q)
	return q, t, true
}

// sortedPeaks returns the readings of a part by candidate, rising. Physics numbers the
// parts as logs do.
func sortedPeaks(met [][]physics.ByPart, part domain.Part) [][]float64 {
	peaks := make([][]float64, len(met))
	for i, readings := range met {
		for _, r := range readings {
			peaks[i] = append(peaks[i], r[part])
		}
		slices.Sort(peaks[i])
	}
	return peaks
}

func shareUnder(met []physics.ByPart, limits domain.ByPart[units.Celsius]) float64 {
	var share mean
	for _, r := range met {
		under := true
		for part, limit := range limits.All() {
			under = under && r[part] <= float64(limit)
		}
		share.count(under)
	}
	return share.value()
}

// limit draws a part's limit between its plausible peaks some teeth below and above
// the last pinion: for the ESC and the battery, which limit less often than the motor,
// 2 below and 4 above. A plausible peak is one that eight runs in ten stay under. Where
// gearing hardly changes the peak, the span is opened to a run's scatter.
func (d *draft) limit(part domain.Part, candidates []int, peaks [][]float64) units.Celsius {
	below, above := 2, 4
	if part == domain.Motor {
		below, above = d.motorBelow, d.motorAbove
	}
	low, high := math.Inf(1), math.Inf(-1)
	for i, pinion := range candidates {
		if pinion >= d.next.pinion-below && pinion <= d.next.pinion+above {
			plausible := peaks[i][len(peaks[i])*8/10]
			low, high = math.Min(low, plausible), math.Max(high, plausible)
		}
	}
	const least = 6 // K
	if short := least - (high - low); short > 0 {
		low, high = low-short/2, high+short/2
	}
	return whole(between(d.r, low, high))
}
