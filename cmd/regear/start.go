package main

import (
	"os"
	"slices"

	"github.com/spf13/cobra"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

type startFlags struct {
	logFlags
	pinion, spur     ask.Optional[int]
	internal         ask.Optional[float64]
	fromTire, tire   ask.Optional[ask.Tire]
	fromCells, cells ask.Optional[int]
	fromKV, kv       ask.Optional[float64]
	pinions, spurs   ask.Optional[[]int]
	limits           ask.Limits
	ambient          ask.Optional[units.Celsius]
	minutes          ask.Optional[units.Minutes]
}

func newStartCommand(env *environment) *cobra.Command {
	var f startFlags
	return question[report.Started]{
		use:   "start",
		short: "The first gearing after another tire, battery or motor, and how to try it",
		asks: func(cmd *cobra.Command) {
			addFlags(cmd, f.values()...)
			f.logFlags.register(env, cmd)
		},
		formats: report.StartFormats,
		answer:  func(bool) (report.Started, error) { return f.start(env) },
		tell: func(s report.Started, people bool, style report.Style) error {
			var warnings []analyze.Warning
			if s.Car != nil {
				warnings = s.Car.Warnings()
			}
			return env.warnAndCaution(warnings, people, style)
		},
	}.command(env)
}

func (f *startFlags) values() []ask.Value {
	return []ask.Value{
		ask.TireChoice.Value("from-tire", "tire diameter before the change, as in 104mm or 4.1in, or its name in the car file", &f.fromTire),
		ask.TireChoice.Value("tire", "tire diameter after it", &f.tire),
		ask.Gear.Value("pinion", "pinion before the change (default: the last run's)", &f.pinion),
		ask.Gear.Value("spur", "spur before the change (default: the last run's, else the car file's)", &f.spur),
		ask.Above0.Value("internal-ratio", "internal ratio behind the spur (default: the last run's, else the car file's,\nelse 1)", &f.internal),
		ask.Cells.Value("from-cells", "battery cells in series before the change", &f.fromCells),
		ask.Cells.Value("cells", "battery cells in series after it (default: no change)", &f.cells),
		ask.Above0.Value("from-kv", "motor's unloaded turns a minute for each volt before the change", &f.fromKV),
		ask.Above0.Value("kv", "the same after it (default: no change)", &f.kv),
		ask.Gears.Value("pinions", "pinions at hand, as in 11-16 or 11,13,15 (default: the car file's, else any)", &f.pinions),
		ask.Gears.Value("spurs", "spurs at hand (default: the car file's, else the one fitted before)", &f.spurs),
		f.limits.Value("limit", "temperature that a part should stay under, as in motor=80C; repeatable\n(default: the car file's, else motor and esc 71C, battery 60C)"),
		ask.Air.Value("ambient", "air at the first run, as in 30C or 86F (default: as in the last run,\nelse 25C)", &f.ambient),
		ask.RunMinutes.Value("minutes", "length of a full run (default: as in the last run)", &f.minutes),
	}
}

func (f *startFlags) start(env *environment) (report.Started, error) {
	var answer report.Started
	car, setup, err := f.before(env)
	if err != nil {
		return answer, err
	}
	var fit *analyze.Car
	if car != nil {
		fit = car.Fit
		answer.Known.Notes = car.Notes
	}
	req, err := f.request(fit, setup, &answer.Known)
	if err != nil {
		return answer, err
	}
	problems := slices.Concat(f.fromTire.Value.Problems("--from-tire", setup), f.tire.Value.Problems("--tire", setup))
	if err := env.confirm(env.asker(), problems, "Use it all the same?"); err != nil {
		return answer, err
	}
	answer.Known.Notes.Implausible = append(answer.Known.Notes.Implausible, problems...)
	answer.Start, err = advise.FirstGearing(req)
	return answer, err
}

// before returns what the car file says of the car and, where there is a log from before the
// change, its fits.
func (f *startFlags) before(env *environment) (*app.Fitted, *carfile.Car, error) {
	if !f.named && f.pinion.Given {
		setup, err := env.setupOf(f.car)
		return nil, setup, err
	}
	if !f.named {
		book, err := f.book(env)
		if err != nil {
			return nil, nil, err
		}
		if _, err := os.Stat(book.Path); err != nil {
			return nil, nil, usagef("what was fitted before? Add --pinion, --spur and --from-tire, as in --pinion 17 --spur 68 --from-tire 104mm, or name a log with --log FILE")
		}
	}
	fitted, err := env.fitted(&f.logFlags, false)
	if err != nil {
		return nil, nil, err
	}
	return fitted, fitted.Setup.Car, nil
}

func (f *startFlags) request(car *analyze.Car, setup *carfile.Car, known *report.StartKnown) (advise.StartRequest, error) {
	req := advise.StartRequest{Car: car, Limits: f.limits.Complete(setup), Gears: ask.GearsAtHand(setup, f.pinions, f.spurs)}
	known.Pinions = len(req.Gears.Boxes[0].Pinions) > 0
	var last analyze.Conditions
	if car != nil {
		last = analyze.ConditionsOf(car.Last)
		req.Run.Surface, req.Run.Cooling = last.Surface, last.Cooling
	}
	var from advise.Origin
	req.Run.Ambient, from = f.ambient.OrElse(last.Ambient, advise.LastRun)
	if known.Ambient = car != nil || from == advise.Given; !known.Ambient {
		req.Run.Ambient = advise.AssumedAir
	}
	req.Run.Minutes, _ = f.minutes.OrElse(last.Minutes, advise.LastRun)

	spurBefore := last.Gearing.Spur
	if main := req.Gears.Boxes[0].Spurs; spurBefore == 0 && len(main) == 1 {
		spurBefore = main[0]
	}
	internal, internalFrom := last.Gearing.Internal, advise.LastRun
	if car == nil {
		internal, internalFrom = ask.CarFileOr(setup.Internal, 1)
		if setup.Internal == 0 {
			internalFrom = advise.Default
		}
	}
	fitted := &req.Fitted
	fitted.Pinion, _ = f.pinion.OrElse(last.Gearing.Pinion, advise.LastRun)
	fitted.Spur, _ = f.spur.OrElse(spurBefore, advise.LastRun)
	fitted.Internal, known.Internal = f.internal.OrElse(internal, internalFrom)
	if fitted.Spur == 0 {
		return req, usagef("which spur was fitted? Add --spur, as in --spur 68")
	}
	if main := &req.Gears.Boxes[0]; len(main.Spurs) == 0 {
		main.Spurs = []int{fitted.Spur}
	}
	return req, f.setups(&req, last, setup)
}

func (f *startFlags) setups(req *advise.StartRequest, last analyze.Conditions, setup *carfile.Car) error {
	before, after := &req.Before, &req.After
	var err error
	if before.Tire, err = tireOf(f.fromTire, "from-tire", setup, last.Tire); err != nil {
		return err
	}
	if after.Tire, err = tireOf(f.tire, "tire", setup, before.Tire); err != nil {
		return err
	}
	if before.Tire == 0 {
		before.Tire = after.Tire
	}
	if before.Tire == 0 {
		return usagef("which tire? Add --tire, and --from-tire if it changes, as in --from-tire 104mm --tire 118mm")
	}
	cells, _ := ask.CarFileOr(setup.Cells, last.Cells)
	if before.Cells, after.Cells, err = changed(f.fromCells, f.cells, last.Cells, cells, "cells"); err != nil {
		return err
	}
	if before.KV, after.KV, err = changed(f.fromKV, f.kv, setup.KV, setup.KV, "kv"); err != nil {
		return err
	}
	if *before == *after {
		return usagef("nothing changes: say what does, with --tire, --cells or --kv and what it was before")
	}
	return nil
}

func tireOf(said ask.Optional[ask.Tire], flag string, setup *carfile.Car, other units.Millimeters) (units.Millimeters, error) {
	if !said.Given {
		return other, nil
	}
	m, err := said.Value.Of(setup)
	if err != nil {
		err = wrongFlag(flag, said.Value.Name, err)
	}
	return m, err
}

// changed returns a quantity before and after. What was not said of it is as it is known
// to be; where only one side is known, that is too little.
func changed[T int | float64](from, to ask.Optional[T], knownFrom, knownTo T, name string) (before, after T, err error) {
	if !from.Given && !to.Given {
		if knownFrom == 0 {
			knownFrom = knownTo
		}
		return knownFrom, knownFrom, nil
	}
	before, _ = from.OrElse(knownFrom, advise.LastRun)
	after, _ = to.OrElse(knownTo, advise.CarFile)
	if before == 0 && to.Given {
		before = knownTo
	}
	switch {
	case before == 0:
		err = usagef("--%s: and before the change? Add --from-%s", name, name)
	case after == 0:
		err = usagef("--from-%s: and after the change? Add --%s", name, name)
	}
	return before, after, err
}
