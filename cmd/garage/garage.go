package main

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"regear/analyze/drivetrain"
	domain "regear/analyze/run"
	"regear/analyze/units"
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

var kindNames = [numKinds]string{
	"one run", "three runs, one gearing", "one gearing, many minutes", "two gearings, 5 runs",
	"several gearings, 8-9 runs", "several gearings, 12 runs", "25 runs", "two tires", "several days",
	"warm starts", "heat stops", "two surfaces", "drifting car", "short gearing",
	"packs back to back", "ESC hardly follows gearing", "driver repeats to 2 %", "days differ more than runs",
	"next day 18 K hotter", "pinion fell with the heat", "one cell", "no wear, read to 1 K",
}

// String returns the kind's name in tables.
func (k Kind) String() string { return kindNames[k] }

// group is some kinds that are scored together.
type group struct {
	name  string
	kinds []Kind
}

var (
	usualKinds = group{"usual kinds", kindsBetween(oneRun, backToBack)}
	hardKinds  = group{"hard kinds", kindsBetween(backToBack, numKinds)}
)

// kindsBetween lists the kinds from first on and before end.
func kindsBetween(first, end Kind) (kinds []Kind) {
	for k := first; k < end; k++ {
		kinds = append(kinds, k)
	}
	return kinds
}

// kindAt returns the kind of a group's garage: the kinds take turns.
func (g group) kindAt(i int) Kind { return g.kinds[i%len(g.kinds)] }

const (
	wantedConfidence = 0.8
	stepUp           = 2
	reach            = 4 // candidates are the last pinion and so many teeth either way
	leastPinion      = 6
	highestLimit     = 110 // °C, above what magnets and windings are sold for
	numFates         = 400 // draws that a true chance is the share of
	dayAlone         = 0.3 // share of garages whose log gives days without a time
)

// garage is one driver with a log and a question, and the truth that only the
// physics knows.
type garage struct {
	log      []domain.Run
	question Question
	truth    truth
}

// truth is the share of fates, candidate by candidate.
type truth struct {
	chance []float64 // that the next run reads at or under every limit
	// peaks are the readings of the next run under every fate, by part and candidate,
	// rising; nil where a part is not judged.
	peaks [len(domain.Parts)][][]float64
}

// newGarage makes a garage of a set and kind; equal seeds make equal garages.
func newGarage(set physics.Set, kind Kind, seed, index uint64) garage {
	r := rand.New(rand.NewPCG(seed<<8|uint64(set), uint64(kind)<<32|index))
	for {
		b := newBuilder(set, kind, r)
		if b == nil {
			continue
		}
		b.drive()
		if kind == heatStops && !slices.ContainsFunc(b.log, func(r domain.Run) bool { return r.StoppedByHeat }) {
			continue
		}
		if r.Float64() < dayAlone && kind != backToBack {
			b.dropTimes()
		}
		return garage{log: b.log, question: b.question, truth: b.truth}
	}
}

// planned is one run of a log before it is driven.
type planned struct {
	pinion  int
	tire    float64
	minutes float64
	day     int
	air     float64 // °C of the day
	surface string
	wear    float64
	rest    float64 // minutes since the run before was read; 0 = cold
}

// builder makes one garage.
type builder struct {
	*physics.Member
	kind     Kind
	set      physics.Set
	r        *rand.Rand
	rough    float64 // rolling resistance on the second surface, as a factor
	parts    []domain.Part
	cooled   bool // before every run, to the air: a fan and a cold cloth on the motor
	plan     []planned
	next     planned
	question Question
	truth    truth
	cutOff   physics.CutOff
	loads    map[physics.Setup]physics.Load
	log      []domain.Run
}

// Names of surfaces; with one surface a log has no label.
const (
	homeSurface  = "clay"
	roughSurface = "grass"
)

// newBuilder draws a car, plans its log and asks the question. It returns nil
// where the draw makes no fair garage.
func newBuilder(set physics.Set, kind Kind, r *rand.Rand) *builder {
	b := &builder{
		Member: drawMember(set, kind, r),
		kind:   kind,
		set:    set,
		r:      r,
		rough:  between(r, 2, 4.5),
		parts:  []domain.Part{domain.Motor},
		loads:  map[physics.Setup]physics.Load{},
	}
	for _, part := range []domain.Part{domain.ESC, domain.Battery} {
		if r.Float64() < 0.7 || kind == flatESC && part == domain.ESC {
			b.parts = append(b.parts, part)
		}
	}
	b.temper()
	if kind == shortGearing && !b.gearShort() {
		return nil
	}
	b.plan, b.next = b.makePlan()
	for _, p := range b.plan {
		if _, ok := b.load(p); !ok {
			return nil
		}
	}
	if !b.ask() {
		return nil
	}
	return b
}

func drawMember(set physics.Set, kind Kind, r *rand.Rand) *physics.Member {
	switch kind {
	case flatESC:
		return physics.DrawFlatESC(set, r)
	case oneCell:
		return physics.DrawOneCell(set, r)
	}
	return physics.Draw(set, r)
}

// temper gives driver and weather what the kind of log is about.
func (b *builder) temper() {
	luck := &b.Car.Luck
	repeat := func() { // to 2 %, all in all
		luck.Run = between(b.r, 0.01, 0.015)
		for i := range luck.Part {
			luck.Part[i] = between(b.r, 0.01, 0.015)
		}
	}
	switch b.kind {
	case severalDays:
		luck.Day = between(b.r, 0.03, 0.06)
	case backToBack:
		b.cooled = b.r.Float64() < 1.0/3
	case steadyDriver:
		repeat()
		luck.Day = between(b.r, 0.01, 0.015)
		luck.Gun, luck.Air, luck.Haste, luck.Miss = 0.5, 0.3, 0.1, 0
	case unequalDays:
		repeat()
		luck.Day = between(b.r, 0.05, 0.08)
	case hotterDay:
		b.Air = between(b.r, 14, 18)
	case wholeKelvin:
		luck.Gun, luck.Air = 0.3, 0.3
	}
}

// gearShort gears a car down until a tooth less heats the motor more. It reports
// false if no pinion does.
func (b *builder) gearShort() bool {
	rise := func(pinion int) float64 {
		load, ok := b.load(planned{pinion: pinion, tire: b.Tire, wear: 1})
		if !ok {
			return 0
		}
		o := physics.Outing{Air: b.Air, Minutes: b.Minutes, Power: 1, Start: physics.AllAt(b.Air)}
		return b.Car.Parts(b.Car.Run(load, o).End)[0] - b.Air
	}
	const leastRise = 20 // K, below which nobody worries
	for pinion := b.Pinion; pinion > leastPinion+2; pinion-- {
		if here := rise(pinion); here >= leastRise && rise(pinion-1) > here {
			b.Pinion = pinion
			return true
		}
	}
	return false
}

// load returns the load of a planned run's setup.
func (b *builder) load(p planned) (physics.Load, bool) {
	s := b.Setup(p.pinion, p.tire)
	s.Wear = p.wear
	if p.surface == roughSurface {
		s.Surface = b.rough
	}
	if load, ok := b.loads[s]; ok {
		return load, true
	}
	load, ok := b.Car.Load(s)
	if ok {
		b.loads[s] = load
	}
	return load, ok
}

// makePlan plans the runs of a log and the run to come.
func (b *builder) makePlan() (plan []planned, next planned) {
	r := b.r
	runs, gearings, perDay := 9, 3, 3+r.IntN(2)
	climb := 0.0 // K a day
	switch b.kind {
	case oneRun:
		runs, gearings = 1, 1
	case threeRuns:
		runs, gearings = 3, 1
	case manyMinutes:
		runs, gearings = 6, 1
	case twoGearings:
		runs, gearings = 5, 2
	case someGearings:
		runs, gearings = 8+r.IntN(2), 3+r.IntN(2)
	case moreGearings:
		runs, gearings = 12, 3+r.IntN(3)
	case longLog:
		runs, gearings = 25, 4+r.IntN(3)
	case severalDays:
		runs, perDay = 12, 2
	case twoTires:
		runs, gearings = 8, 2
	case twoSurfaces, driftingCar:
		runs = 10
	case backToBack:
		runs = 8 + r.IntN(3)
	case flatESC:
		runs, gearings = 6+r.IntN(4), 3+r.IntN(2)
	case steadyDriver:
		runs = 6 + r.IntN(5)
	case unequalDays:
		perDay = 2 + r.IntN(2)
		runs = perDay * (5 + r.IntN(4))
	case fallingPinion:
		gearings, perDay = 3+r.IntN(3), 2+r.IntN(2)
		runs = perDay * gearings
		climb = between(r, 3, 5)
	case wholeKelvin:
		runs, perDay = 12, 2
	}
	pinions := b.pinions(runs, gearings)
	wear := between(r, 0.06, 0.2) // a run, in the car that drifts
	var weather float64
	for i, pinion := range pinions {
		if i%perDay == 0 {
			switch b.kind {
			case hotterDay:
				weather = b.Air + between(r, -1.5, 1.5)
			case fallingPinion:
				weather = b.Air + climb*(float64(i/perDay)-float64(gearings-1)/2) + between(r, -1, 1)
			default:
				weather = b.Air + 4*r.NormFloat64()
			}
		}
		p := planned{pinion: pinion, tire: b.Tire, day: i / perDay, air: weather, wear: 1}
		p.minutes = tenths(b.Minutes * math.Exp(0.12*r.NormFloat64()))
		switch b.kind {
		case manyMinutes:
			p.minutes = tenths(b.Minutes * between(r, 0.3, 1.4))
		case warmStarts:
			if i%perDay > 0 && r.Float64() < 0.8 {
				p.rest = between(r, 3, 20)
			}
		case backToBack:
			if i%perDay > 0 {
				p.rest = between(r, 2, 4) // and up to two until the reading
			}
		case twoSurfaces:
			p.surface = b.anySurface()
		case driftingCar:
			p.wear = 1 + wear*float64(i)
		}
		plan = append(plan, p)
	}
	if b.kind == twoTires {
		b.changeTire(plan)
	}
	next = plan[runs-1]
	next.day++
	next.rest = 0
	next.minutes = math.Round(b.Minutes * between(r, 0.8, 1.25))
	switch b.kind {
	case twoSurfaces:
		next.surface = b.anySurface()
	case driftingCar:
		next.wear += wear
	}
	return plan, next
}

// pinions returns a pinion for each run: a handful of neighbours about the usual
// one, in any order, none left out. In a log with heat stops, or of days that grew
// hotter, the last is the smallest: the driver has been coming down.
func (b *builder) pinions(runs, gearings int) []int {
	lowest := b.Pinion - b.r.IntN(gearings)
	all := make([]int, runs)
	for i := range all {
		all[i] = max(leastPinion, lowest+i%gearings)
	}
	b.r.Shuffle(runs, func(i, j int) { all[i], all[j] = all[j], all[i] })
	if b.kind == heatStops || b.kind == fallingPinion {
		slices.SortFunc(all, func(x, y int) int { return y - x })
	}
	return all
}

// changeTire puts the early runs of a plan on another tire, mostly a smaller one.
func (b *builder) changeTire(plan []planned) {
	other := math.Round(b.Tire * between(b.r, 0.84, 0.94))
	if b.r.Float64() < 0.2 {
		other = math.Round(b.Tire * between(b.r, 1.06, 1.15))
	}
	for i := range 4 + b.r.IntN(2) {
		plan[i].tire = other
	}
}

func (b *builder) anySurface() string {
	if b.r.Float64() < 0.5 {
		return homeSurface
	}
	return roughSurface
}

// ask puts the question and settles its truth: the next run, its candidates, every
// fate met with every candidate, and limits drawn so that the choice matters. It
// reports false if a candidate can't be driven, or a limit is none that a driver
// would set.
func (b *builder) ask() bool {
	next := b.blank(b.next, len(b.plan))
	coldest, hottest := -4.0, 8.0 // K from the usual air
	if b.kind == hotterDay {
		coldest, hottest = 14, 20
	}
	next.Ambient = units.Celsius(math.Round(b.Air + between(b.r, coldest, hottest)))
	q := &b.question
	*q = Question{Next: next, Confidence: wantedConfidence, MaxStepUp: stepUp, Limits: domain.ByPart[units.Celsius]{}}
	fates := physics.Fates(b.r, numFates)
	var met [][]readout // by candidate and fate
	for pinion := max(leastPinion, b.next.pinion-reach); pinion <= b.next.pinion+reach; pinion++ {
		p := b.next
		p.pinion = pinion
		load, ok := b.load(p)
		if !ok {
			return false
		}
		air := float64(next.Ambient)
		prospect := b.Car.Prospect(load, physics.Outing{Air: air, Minutes: p.minutes, Start: physics.AllAt(air)})
		readouts := make([]readout, numFates)
		for i, fate := range fates {
			readouts[i] = prospect.Readings(fate)
		}
		met = append(met, readouts)
		q.Candidates = append(q.Candidates, pinion)
	}
	for _, part := range b.parts {
		b.truth.peaks[part] = sortedPeaks(met, part)
		q.Limits.Set(part, b.limit(part))
		if q.Limits.At(part) > highestLimit {
			return false
		}
	}
	for _, readouts := range met {
		b.truth.chance = append(b.truth.chance, shareUnder(readouts, q.Limits))
	}
	if b.kind == heatStops {
		b.watch()
	}
	return true
}

// readout is what is read after one run, by part; physics numbers the parts as
// runlog does.
type readout = [physics.NumParts]float64

// sortedPeaks returns the readings of a part by candidate, rising.
func sortedPeaks(met [][]readout, part domain.Part) [][]float64 {
	peaks := make([][]float64, len(met))
	for i, readouts := range met {
		for _, r := range readouts {
			peaks[i] = append(peaks[i], r[part])
		}
		slices.Sort(peaks[i])
	}
	return peaks
}

// shareUnder returns the share of readouts that are at or under every limit.
func shareUnder(readouts []readout, limits domain.ByPart[units.Celsius]) float64 {
	held := 0
	for _, r := range readouts {
		under := true
		for part, limit := range limits.All() {
			under = under && r[part] <= float64(limit)
		}
		if under {
			held++
		}
	}
	return float64(held) / float64(len(readouts))
}

// limit draws a part's limit between its plausible peaks some teeth below and above
// the last pinion: for the motor 3 below and 2 above, for the others, which limit
// less often, 2 below and 4 above. Where the ESC hardly follows the gearing, the motor
// leaves the choice to it. A plausible peak is one that eight runs in ten stay
// under. Where gearing hardly changes the peak, the span is opened to a run's scatter.
func (b *builder) limit(part domain.Part) units.Celsius {
	below, above := 3, 2
	switch {
	case part != domain.Motor:
		below, above = 2, 4
	case b.kind == heatStops:
		above = 0
	case b.kind == flatESC:
		below, above = -1, reach
	}
	low, high := math.Inf(1), math.Inf(-1)
	for i, pinion := range b.question.Candidates {
		if pinion >= b.next.pinion-below && pinion <= b.next.pinion+above {
			peaks := b.truth.peaks[part][i]
			plausible := peaks[len(peaks)*8/10]
			low, high = math.Min(low, plausible), math.Max(high, plausible)
		}
	}
	const least = 6 // K
	if short := least - (high - low); short > 0 {
		low, high = low-short/2, high+short/2
	}
	return units.Celsius(math.Round(between(b.r, low, high)))
}

// watch sets a protection a little above the limits. In set A it ends the run, in
// set B it limps on to the planned end.
func (b *builder) watch() {
	for _, part := range []domain.Part{domain.Motor, domain.ESC} {
		if limit, judged := b.question.Limits.Of(part); judged {
			b.cutOff.Celsius[part] = float64(limit) + between(b.r, 0, 6)
		}
	}
	if b.set == physics.B {
		b.cutOff.LimpShare = 0.5
	}
}

// firstDay is when the first run of every log starts.
var firstDay = time.Date(2026, time.March, 7, 9, 0, 0, 0, time.UTC)

// coldPause is how long a car stands before a run that starts cold, on the day of the
// run before. What is left of that run's heat is then less than a gun shows.
const coldPause = 2 * time.Hour

// starts returns when the first run of a day starts; days are a week apart.
func starts(day int) time.Time { return firstDay.AddDate(0, 0, 7*day) }

func duration(minutes float64) time.Duration {
	return time.Duration(minutes * float64(time.Minute))
}

// blank returns a planned run as a log has it before anything is read, the first of
// its day.
func (b *builder) blank(p planned, index int) domain.Run {
	return domain.Run{
		Position: domain.Position{File: "garage.csv", Line: index + 2},
		When:     starts(p.day).Add(duration(p.minutes)),
		HasTime:  true,
		Car:      "garage",
		Gearing:  drivetrain.Gearing{Pinion: p.pinion, Spur: b.Spur, Internal: b.Internal},
		Tire:     units.Millimeters(p.tire),
		Minutes:  units.Minutes(p.minutes),
		Surface:  p.surface,
		Cells:    b.Cells,
	}
}

// drive drives the plan and writes the log.
func (b *builder) drive() {
	var today physics.Fate
	var state physics.State
	var clock time.Time
	stood := 0.0 // s that the run before waited for its reading
	for i, p := range b.plan {
		fate := physics.NewFate(b.r)
		switch {
		case i == 0 || p.day != b.plan[i-1].day:
			today, clock = fate, starts(p.day)
		case p.rest > 0:
			clock = clock.Add(duration(p.rest + stood/60))
		default:
			clock = clock.Add(coldPause)
		}
		fate.Day = today.Day
		air := p.air + 1.2*b.r.NormFloat64()
		run := b.blank(p, i)
		run.Ambient = units.Celsius(math.Round(air + b.Car.Luck.AirError(fate)))
		if p.rest > 0 && !b.cooled {
			pack := air + between(b.r, 0, 6) // fresh from the charger
			state = b.Car.FreshPack(b.Car.Rest(state, air, 60*p.rest), pack)
			if b.kind != backToBack {
				run.Start = b.start(state)
			}
		} else {
			state = physics.AllAt(air)
		}
		load, _ := b.load(p) // newBuilder has seen that it can be driven
		out := b.Car.Run(load, physics.Outing{
			Air:     air,
			Minutes: p.minutes,
			Power:   b.Car.Luck.Power(fate),
			Start:   state,
			CutOff:  b.cutOff,
		})
		clock = clock.Add(duration(out.Minutes))
		run.When = clock.Round(time.Minute)
		stood = b.Car.Luck.ReadAfter(fate)
		state = b.Car.Rest(out.End, air, stood)
		for _, part := range b.parts {
			rise := b.Car.Parts(state)[part] - air
			run.Peak.Set(part, whole(b.Car.Luck.Reading(int(part), air, rise, fate)))
		}
		run.Minutes = units.Minutes(tenths(out.Minutes))
		run.StoppedByHeat = out.Cut
		b.log = append(b.log, run)
	}
}

// dropTimes leaves a log and its question with days alone.
func (b *builder) dropTimes() {
	drop := func(r *domain.Run) { r.When, r.HasTime = r.When.Truncate(24*time.Hour), false }
	for i := range b.log {
		drop(&b.log[i])
	}
	drop(&b.question.Next)
}

// start reads a warm car before a run.
func (b *builder) start(s physics.State) (start domain.Readings) {
	for _, part := range b.parts {
		start.Set(part, whole(b.Car.Parts(s)[part]+b.Car.Luck.Gun*b.r.NormFloat64()))
	}
	return start
}

// best returns the pick that the policy makes of the true chances.
func (t truth) best(log []domain.Run, q Question) int {
	return tallest(log, q, func(i int) (float64, bool) { return t.chance[i], true })
}

// content returns the true probability of an interval of a part's peak.
func (t truth) content(part domain.Part, candidate int, in Interval) float64 {
	peaks := t.peaks[part][candidate]
	from, _ := slices.BinarySearch(peaks, float64(in.Low))
	to, _ := slices.BinarySearch(peaks, math.Nextafter(float64(in.High), math.Inf(1)))
	return float64(max(0, to-from)) / float64(len(peaks))
}

func between(r *rand.Rand, low, high float64) float64 { return low + (high-low)*r.Float64() }

func tenths(x float64) float64 { return math.Round(10*x) / 10 }

func whole(x float64) units.Celsius { return units.Celsius(math.Round(x)) }
