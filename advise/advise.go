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
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// Origin says where a value came from, so that an answer can name what was assumed.
type Origin uint8

// Origins, from the closest to the farthest from what the driver said just now.
const (
	Given   Origin = iota // on the command line or the page
	CarFile               // in the car file
	LastRun               // as in the last run
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
func DefaultLimits() map[runlog.Part]Limit {
	return map[runlog.Part]Limit{
		runlog.Motor:   {Temperature: 71, Origin: Default},
		runlog.ESC:     {Temperature: 71, Origin: Default},
		runlog.Battery: {Temperature: 60, Origin: Default},
	}
}

// Documented defaults of a Request.
const (
	DefaultConfidence = 0.8
	DefaultMaxStepUp  = 2
	// DefaultReach is how many teeth to each side of the last pinion are looked at
	// where the driver does not say which pinions he has.
	DefaultReach = 4
)

// Request is what the driver asks.
type Request struct {
	Limits     map[runlog.Part]Limit
	Confidence float64 // wanted probability of staying under every limit, in (0, 1)
	Gearings   []drivetrain.Gearing
	// Excluded holds the combinations at hand that are not among Gearings, for the
	// answer to tell.
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

// PinionsAround returns the pinions within DefaultReach teeth of one.
func PinionsAround(teeth int) []int {
	var all []int
	for t := max(1, teeth-DefaultReach); t <= teeth+DefaultReach; t++ {
		all = append(all, t)
	}
	return all
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
	SpeedChange float64 // against the current gearing on the next run's tire
	Parts       map[runlog.Part]PartForecast
	Chance      float64 // of staying under every limit
	Reaches     bool    // Chance is at least the wanted confidence
	Outside     bool    // the rollout lies outside those already run
	TooFarUp    bool    // beyond MaxStepUp
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
	Car        *analyze.Car
	Current    analyze.Conditions // the last run's
	Next       analyze.Conditions // with the current gearing
	Limits     map[runlog.Part]Limit
	Unjudged   []runlog.Part // limited, but never measured
	Confidence float64
	MaxStepUp  int
	From       Origins

	Action     Action
	Pick       *Candidate // among Candidates
	Binding    runlog.Part
	Candidates []Candidate // in rising pinion order
	Excluded   []Excluded  // as in the request
	MotorKV    float64     // as in the request
	// Help is what else would do where no candidate reaches the confidence, else zero.
	Help     Help
	NextTest NextTest
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
		Limits: map[runlog.Part]Limit{}, Confidence: req.Confidence, MaxStepUp: req.MaxStepUp, From: req.From,
		Excluded: req.Excluded, MotorKV: req.MotorKV,
	}
	a.Next.Gearing = car.Last.Gearing
	for _, part := range runlog.Parts {
		limit, limited := req.Limits[part]
		switch {
		case !limited:
		case car.Fit(part) != nil:
			a.Limits[part] = limit
		case limit.Origin == Given:
			return nil, &RequestError{fmt.Sprintf("a limit is given for the %s, but no usable run measured it", part.Word())}
		default:
			a.Unjudged = append(a.Unjudged, part)
		}
	}
	if len(a.Limits) == 0 {
		return nil, ErrNoLimit
	}
	a.Candidates = make([]Candidate, len(req.Gearings))
	var looked sync.WaitGroup
	for i, g := range req.Gearings {
		looked.Go(func() { a.Candidates[i] = a.candidate(g) })
	}
	looked.Wait()
	a.pick()
	if a.Action == NoneReachesConfidence {
		a.Help = a.help()
	}
	a.NextTest = a.nextTest()
	a.Warnings = a.warnings()
	return a, nil
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
	for _, part := range runlog.Parts {
		if l, ok := req.Limits[part]; ok && l.Temperature <= req.Next.Ambient {
			return &RequestError{fmt.Sprintf("the %s's limit of %.0f °C is not above the next run's air of %.0f °C",
				part.Word(), float64(l.Temperature), float64(req.Next.Ambient))}
		}
	}
	return nil
}

// limits returns the judged limits in the form that a fit takes.
func (a *Advice) limits() analyze.Limits { return Temperatures(a.Limits) }

// Temperatures leaves out where limits came from.
func Temperatures(limits map[runlog.Part]Limit) analyze.Limits {
	plain := make(analyze.Limits, len(limits))
	for part, l := range limits {
		plain[part] = l.Temperature
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
	chance := foreseen.Under(a.limits())
	c := Candidate{
		Gearing: g, Ratio: g.FinalDriveRatio(), Rollout: next.Rollout(),
		SpeedChange: drivetrain.SpeedChange(a.Next.Rollout(), next.Rollout()),
		Parts:       map[runlog.Part]PartForecast{},
		Chance:      chance.All,
		Reaches:     chance.All >= a.Confidence,
		Outside:     !a.Car.Tested().Contains(next.Rollout()),
		TooFarUp:    a.MaxStepUp > 0 && a.teethAboveTested(next) > float64(a.MaxStepUp),
	}
	for _, f := range a.Car.Fits() {
		c.Parts[f.Part] = partForecast(f.Part, foreseen, chance)
	}
	c.MinutesToLimit, c.HasMinutesToLimit = a.minutesToLimit(foreseen)
	c.TopSpeed = TopSpeed(c.Rollout, a.MotorKV, next.Cells, FullCellVolts)
	return c
}

// partForecast returns what a part will do in a run, of whose chances these are.
func partForecast(part runlog.Part, run *analyze.Forecast, chance analyze.Chance) PartForecast {
	p := run.Part(part)
	out := PartForecast{P10: p.Quantile(0.1), P50: p.Quantile(0.5), P90: p.Quantile(0.9)}
	out.Chance, out.HasLimit = chance.Part[part]
	return out
}

// teethAboveTested returns how many teeth of its pinion a gearing lies above the
// tallest rollout already run.
func (a *Advice) teethAboveTested(c analyze.Conditions) float64 {
	const rounding = 1e-9
	return float64(c.Gearing.Pinion) - c.Gearing.PinionFor(a.Car.Tested().High, c.Tire) - rounding
}

// minutesToLimit returns the longest run that reaches the wanted confidence, unless
// even MaxMinutes does.
func (a *Advice) minutesToLimit(run *analyze.Forecast) (units.Minutes, bool) {
	limits := a.limits()
	short := func(minutes float64) float64 {
		return run.Lasting(units.Minutes(minutes)).Under(limits).All - a.Confidence
	}
	if short(float64(MaxMinutes)) >= 0 {
		return 0, false
	}
	// A run of no length warms nothing.
	const noLength = 1e-3
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
	for _, part := range runlog.Parts {
		if f, ok := a.Pick.Parts[part]; ok && f.HasLimit && f.Chance < lowest {
			lowest, a.Binding = f.Chance, part
		}
	}
}

// better reports whether c is to be picked rather than other: the one inside the step
// up, then the one that reaches the confidence; of two that do, the taller rollout
// and then the smaller change; of two that don't, the more probable.
func (a *Advice) better(c, other *Candidate) bool {
	safe := func(c *Candidate) bool { return c.Reaches && !c.TooFarUp }
	switch {
	case c.TooFarUp != other.TooFarUp:
		return !c.TooFarUp
	case safe(c) != safe(other):
		return safe(c)
	case !safe(c) && c.Chance != other.Chance:
		return c.Chance > other.Chance
	case c.Rollout != other.Rollout:
		return c.Rollout > other.Rollout
	default:
		return teethChanged(a.Next.Gearing, c.Gearing) < teethChanged(a.Next.Gearing, other.Gearing)
	}
}

func (a *Advice) action(c *Candidate) Action {
	switch {
	case !c.Reaches || c.TooFarUp:
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
	for _, part := range runlog.Parts {
		if l, ok := a.Limits[part]; ok && l.Origin == Default {
			all = append(all, analyze.Warning{Code: analyze.LimitAssumed, Part: part, OfPart: true, Seen: l.Temperature})
		}
	}
	for _, part := range a.Unjudged {
		all = append(all, analyze.Warning{Code: analyze.PartUnjudged, Part: part, OfPart: true})
	}
	if a.Pick.TooFarUp {
		all = append(all, analyze.Warning{Code: analyze.AllTooFarUp, Threshold: float64(a.MaxStepUp)})
	}
	if a.Pick.Outside {
		all = append(all, analyze.Warning{Code: analyze.OutsideTested, Score: a.teethOutside(a.With(a.Pick.Gearing))})
	}
	return append(all, a.notTheLever()...)
}

// teethOutside returns by how many teeth of its pinion a gearing lies outside the
// rollouts already run: above 0 beyond the tallest, below 0 beyond the shortest.
func (a *Advice) teethOutside(c analyze.Conditions) float64 {
	teeth := float64(c.Gearing.Pinion)
	tested := a.Car.Tested()
	if above := teeth - c.Gearing.PinionFor(tested.High, c.Tire); above > 0 {
		return above
	}
	return teeth - c.Gearing.PinionFor(tested.Low, c.Tire)
}

// notTheLever tells of parts that are too hot at the current gearing while the log,
// not the prior alone, leaves open that a smaller rollout would not cool them.
func (a *Advice) notTheLever() []analyze.Warning {
	const level = 0.8
	var all []analyze.Warning
	for part, chance := range a.Car.Under(a.Next, a.limits()).Part {
		f := a.Car.Fit(part)
		if chance >= a.Confidence || f.InformedBy(a.Next, 0.8) == analyze.FromPrior {
			continue
		}
		if e := f.Exponent(a.Next, level); e.Low <= 0 {
			all = append(all, analyze.Warning{Code: analyze.NotTheLever, Part: part, OfPart: true, Score: e.Low})
		}
	}
	slices.SortFunc(all, func(x, y analyze.Warning) int { return cmp.Compare(x.Part, y.Part) })
	return all
}
