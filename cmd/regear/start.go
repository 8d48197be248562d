package main

import (
	"errors"
	"io"
	"os"

	"github.com/spf13/cobra"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/units"
	"regear/cmd/regear/internal/report"
)

// startOptions is what `regear start` was asked.
type startOptions struct {
	logFlags
	pinion, spur     optional[int]
	internal         optional[float64]
	fromTire, tire   optional[tireChoice]
	fromCells, cells optional[int]
	fromKV, kv       optional[float64]
	pinions, spurs   optional[[]int]
	limits           *limitFlags
	ambient          optional[units.Celsius]
	minutes          optional[units.Minutes]
	format           *choice[startFormat]
	units            *choice[report.Units]
	named            bool // a log or a log book was
}

// startFormat is one way to write a first gearing.
type startFormat struct {
	write     func(w io.Writer, s *advise.Start, known report.StartKnown, st report.Style) error
	forPeople bool
}

func newStartCommand(env *environment) *cobra.Command {
	var opts startOptions
	cmd := &cobra.Command{
		Use:   "start",
		Short: "The first gearing after another tire, battery or motor, and how to try it",
		Long: `start answers "the tire grows from 104 to 118 mm: what keeps the load?". It names the
pinion that does, the next one down for a careful first run, what each does to speed
and heat, whether it is at hand and fits the mount, and how to make the first run.

What was fitted before you say with --pinion, --spur and --from-tire; without
--pinion it is the last run in your log, and the heat is foreseen from the log.`,
		Example: `  # A larger tire, no log yet.
  regear start --from-tire 104mm --tire 118mm --spur 68 --pinion 17

  # One cell more; what was fitted is in the log.
  regear start --log weekend.csv --cells 5

  # Another motor, tires by their names in the car file.
  regear start --car heron --pinion 17 --from-kv 2200 --kv 3000 --tire small`,
		Args: noMoreArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			opts.named = cmd.Flags().Changed("log") || cmd.Flags().Changed("book")
			if err := opts.logFlags.settle(cmd); err != nil {
				return err
			}
			return failed(runStart(env, &opts))
		},
	}
	opts.register(cmd)
	opts.logFlags.register(cmd)
	opts.format = newChoice([]string{"text", "json"}, startFormat{report.StartText, true}, startFormat{report.StartJSON, false})
	opts.units = newUnitsFlag()
	cmd.Flags().Var(opts.format, "format", "how to write the answer")
	cmd.Flags().Var(opts.units, "units", unitsUsage)
	return cmd
}

func (o *startOptions) register(cmd *cobra.Command) {
	tire := optional[tireChoice]{kind: "LENGTH|NAME", parse: parseTireChoice}
	cells := optional[int]{kind: "N", parse: parseCount(fewestCells, mostCells)}
	number := optional[float64]{kind: "N", parse: parseAbove0}
	teeth, gears := optional[int]{kind: "TEETH", parse: parseGear}, optional[[]int]{kind: "LIST", parse: parseTeeth}
	o.fromTire, o.tire, o.fromCells, o.cells, o.fromKV, o.kv = tire, tire, cells, cells, number, number
	o.pinion, o.spur, o.internal, o.pinions, o.spurs = teeth, teeth, number, gears, gears
	o.limits = newLimitFlags()
	o.ambient = optional[units.Celsius]{kind: "TEMP", parse: parseAir}
	o.minutes = optional[units.Minutes]{kind: "N", parse: parseRunMinutes}

	flags := cmd.Flags()
	flags.Var(&o.fromTire, "from-tire", "tire diameter before the change, as in 104mm or 4.1in, or its name in the car file")
	flags.Var(&o.tire, "tire", "tire diameter after it")
	flags.Var(&o.pinion, "pinion", "pinion before the change (default: the last run's)")
	flags.Var(&o.spur, "spur", "spur before the change (default: the last run's, else the car file's)")
	flags.Var(&o.internal, "internal-ratio", "internal ratio behind the spur (default: the last run's, else the car file's,\nelse 1)")
	flags.Var(&o.fromCells, "from-cells", "battery cells in series before the change")
	flags.Var(&o.cells, "cells", "battery cells in series after it (default: no change)")
	flags.Var(&o.fromKV, "from-kv", "motor's unloaded turns a minute for each volt before the change")
	flags.Var(&o.kv, "kv", "the same after it (default: no change)")
	flags.Var(&o.pinions, "pinions", "pinions at hand, as in 11-16 or 11,13,15 (default: the car file's, else any)")
	flags.Var(&o.spurs, "spurs", "spurs at hand (default: the car file's, else the one fitted before)")
	flags.Var(o.limits, "limit", "temperature that a part should stay under, as in motor=80C; repeatable\n(default: the car file's, else motor and esc 71C, battery 60C)")
	flags.Var(&o.ambient, "ambient", "air at the first run, as in 30C or 86F (default: as in the last run)")
	flags.Var(&o.minutes, "minutes", "length of a full run (default: as in the last run)")
}

func parseAbove0(text string) (float64, error) {
	x, err := units.ParseNumber(text)
	if err == nil && !(x > 0 && x <= 1e6) {
		err = errors.New("write a number above 0")
	}
	return x, err
}

func runStart(env *environment, opts *startOptions) error {
	car, noticed, err := opts.carBefore(env)
	if err != nil {
		return err
	}
	name := opts.car
	if car != nil {
		name = car.Name
	}
	own, err := env.ownCar(name)
	if err != nil {
		return err
	}
	req, known, err := opts.request(car, own)
	if err != nil {
		return err
	}
	known.Noticed = noticed
	answer, err := advise.FirstGearing(req)
	if err != nil {
		return err
	}
	style := env.style(opts.units.value)
	if err := opts.format.value.write(env.out, answer, known, style); err != nil {
		return err
	}
	if car != nil {
		if err := env.warn(car.Warnings(), style); err != nil {
			return err
		}
	}
	if !opts.format.value.forPeople {
		return nil
	}
	_, err = io.WriteString(env.out, report.Cautions(style))
	return err
}

// carBefore fits the log from before the change, where there is one to go by.
func (o *startOptions) carBefore(env *environment) (*analyze.Car, report.Noticed, error) {
	if !o.named {
		if o.pinion.given {
			return nil, report.Noticed{}, nil
		}
		book, err := o.book(env)
		if err != nil {
			return nil, report.Noticed{}, err
		}
		if _, err := os.Stat(book.Path); err != nil {
			return nil, report.Noticed{}, usagef("what was fitted before? Add --pinion, --spur and --from-tire, as in --pinion 17 --spur 68 --from-tire 104mm, or name a log with --log FILE")
		}
	}
	return env.fitCar(&o.logFlags)
}

// request completes what was asked with the last run and the car file.
func (o *startOptions) request(car *analyze.Car, own *carfile.Car) (advise.StartRequest, report.StartKnown, error) {
	req := advise.StartRequest{Car: car, Limits: o.limits.limits(own), Gears: gearsAtHand(own, &o.pinions, &o.spurs)}
	known := report.StartKnown{Pinions: len(req.Gears.Boxes[0].Pinions) > 0}
	var last analyze.Conditions
	if car != nil {
		last = analyze.ConditionsOf(car.Last)
		req.Run.Surface, req.Run.Cooling = last.Surface, last.Cooling
	}
	var from advise.Origin
	req.Run.Ambient, from = o.ambient.orElse(last.Ambient, advise.LastRun)
	known.Ambient = car != nil || from == advise.Given
	req.Run.Minutes, _ = o.minutes.orElse(last.Minutes, advise.LastRun)

	spurBefore := last.Gearing.Spur
	if main := req.Gears.Boxes[0].Spurs; spurBefore == 0 && len(main) == 1 {
		spurBefore = main[0]
	}
	internal, internalFrom := last.Gearing.Internal, advise.LastRun
	if car == nil {
		internal, internalFrom = carFileOr(own.Internal, 1)
		if own.Internal == 0 {
			internalFrom = advise.Default
		}
	}
	fitted := &req.Fitted
	fitted.Pinion, _ = o.pinion.orElse(last.Gearing.Pinion, advise.LastRun)
	fitted.Spur, _ = o.spur.orElse(spurBefore, advise.LastRun)
	fitted.Internal, known.Internal = o.internal.orElse(internal, internalFrom)
	if fitted.Spur == 0 {
		return req, known, usagef("which spur was fitted? Add --spur, as in --spur 68")
	}
	if main := &req.Gears.Boxes[0]; len(main.Spurs) == 0 {
		main.Spurs = []int{fitted.Spur}
	}
	return req, known, o.setups(&req, last, own)
}

// setups fills in what changes.
func (o *startOptions) setups(req *advise.StartRequest, last analyze.Conditions, own *carfile.Car) error {
	before, after := &req.Before, &req.After
	var err error
	if before.Tire, err = tireOf(&o.fromTire, "from-tire", own, last.Tire); err != nil {
		return err
	}
	if after.Tire, err = tireOf(&o.tire, "tire", own, before.Tire); err != nil {
		return err
	}
	if before.Tire == 0 {
		before.Tire = after.Tire
	}
	if before.Tire == 0 {
		return usagef("which tire? Add --tire, and --from-tire if it changes, as in --from-tire 104mm --tire 118mm")
	}
	cells, _ := carFileOr(own.Cells, last.Cells)
	if before.Cells, after.Cells, err = change(&o.fromCells, &o.cells, last.Cells, cells, "cells"); err != nil {
		return err
	}
	if before.KV, after.KV, err = change(&o.fromKV, &o.kv, own.KV, own.KV, "kv"); err != nil {
		return err
	}
	if *before == *after {
		return usagef("nothing changes: say what does, with --tire, --cells or --kv and what it was before")
	}
	return nil
}

func tireOf(flag *optional[tireChoice], name string, own *carfile.Car, other units.Millimeters) (units.Millimeters, error) {
	if !flag.given {
		return other, nil
	}
	return flag.value.of(own, name)
}

// change returns a quantity before and after. What was not said of it is as it is known
// to be; where only one side is known, that is too little.
func change[T int | float64](from, to *optional[T], knownFrom, knownTo T, name string) (before, after T, err error) {
	if !from.given && !to.given {
		if knownFrom == 0 {
			knownFrom = knownTo
		}
		return knownFrom, knownFrom, nil
	}
	before, _ = from.orElse(knownFrom, advise.LastRun)
	after, _ = to.orElse(knownTo, advise.CarFile)
	if before == 0 && to.given {
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
