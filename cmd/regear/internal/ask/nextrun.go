package ask

import (
	"fmt"
	"math"
	"slices"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// NextRun is what was said of the next run and is asked of it. The zero NextRun says
// nothing.
type NextRun struct {
	limits           Limits
	confidence       Optional[float64]
	pinions, spurs   Optional[[]int]
	ambient          Optional[units.Celsius]
	minutes          Optional[units.Minutes]
	tire             Optional[Tire]
	cells            Optional[int]
	surface, cooling Optional[string]
	maxStepUp        Optional[int]
}

// Values returns all that can be said of n, in the order in which a driver thinks of it.
func (n *NextRun) Values() []Value {
	return []Value{
		n.limits.Value("limit", "temperature that a part should stay under, as in motor=80C, esc=160F or battery=none;\n"+
			"repeatable (default: the car file's, else motor and esc 71C, common practice, no\nsource; battery 60C, the usual LiPo cell specification)"),
		Confidence.Value("confidence", "wanted chance of staying under every limit (default 0.8)", &n.confidence),
		Gears.Value("pinions", "pinions to choose from, as in 11-16 or 11,13,15 (default: the car file's,\nelse those around the one that keeps the last run's rollout)", &n.pinions),
		Gears.Value("spurs", "spurs to choose from (default: the car file's, else the last run's)", &n.spurs),
		Air.Value("ambient", "air at the next run, as in 30C or 86F (default: as in the last run)", &n.ambient),
		RunMinutes.Value("minutes", "length of the next run, as in 12.5 or 12:30 (default: as in the last run)", &n.minutes),
		TireChoice.Value(tireName, "tire diameter in the next run, as in 118mm or 4.65in, or its name in the car\nfile (default: the last run's)", &n.tire),
		Cells.Value("cells", "battery cells in series in the next run (default: the car file's, else the\nlast run's)", &n.cells),
		Text.Value("surface", "surface of the next run, as the log names it (default: the last run's)", &n.surface),
		Text.Value("cooling", "cooling in the next run, as the log names it (default: the last run's)", &n.cooling),
		Count("N", 0, mostTeethUp).Value("max-step-up", "most teeth above the tallest gearing already run; 0 = no bound (default 2)", &n.maxStepUp),
	}
}

const tireName = "tire"

// Set takes what was said under the name of one of n's values. A limit can be said of
// each part; of the others the last one counts.
func (n *NextRun) Set(name, text string) error {
	value, known := Named(n.Values(), name)
	if !known {
		return fmt.Errorf("there is nothing called %q to say of a next run", name)
	}
	return value.Set(text)
}

// NoPairError reports that none of the gears at hand can be fitted, and why.
type NoPairError struct{ Excluded []advise.Excluded }

func (e *NoPairError) Error() string { return "no combination of the gears at hand fits" }

// Answer answers for the next run from the fits of a car and what the car file says of
// it. Beside the errors of [advise.For] it fails with a [*ValueError] or a [*NoPairError].
func (n *NextRun) Answer(car *analyze.Car, setup *carfile.Car) (*advise.Advice, error) {
	req, err := n.Request(car, setup)
	if err != nil {
		return nil, err
	}
	return advise.For(car, req)
}

// Request completes what was asked with the car file, the last run and the documented
// defaults, in this order. It fails as [NextRun.Answer] does.
func (n *NextRun) Request(car *analyze.Car, setup *carfile.Car) (advise.Request, error) {
	last := analyze.ConditionsOf(car.Last)
	var req advise.Request
	req.Limits = n.limits.Complete(setup)
	req.Confidence, _ = n.confidence.OrElse(advise.DefaultConfidence, advise.Default)
	req.MaxStepUp, _ = n.maxStepUp.OrElse(advise.DefaultMaxStepUp, advise.Default)
	req.MotorKV = setup.KV

	// The next run starts cool, whatever the last one did: see Conditions.Start.
	next := &req.Next
	next.Gearing = last.Gearing
	next.Ambient, req.From.Ambient = n.ambient.OrElse(last.Ambient, advise.LastRun)
	next.Minutes, req.From.Minutes = n.minutes.OrElse(advise.NextMinutes(car))
	next.Tire, req.From.Tire = last.Tire, advise.LastRun
	next.Cells, req.From.Cells = n.cells.OrElse(carFileOr(setup.Cells, last.Cells))
	next.Surface, req.From.Surface = n.surface.OrElse(last.Surface, advise.LastRun)
	next.Cooling, req.From.Cooling = n.cooling.OrElse(last.Cooling, advise.LastRun)
	if n.tire.Given {
		tire, err := n.tire.Value.Of(setup)
		if err != nil {
			return req, &ValueError{tireName, n.tire.Value.Name, err}
		}
		next.Tire, req.From.Tire = tire, advise.Given
	}
	if err := n.chooseGears(&req, last, setup); err != nil {
		return req, err
	}
	if len(req.Gearings) == 0 {
		return req, &NoPairError{req.Excluded}
	}
	return req, nil
}

// Problems returns what to ask about before the next run of a car is answered for, each as a
// problem of the value that says it.
func (n *NextRun) Problems(setup *carfile.Car) []run.Problem {
	return n.tire.Value.Problems(tireName, setup)
}

// mostPairs is how many combinations of a pinion and a spur are looked at, more than a box
// of gears has. Each costs time and memory, and a page could be asked for all that there
// are.
const mostPairs = 1000

func (n *NextRun) chooseGears(req *advise.Request, last analyze.Conditions, setup *carfile.Car) error {
	fitted := last.Gearing
	gears := gearsAtHand(setup, n.pinions, n.spurs)
	main := &gears.Boxes[0]
	sameRollout := int(math.Round(fitted.PinionFor(last.Rollout(), req.Next.Tire)))
	around, smaller := advise.PinionsAround(sameRollout, fitted.Pinion)
	main.Pinions, req.From.Pinions = n.pinions.OrElse(gearsOr(main.Pinions, around))
	main.Spurs, req.From.Spurs = n.spurs.OrElse(gearsOr(main.Spurs, []int{fitted.Spur}))
	if req.From.Pinions == advise.LastRun {
		down := advise.Gears{Boxes: []drivetrain.Box{{Pinions: smaller, Spurs: main.Spurs, Pitch: main.Pitch}}, Mount: gears.Mount}
		req.Smaller, _ = advise.Combine(fitted, down)
		slices.Reverse(req.Smaller)
	}
	// A driver who names both wants to see each of them.
	gears.Collapse = req.From.Pinions == advise.CarFile || req.From.Spurs == advise.CarFile
	if err := tooMany(gears); err != nil {
		return err
	}
	req.Gearings, req.Excluded = advise.Combine(fitted, gears)
	return nil
}

func tooMany(gears advise.Gears) error {
	pairs := 0
	for _, box := range gears.Boxes {
		pairs += len(box.Pinions) * len(box.Spurs)
	}
	if pairs > mostPairs {
		return fmt.Errorf("the pinions and spurs to choose from make %d pairs, and %d are the most that are looked at: name fewer of them", pairs, mostPairs)
	}
	return nil
}

// gearsAtHand returns the gears that were named, or else the car file's. There is a first
// box always, though it may be empty; gears that were named have its pitch.
func gearsAtHand(setup *carfile.Car, pinions, spurs Optional[[]int]) advise.Gears {
	gears := advise.Gears{Boxes: slices.Clone(setup.Boxes), Mount: setup.Mount}
	if len(gears.Boxes) == 0 {
		gears.Boxes = []drivetrain.Box{{}}
	}
	if pinions.Given || spurs.Given {
		gears.Boxes = gears.Boxes[:1]
	}
	main := &gears.Boxes[0]
	main.Pinions, _ = pinions.OrElse(main.Pinions, advise.CarFile)
	main.Spurs, _ = spurs.OrElse(main.Spurs, advise.CarFile)
	return gears
}

// gearsOr returns the car file's gears, or the last run's where it names none, and where
// they came from.
func gearsOr(inFile, last []int) ([]int, advise.Origin) {
	if len(inFile) > 0 {
		return inFile, advise.CarFile
	}
	return last, advise.LastRun
}

// internalOf returns the internal ratio of a car without a log, and where it came from.
func internalOf(setup *carfile.Car) (float64, advise.Origin) {
	if setup.Internal == 0 {
		return 1, advise.Default
	}
	return setup.Internal, advise.CarFile
}

// Circumstances name the values of next runs that can be compared side by side.
var Circumstances = []string{"ambient", "minutes", tireName, "cells", "surface", "cooling"}

// MostCompared is how many next runs fit beside each other on a page.
const MostCompared = 4
