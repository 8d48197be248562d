package ask

import (
	"errors"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
)

// Change is what was said of a change of tire, battery or motor, and of the car before it. The
// zero Change says nothing.
type Change struct {
	pinion, spur     Optional[int]
	internal         Optional[float64]
	fromTire, tire   Optional[Tire]
	fromCells, cells Optional[int]
	fromKV, kv       Optional[float64]
	pinions, spurs   Optional[[]int]
	limits           Limits
	ambient          Optional[units.Celsius]
	minutes          Optional[units.Minutes]
}

// before begins the names of what was fitted before the change.
const before = "from-"

// Values returns all that can be said of c, in the order in which a driver thinks of it.
func (c *Change) Values() []Value {
	return []Value{
		TireChoice.Value(before+tireName, "tire diameter before the change, as in 104mm or 4.1in, or its name in the car file", &c.fromTire),
		TireChoice.Value(tireName, "tire diameter after it", &c.tire),
		Gear.Value("pinion", "pinion before the change (default: the last run's)", &c.pinion),
		Gear.Value("spur", "spur before the change (default: the last run's, else the car file's)", &c.spur),
		Above0.Value("internal-ratio", "internal ratio behind the spur (default: the last run's, else the car file's,\nelse 1)", &c.internal),
		Cells.Value(before+"cells", "battery cells in series before the change", &c.fromCells),
		Cells.Value("cells", "battery cells in series after it (default: no change)", &c.cells),
		Above0.Value(before+"kv", "motor's unloaded turns a minute for each volt before the change", &c.fromKV),
		Above0.Value("kv", "the same after it (default: no change)", &c.kv),
		Gears.Value("pinions", "pinions at hand, as in 11-16 or 11,13,15 (default: the car file's, else any)", &c.pinions),
		Gears.Value("spurs", "spurs at hand (default: the car file's, else the one fitted before)", &c.spurs),
		c.limits.Value("limit", "temperature that a part should stay under, as in motor=80C; repeatable\n(default: the car file's, else motor and esc 71C, battery 60C)"),
		Air.Value("ambient", "air at the first run, as in 30C or 86F (default: as in the last run,\nelse 25C)", &c.ambient),
		RunMinutes.Value("minutes", "length of a full run (default: as in the last run)", &c.minutes),
	}
}

// NamesPinion reports whether the pinion before the change was said, so that no log is needed.
func (c *Change) NamesPinion() bool { return c.pinion.Given }

// Known says what of an answer is known, and what is assumed.
type Known struct {
	Pinions  bool // those at hand
	Ambient  bool // the air of the first run
	Internal advise.Origin
}

// MissingError reports a value that was not said and has no default.
type MissingError struct{ Name, Question string }

func (e *MissingError) Error() string { return e.Question }

// ErrNothingChanges reports a change of nothing.
var ErrNothingChanges = errors.New("nothing changes")

// Answer answers what to fit after the change. The fits are of a log from before it, nil where
// there is none. Beside the errors of [advise.FirstGearing] it fails with a [*ValueError], a
// [*MissingError] or [ErrNothingChanges].
func (c *Change) Answer(car *analyze.Car, setup *carfile.Car) (*advise.Start, Known, error) {
	req, known, err := c.Request(car, setup)
	if err != nil {
		return nil, known, err
	}
	start, err := advise.FirstGearing(req)
	return start, known, err
}

// Problems returns what to ask about before a change of a car is answered for, each as a problem
// of the value that says it.
func (c *Change) Problems(setup *carfile.Car) []run.Problem {
	return append(c.fromTire.Value.Problems(before+tireName, setup), c.tire.Value.Problems(tireName, setup)...)
}

// Request completes what was said with the last run, the car file and the documented defaults. It
// fails as [Change.Answer] does, and then holds what is known all the same.
func (c *Change) Request(car *analyze.Car, setup *carfile.Car) (advise.StartRequest, Known, error) {
	req := advise.StartRequest{Car: car, Limits: c.limits.Complete(setup), Gears: gearsAtHand(setup, c.pinions, c.spurs)}
	main := &req.Gears.Boxes[0]
	known := Known{Pinions: len(main.Pinions) > 0}
	var last analyze.Conditions
	if car != nil {
		last = analyze.ConditionsOf(car.Last)
		req.Run.Surface, req.Run.Cooling = last.Surface, last.Cooling
	}
	var from advise.Origin
	req.Run.Ambient, from = c.ambient.OrElse(last.Ambient, advise.LastRun)
	if known.Ambient = car != nil || from == advise.Given; !known.Ambient {
		req.Run.Ambient = advise.AssumedAir
	}
	req.Run.Minutes, _ = c.minutes.OrElse(last.Minutes, advise.LastRun)

	spurBefore := last.Gearing.Spur
	if spurBefore == 0 && len(main.Spurs) == 1 {
		spurBefore = main.Spurs[0]
	}
	internal, internalFrom := last.Gearing.Internal, advise.LastRun
	if car == nil {
		internal, internalFrom = internalOf(setup)
	}
	fitted := &req.Fitted
	fitted.Pinion, _ = c.pinion.OrElse(last.Gearing.Pinion, advise.LastRun)
	fitted.Spur, _ = c.spur.OrElse(spurBefore, advise.LastRun)
	fitted.Internal, known.Internal = c.internal.OrElse(internal, internalFrom)
	if len(main.Spurs) == 0 {
		main.Spurs = []int{fitted.Spur}
	}
	err := c.setups(&req, last, setup)
	switch {
	case fitted.Pinion == 0:
		err = &MissingError{"pinion", "which pinion was fitted?"}
	case fitted.Spur == 0:
		err = &MissingError{"spur", "which spur was fitted?"}
	case err == nil:
		err = tooMany(req.Gears)
	}
	return req, known, err
}

func (c *Change) setups(req *advise.StartRequest, last analyze.Conditions, setup *carfile.Car) error {
	from, to := &req.Before, &req.After
	var err error
	if from.Tire, err = tireOr(c.fromTire, before+tireName, setup, last.Tire); err != nil {
		return err
	}
	if to.Tire, err = tireOr(c.tire, tireName, setup, from.Tire); err != nil {
		return err
	}
	if from.Tire == 0 {
		from.Tire = to.Tire
	}
	if from.Tire == 0 {
		return &MissingError{tireName, "which tire?"}
	}
	cells, _ := carFileOr(setup.Cells, last.Cells)
	if from.Cells, to.Cells, err = changed(c.fromCells, c.cells, last.Cells, cells, "cells"); err != nil {
		return err
	}
	if from.KV, to.KV, err = changed(c.fromKV, c.kv, setup.KV, setup.KV, "kv"); err != nil {
		return err
	}
	if *from == *to {
		return ErrNothingChanges
	}
	return nil
}

func tireOr(said Optional[Tire], name string, setup *carfile.Car, other units.Millimeters) (units.Millimeters, error) {
	if !said.Given {
		return other, nil
	}
	m, err := said.Value.Of(setup)
	if err != nil {
		err = &ValueError{name, said.Value.Name, err}
	}
	return m, err
}

// changed returns a quantity before and after. What was not said of it is as it is known
// to be; where only one side is known, that is too little.
func changed[T int | float64](from, to Optional[T], knownFrom, knownTo T, name string) (earlier, later T, err error) {
	if !from.Given && !to.Given {
		if knownFrom == 0 {
			knownFrom = knownTo
		}
		return knownFrom, knownFrom, nil
	}
	earlier, _ = from.OrElse(knownFrom, advise.LastRun)
	later, _ = to.OrElse(knownTo, advise.CarFile)
	if earlier == 0 && to.Given {
		earlier = knownTo
	}
	switch {
	case earlier == 0:
		err = &MissingError{before + name, "and before the change?"}
	case later == 0:
		err = &MissingError{name, "and after the change?"}
	}
	return earlier, later, err
}
