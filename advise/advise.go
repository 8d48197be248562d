// Package advise turns the fits of a car, the driver's limits and the parts at hand
// into one recommendation: which pinion to run next.
//
// It does no I/O and no formatting. The policy is one sentence: of the candidates
// that reach the wanted confidence of staying under every limit, the one with the
// tallest rollout; speed is what the driver wants, heat is the limit.
package advise

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// Origin says where a value came from, so that an answer can name what was assumed.
type Origin uint8

// Origins, from the closest to the farthest from what the driver said just now.
const (
	Given   Origin = iota // on the command line or the page
	CarFile               // in the car file
	LastRun               // as in the last run
	FullRun               // as in the longest run that heat did not stop
	Default               // a documented default
)

// Limit is the temperature that a part should stay under.
type Limit struct {
	Temperature units.Celsius
	Origin      Origin
	Whose       string // whose figure it is, where the car file says so
}

// DefaultLimits returns the limits used where the driver gives none: motor can and
// ESC 71 °C (160 °F), common practice without a source; battery 60 °C (140 °F), the
// discharge maximum of the usual LiPo cell specification.
func DefaultLimits() run.ByPart[Limit] {
	return run.ByPart[Limit]{}.
		With(run.Motor, Limit{Temperature: 71, Origin: Default}).
		With(run.ESC, Limit{Temperature: 71, Origin: Default}).
		With(run.Battery, Limit{Temperature: 60, Origin: Default})
}

// Documented defaults of a Request.
const (
	DefaultConfidence = 0.8
	DefaultMaxStepUp  = 2
	// defaultReach is how many teeth are looked at to each side of the pinion that keeps
	// the last run's rollout, where you don't say which pinions you have.
	defaultReach = 4
)

// NextMinutes returns how long the next run is taken to last where nobody says, and why so
// long: as the last one. If heat cut that one short, it says nothing of how long you drive:
// then as the longest full run of the car, or FirstRunMinutes at least where there is none.
func NextMinutes(car *analyze.Car) (units.Minutes, Origin) {
	if !car.Last.StoppedByHeat {
		return car.Last.Minutes, LastRun
	}
	var full, cut units.Minutes
	for _, f := range car.Fits() {
		for _, r := range f.Used() {
			if r.StoppedByHeat {
				cut = max(cut, r.Minutes)
			} else {
				full = max(full, r.Minutes)
			}
		}
	}
	if full == 0 {
		return max(cut, FirstRunMinutes), Default
	}
	return full, FullRun
}

// Request is what the driver asks.
type Request struct {
	Limits     run.ByPart[Limit]
	Confidence float64 // wanted probability of staying under every limit, in (0, 1)
	Gearings   []drivetrain.Gearing
	// Smaller are gearings to go on with, the largest pinion first, as long as none that
	// was looked at reaches the confidence.
	Smaller []drivetrain.Gearing
	// Excluded holds the combinations at hand that are not among Gearings.
	Excluded []Excluded
	// MotorKV is the motor's unloaded turns a minute for each volt; 0 is not known.
	MotorKV float64
	// Next holds the circumstances of the next run; its gearing is not looked at.
	Next analyze.Conditions
	// MaxStepUp bounds how far above the tallest rollout already run a pick may
	// lie, in pinion teeth; 0 is no bound.
	MaxStepUp int
	From      Origins
}

// Origins says where each circumstance of the next run came from.
type Origins struct {
	Pinions, Spurs, Ambient, Minutes, Tire, Cells, Surface, Cooling Origin
}

// Pinions returns base with each of the pinions on each of the spurs, without repeats,
// in rising order.
func Pinions(base drivetrain.Gearing, teeth []int, spurs []int) []drivetrain.Gearing {
	distinct := func(teeth []int) []int { return slices.Compact(slices.Sorted(slices.Values(teeth))) }
	var all []drivetrain.Gearing
	for _, t := range distinct(teeth) {
		for _, s := range distinct(spurs) {
			all = append(all, drivetrain.Gearing{Pinion: t, Spur: s, Internal: base.Internal})
		}
	}
	return all
}

// PinionsAround returns the pinions to look at where nobody says which there are: those
// within defaultReach teeth of one, and the smaller ones to go on with, down to
// SmallestPinion or what is fitted.
func PinionsAround(teeth, fitted int) (around, smaller []int) {
	least := min(SmallestPinion, fitted)
	for t := max(least, teeth-defaultReach); t <= max(least, teeth)+defaultReach; t++ {
		around = append(around, t)
	}
	for t := around[0] - 1; t >= least; t-- {
		smaller = append(smaller, t)
	}
	return around, smaller
}

// Action is what to do with the gearing.
type Action uint8

// The zero Action is the cautious one.
const (
	NoneReachesConfidence Action = iota
	GearDown
	Keep
	GearUp
)

// PartForecast is what one part's temperature will do in the next run.
type PartForecast struct {
	P10, P50, P90 units.Celsius
	// Chance is the probability of staying under the part's limit, where it has one.
	Chance   float64
	HasLimit bool
}

// Candidate is one gearing and what the next run with it would be like.
type Candidate struct {
	Gearing     drivetrain.Gearing
	Ratio       float64
	Rollout     units.Millimeters
	SpeedChange float64 // unloaded, against the last run as it was driven
	Parts       run.ByPart[PartForecast]
	Chance      float64 // of staying under every limit
	Reaches     bool    // Chance is at least the wanted confidence
	Outside     bool    // the rollout lies outside those already run
	TooFarUp    bool    // beyond MaxStepUp
	// Unproven is a gearing taller than any that was run, while the log says that a smaller
	// one may be no cooler: it is not picked, whatever its chance.
	Unproven bool
	// MinutesToLimit is the longest run that still reaches the wanted confidence.
	// It is absent where no length up to MaxMinutes breaks it.
	MinutesToLimit    units.Minutes
	HasMinutesToLimit bool
	// TopSpeed bounds the road speed in km/h from above: unloaded, on full cells. It is 0
	// where kV or cells are not known.
	TopSpeed float64
}

// Advice is the answer.
type Advice struct {
	Car      *analyze.Car
	Current  analyze.Conditions // the last run's
	Next     analyze.Conditions // with the current gearing
	Limits   run.ByPart[Limit]  // of the parts that were measured
	Unjudged []run.Part         // limited, but never measured
	// As in the request:
	Confidence float64
	MaxStepUp  int
	From       Origins
	Excluded   []Excluded
	MotorKV    float64 // turns a minute for each volt; 0 is not known

	// lever are the warnings of parts that are too hot and hardly follow the gearing.
	lever []analyze.Warning
	// tallest is the rollout from which steps up are counted.
	tallest units.Millimeters

	Action     Action
	Pick       *Candidate // among Candidates
	Binding    run.Part
	Candidates []Candidate // in rising pinion order
	// Help is what else would do where no candidate reaches the confidence, else zero.
	Help Help
	// Early are the readings part-way through a run with the pick; none without a pick.
	Early []EarlyReading
	// NextTest is another run that is worth a pack of its own, or nil.
	NextTest *NextTest
	Warnings []analyze.Warning
}

// MaxMinutes is the longest run that is looked at.
const MaxMinutes units.Minutes = 60

// A RequestError says which part of a request can't be answered, and why.
type RequestError struct{ What string }

func (e *RequestError) Error() string { return e.What }

// ErrNoLimit reports that no measured part has a limit, so that there is nothing
// to judge.
var ErrNoLimit = errors.New("no part that the log measured has a limit")

// For answers a request from the fits of a car.
//
// It fails with a *RequestError on a request that can't be met as it stands, and with
// ErrNoLimit.
func For(car *analyze.Car, req Request) (*Advice, error) {
	if err := check(req); err != nil {
		return nil, err
	}
	a := &Advice{
		Car: car, Current: analyze.ConditionsOf(car.Last), Next: req.Next,
		Confidence: req.Confidence, MaxStepUp: req.MaxStepUp, From: req.From,
		Excluded: req.Excluded, MotorKV: req.MotorKV,
	}
	a.Next.Gearing = car.Last.Gearing
	for part, limit := range req.Limits.All() {
		switch {
		case car.Fit(part) != nil:
			a.Limits.Set(part, limit)
		case limit.Origin == Given:
			return nil, &RequestError{fmt.Sprintf("a limit is given for the %s, but no usable run measured it", part.Word())}
		default:
			a.Unjudged = append(a.Unjudged, part)
		}
	}
	if a.Limits.Len() == 0 {
		return nil, ErrNoLimit
	}
	a.notTheLever()
	a.tallest = a.tallestProven()
	a.look(req)
	a.pick()
	if a.Action == NoneReachesConfidence {
		a.Help = a.help()
	} else {
		a.Early = a.early()
	}
	a.Warnings = a.warnings()
	a.NextTest = a.nextTest()
	return a, nil
}

// look foresees every candidate, and goes on downwards as long as none is safe.
func (a *Advice) look(req Request) {
	a.Candidates = make([]Candidate, len(req.Gearings))
	var looked sync.WaitGroup
	for i, g := range req.Gearings {
		looked.Go(func() { a.Candidates[i] = a.candidate(g) })
	}
	looked.Wait()
	for i, g := range req.Smaller {
		samePinion := i > 0 && g.Pinion == req.Smaller[i-1].Pinion
		if !samePinion && slices.ContainsFunc(a.Candidates, func(c Candidate) bool { return c.safe() }) {
			break
		}
		a.Candidates = append(a.Candidates, a.candidate(g))
	}
	slices.SortStableFunc(a.Candidates, func(c, d Candidate) int { return ByTeeth(c.Gearing, d.Gearing) })
}

func check(req Request) error {
	if !(req.Confidence > 0 && req.Confidence < 1) {
		return &RequestError{fmt.Sprintf("a confidence of %g is not between 0 and 1", req.Confidence)}
	}
	if len(req.Gearings) == 0 {
		return &RequestError{"no pinion to choose from"}
	}
	for _, g := range req.Gearings {
		if err := g.Check(); err != nil {
			return &RequestError{fmt.Sprintf("gearing %v: %v", g, err)}
		}
	}
	for part, l := range req.Limits.All() {
		if l.Temperature <= req.Next.Ambient {
			return &RequestError{fmt.Sprintf("the %s's limit of %.0f °C is not above the next run's air of %.0f °C",
				part.Word(), float64(l.Temperature), float64(req.Next.Ambient))}
		}
	}
	return nil
}

// Temperatures leaves out where limits came from.
func Temperatures(limits run.ByPart[Limit]) analyze.Limits {
	var plain analyze.Limits
	for part, l := range limits.All() {
		plain.Set(part, l.Temperature)
	}
	return plain
}

// With returns the next run's conditions with another gearing.
func (a *Advice) With(g drivetrain.Gearing) analyze.Conditions {
	c := a.Next
	c.Gearing = g
	return c
}

func (a *Advice) candidate(g drivetrain.Gearing) Candidate {
	next := a.With(g)
	foreseen := a.Car.Forecast(next)
	chance := foreseen.Under(Temperatures(a.Limits))
	const rounding = 1e-9
	up := teethAbove(a.tallest, next) - rounding
	c := Candidate{
		Gearing: g, Ratio: g.FinalDriveRatio(), Rollout: next.Rollout(),
		SpeedChange: a.speedChange(next),
		Chance:      chance.All,
		Reaches:     chance.All >= a.Confidence,
		Outside:     !a.Car.Tested().Contains(next.Rollout()),
		TooFarUp:    a.MaxStepUp > 0 && up > float64(a.MaxStepUp),
	}
	c.Unproven = len(a.lever) > 0 && c.Outside && c.Rollout > a.Car.Tested().High
	for _, f := range a.Car.Fits() {
		c.Parts.Set(f.Part, partForecast(f.Part, foreseen, chance))
	}
	c.MinutesToLimit, c.HasMinutesToLimit = a.minutesToLimit(foreseen)
	c.TopSpeed = TopSpeed(c.Rollout, a.MotorKV, next.Cells, FullCellVolts)
	return c
}

// partForecast returns what a part will do in a run with these chances.
func partForecast(part run.Part, foreseen *analyze.Forecast, chance analyze.Chance) PartForecast {
	p := foreseen.Part(part)
	out := PartForecast{P10: p.Quantile(0.1), P50: p.Quantile(0.5), P90: p.Quantile(0.9)}
	out.Chance, out.HasLimit = chance.Part.Of(part)
	return out
}

// speedChange returns by what share the unloaded speed changes against the last run as it
// was driven: with the rollout, and with the cells where both runs know them.
func (a *Advice) speedChange(next analyze.Conditions) float64 {
	change := 1 + drivetrain.SpeedChange(a.Current.Rollout(), next.Rollout())
	if a.Current.Cells > 0 && next.Cells > 0 {
		change *= float64(next.Cells) / float64(a.Current.Cells)
	}
	return change - 1
}

// tallestProven returns the rollout from which steps up are counted: the tallest at which
// every limited part was read after a run that tells of the next one, of at least half its
// length and not stopped by heat; and not more than what is fitted, so that no two steps are
// taken at once. Where gearing is not the lever, the way back to what was run stays open.
func (a *Advice) tallestProven() units.Millimeters {
	tallest := a.Current.Rollout()
	if len(a.lever) > 0 {
		tallest = units.Millimeters(math.Inf(1))
	}
	for part := range a.Limits.All() {
		proven := units.Millimeters(0)
		for _, r := range a.Car.Fit(part).Used() {
			if proven < tallest && !r.StoppedByHeat && r.Minutes >= a.Next.Minutes/2 {
				proven = max(proven, r.Rollout())
			}
		}
		if proven > 0 {
			tallest = min(tallest, proven)
		}
	}
	if math.IsInf(float64(tallest), 1) {
		return a.Current.Rollout()
	}
	return tallest
}

// teethAbove returns how many teeth of its pinion a gearing lies above a rollout.
func teethAbove(rollout units.Millimeters, c analyze.Conditions) float64 {
	return float64(c.Gearing.Pinion) - c.Gearing.PinionFor(rollout, c.Tire)
}

// minutesToLimit returns the longest run that reaches the wanted confidence, unless
// even MaxMinutes does.
func (a *Advice) minutesToLimit(foreseen *analyze.Forecast) (units.Minutes, bool) {
	limits := Temperatures(a.Limits)
	short := func(minutes float64) float64 {
		return foreseen.Lasting(units.Minutes(minutes)).Under(limits).All - a.Confidence
	}
	if short(float64(MaxMinutes)) >= 0 {
		return 0, false
	}
	const noLength = 1e-3 // a run of no length warms nothing
	return units.Minutes(analyze.Root(short, noLength, float64(MaxMinutes), 1e-4)), true
}

// pick applies the policy. Where every candidate lies too far up, none is safe to
// try, and the most probable one is named like any other that fails.
func (a *Advice) pick() {
	for i := range a.Candidates {
		if c := &a.Candidates[i]; a.Pick == nil || a.better(c, a.Pick) {
			a.Pick = c
		}
	}
	a.Action = a.action(a.Pick)
	lowest := math.Inf(1)
	for part, f := range a.Pick.Parts.All() {
		if f.HasLimit && f.Chance < lowest {
			lowest, a.Binding = f.Chance, part
		}
	}
}

// safe reports whether a candidate may be picked.
func (c *Candidate) safe() bool { return c.Reaches && !c.TooFarUp && !c.Unproven }

// better reports whether c is to be picked rather than other: the one inside the step
// up, then the one that reaches the confidence; of two that do, the taller rollout
// and then the smaller change; of two that don't, the one that was run before where gearing
// is not the lever, and then the more probable.
func (a *Advice) better(c, other *Candidate) bool {
	switch {
	case c.TooFarUp != other.TooFarUp:
		return !c.TooFarUp
	case c.Unproven != other.Unproven:
		return !c.Unproven
	case c.safe() != other.safe():
		return c.safe()
	case !c.safe() && len(a.lever) > 0 && c.Outside != other.Outside:
		return !c.Outside
	case !c.safe() && c.Chance != other.Chance:
		return c.Chance > other.Chance
	case c.Rollout != other.Rollout:
		return c.Rollout > other.Rollout
	default:
		return teethChanged(a.Next.Gearing, c.Gearing) < teethChanged(a.Next.Gearing, other.Gearing)
	}
}

func (a *Advice) action(c *Candidate) Action {
	switch {
	case !c.safe():
		return NoneReachesConfidence
	case c.Gearing == a.Next.Gearing:
		return Keep
	case c.Rollout < a.Next.Rollout():
		return GearDown
	default:
		return GearUp
	}
}

// warnings returns what the driver should know about this answer, the car's own
// warnings first.
func (a *Advice) warnings() []analyze.Warning {
	all := slices.Clone(a.Car.Warnings())
	all = append(all, a.Car.NextRunWarnings(a.Next)...)
	for part, l := range a.Limits.All() {
		if l.Origin == Default {
			all = append(all, analyze.LimitAssumed{Part: part, Limit: l.Temperature})
		}
	}
	for _, part := range a.Unjudged {
		all = append(all, analyze.PartUnjudged{Part: part})
	}
	if a.Pick.TooFarUp {
		all = append(all, analyze.AllTooFarUp{MaxStepUp: a.MaxStepUp})
	}
	if a.Pick.Outside {
		all = append(all, analyze.OutsideTested{Teeth: a.teethOutside(a.With(a.Pick.Gearing))})
	}
	if a.Car.Last.StoppedByHeat && a.From.Minutes != Given {
		all = append(all, analyze.CutShortMinutes{Last: a.Current.Minutes, Taken: a.Next.Minutes})
	}
	all = append(all, a.lever...)
	return append(all, a.veryHot()...)
}

// teethOutside returns by how many teeth of its pinion a gearing lies outside the
// rollouts already run: above 0 beyond the tallest, below 0 beyond the shortest.
func (a *Advice) teethOutside(c analyze.Conditions) float64 {
	tested := a.Car.Tested()
	if above := teethAbove(tested.High, c); above > 0 {
		return above
	}
	return teethAbove(tested.Low, c)
}

// notTheLever finds the parts that are too hot at the current gearing while the log, not
// the general rule alone, says that a smaller rollout would hardly cool them.
func (a *Advice) notTheLever() {
	// An exponent of a half: a tenth less rollout takes a twentieth from the rise.
	const weak, takes, likely = 0.5, 0.05, 0.5
	chances := a.Car.Under(a.Next, Temperatures(a.Limits)).Part
	for _, f := range a.Car.Fits() {
		chance, limited := chances.Of(f.Part)
		if !limited || chance >= a.Confidence || f.InformedBy(a.Next) == analyze.FromPrior {
			continue
		}
		if p := f.ExponentBelow(a.Next, weak); p >= likely {
			a.lever = append(a.lever, analyze.NotTheLever{Part: f.Part, Chance: p, Takes: takes})
		}
	}
}

// veryHotReading is the reading above which a car wants a look before it wants a pinion,
// unless a part's own limit is higher: damage is reported from about 93 °C on (common
// practice, no source).
const veryHotReading units.Celsius = 95

// unlikely is the chance below which the smallest candidate is no answer.
const unlikely = 0.25

// veryHot tells of readings on the last day that no pinion should answer, and that even the
// smallest candidate is unlikely to hold.
func (a *Advice) veryHot() []analyze.Warning {
	var all []analyze.Warning
	for _, f := range a.Car.Fits() {
		hottest := max(veryHotReading, a.Limits.At(f.Part).Temperature)
		w := analyze.VeryHot{Part: f.Part, Peak: hottest}
		for _, r := range f.Used() {
			if peak, _ := r.Peak.Of(f.Part); peak > w.Peak && r.Day() == a.Car.Last.Day() {
				w.Peak = peak
			}
		}
		if w.Peak > hottest {
			all = append(all, w)
		}
	}
	smallest := slices.MinFunc(a.Candidates, func(c, d Candidate) int { return cmp.Compare(c.Rollout, d.Rollout) })
	if len(all)+len(a.lever) == 0 && a.Action == NoneReachesConfidence && max(smallest.Chance, a.Pick.Chance) < unlikely {
		all = append(all, analyze.VeryHot{NoGearing: true})
	}
	return all
}

// FullCellVolts is the voltage of a fully charged LiPo cell, by the usual cell
// specification (4.20 ± 0.05 V). Nominal is 3.7 V; a bound has to hold for a full one.
const FullCellVolts = 4.2

// TopSpeed returns the road speed in km/h at which a motor would turn without any load:
//
//	speed = rollout * kV * cells * volts a cell * 60 / 1e6
//
// No car reaches it: every load on the motor takes turns away. It is the bound
// above, for weighing what a gearing gains.
func TopSpeed(rollout units.Millimeters, kv float64, cells int, cellVolts float64) float64 {
	return drivetrain.Speed(rollout, kv*float64(cells)*cellVolts)
}
