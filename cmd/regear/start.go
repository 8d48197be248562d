package main

import (
	"io"
	"os"

	"github.com/spf13/cobra"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze"
	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// startOptions is what `regear start` was asked.
type startOptions struct {
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
	format           *ask.Choice[startFormat]
	units            *ask.Choice[units.System]
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

Say with --pinion, --spur and --from-tire what was fitted before. Without --pinion it
is the last run in your log, and the log foresees the heat.`,
		Example: `  # A larger tire, no log yet.
  regear start --from-tire 104mm --tire 118mm --spur 68 --pinion 17

  # One cell more; what was fitted is in the log.
  regear start --log weekend.csv --cells 5

  # Another motor, tires by their names in the car file.
  regear start --car heron --pinion 17 --from-kv 2200 --kv 3000 --tire small`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			opts.named = cmd.Flags().Changed("log") || cmd.Flags().Changed("book")
			if err := opts.logFlags.settle(cmd); err != nil {
				return err
			}
			return failed(runStart(env, &opts))
		},
	}
	addFlags(cmd, opts.values()...)
	opts.logFlags.register(cmd)
	opts.format = ask.NewChoice([]string{"text", "json"}, startFormat{report.StartText, true}, startFormat{report.StartJSON, false})
	opts.units = newUnitsFlag()
	cmd.Flags().Var(opts.format, "format", "how to write the answer")
	cmd.Flags().Var(opts.units, "units", unitsUsage)
	return cmd
}

// values are what can be said of the change and of the first run after it.
func (o *startOptions) values() []ask.Value {
	return []ask.Value{
		ask.TireChoice.Value("from-tire", "tire diameter before the change, as in 104mm or 4.1in, or its name in the car file", &o.fromTire),
		ask.TireChoice.Value("tire", "tire diameter after it", &o.tire),
		ask.Gear.Value("pinion", "pinion before the change (default: the last run's)", &o.pinion),
		ask.Gear.Value("spur", "spur before the change (default: the last run's, else the car file's)", &o.spur),
		ask.Above0.Value("internal-ratio", "internal ratio behind the spur (default: the last run's, else the car file's,\nelse 1)", &o.internal),
		ask.Cells.Value("from-cells", "battery cells in series before the change", &o.fromCells),
		ask.Cells.Value("cells", "battery cells in series after it (default: no change)", &o.cells),
		ask.Above0.Value("from-kv", "motor's unloaded turns a minute for each volt before the change", &o.fromKV),
		ask.Above0.Value("kv", "the same after it (default: no change)", &o.kv),
		ask.Gears.Value("pinions", "pinions at hand, as in 11-16 or 11,13,15 (default: the car file's, else any)", &o.pinions),
		ask.Gears.Value("spurs", "spurs at hand (default: the car file's, else the one fitted before)", &o.spurs),
		o.limits.Value("limit", "temperature that a part should stay under, as in motor=80C; repeatable\n(default: the car file's, else motor and esc 71C, battery 60C)"),
		ask.Air.Value("ambient", "air at the first run, as in 30C or 86F (default: as in the last run,\nelse 25C)", &o.ambient),
		ask.RunMinutes.Value("minutes", "length of a full run (default: as in the last run)", &o.minutes),
	}
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
	doubts := opts.doubts(own)
	if err := env.confirm(env.asker(), doubts, "Use it all the same?"); err != nil {
		return err
	}
	noticed.Doubtful = append(noticed.Doubtful, doubts...)
	known.Noticed = noticed
	answer, err := advise.FirstGearing(req)
	if err != nil {
		return err
	}
	style := env.style(opts.units.Value)
	if err := opts.format.Value.write(env.out, answer, known, style); err != nil {
		return err
	}
	if car != nil {
		if err := env.warn(car.Warnings(), style); err != nil {
			return err
		}
	}
	if !opts.format.Value.forPeople {
		return nil
	}
	return report.CautionNotes(style.Units).Text(env.out, style.Layout)
}

// carBefore fits the log from before the change, where there is one to go by.
func (o *startOptions) carBefore(env *environment) (*analyze.Car, report.Noticed, error) {
	if !o.named {
		if o.pinion.Given {
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
	req := advise.StartRequest{Car: car, Limits: o.limits.Complete(own), Gears: ask.GearsAtHand(own, o.pinions, o.spurs)}
	known := report.StartKnown{Pinions: len(req.Gears.Boxes[0].Pinions) > 0}
	var last analyze.Conditions
	if car != nil {
		last = analyze.ConditionsOf(car.Last)
		req.Run.Surface, req.Run.Cooling = last.Surface, last.Cooling
	}
	var from advise.Origin
	req.Run.Ambient, from = o.ambient.OrElse(last.Ambient, advise.LastRun)
	if known.Ambient = car != nil || from == advise.Given; !known.Ambient {
		req.Run.Ambient = advise.AssumedAir
	}
	req.Run.Minutes, _ = o.minutes.OrElse(last.Minutes, advise.LastRun)

	spurBefore := last.Gearing.Spur
	if main := req.Gears.Boxes[0].Spurs; spurBefore == 0 && len(main) == 1 {
		spurBefore = main[0]
	}
	internal, internalFrom := last.Gearing.Internal, advise.LastRun
	if car == nil {
		internal, internalFrom = ask.CarFileOr(own.Internal, 1)
		if own.Internal == 0 {
			internalFrom = advise.Default
		}
	}
	fitted := &req.Fitted
	fitted.Pinion, _ = o.pinion.OrElse(last.Gearing.Pinion, advise.LastRun)
	fitted.Spur, _ = o.spur.OrElse(spurBefore, advise.LastRun)
	fitted.Internal, known.Internal = o.internal.OrElse(internal, internalFrom)
	if fitted.Spur == 0 {
		return req, known, usagef("which spur was fitted? Add --spur, as in --spur 68")
	}
	if main := &req.Gears.Boxes[0]; len(main.Spurs) == 0 {
		main.Spurs = []int{fitted.Spur}
	}
	return req, known, o.setups(&req, last, own)
}

// doubts returns what to ask about before the change is answered for.
func (o *startOptions) doubts(own *carfile.Car) []domain.Problem {
	var doubts []domain.Problem
	for _, said := range []struct {
		flag string
		tire ask.Optional[ask.Tire]
	}{{"--from-tire", o.fromTire}, {"--tire", o.tire}} {
		if doubt, any := said.tire.Value.Doubt(said.flag, own); any && said.tire.Given {
			doubts = append(doubts, doubt)
		}
	}
	return doubts
}

// setups fills in what changes.
func (o *startOptions) setups(req *advise.StartRequest, last analyze.Conditions, own *carfile.Car) error {
	before, after := &req.Before, &req.After
	var err error
	if before.Tire, err = tireOf(o.fromTire, "from-tire", own, last.Tire); err != nil {
		return err
	}
	if after.Tire, err = tireOf(o.tire, "tire", own, before.Tire); err != nil {
		return err
	}
	if before.Tire == 0 {
		before.Tire = after.Tire
	}
	if before.Tire == 0 {
		return usagef("which tire? Add --tire, and --from-tire if it changes, as in --from-tire 104mm --tire 118mm")
	}
	cells, _ := ask.CarFileOr(own.Cells, last.Cells)
	if before.Cells, after.Cells, err = changed(o.fromCells, o.cells, last.Cells, cells, "cells"); err != nil {
		return err
	}
	if before.KV, after.KV, err = changed(o.fromKV, o.kv, own.KV, own.KV, "kv"); err != nil {
		return err
	}
	if *before == *after {
		return usagef("nothing changes: say what does, with --tire, --cells or --kv and what it was before")
	}
	return nil
}

func tireOf(said ask.Optional[ask.Tire], flag string, own *carfile.Car, other units.Millimeters) (units.Millimeters, error) {
	if !said.Given {
		return other, nil
	}
	m, err := said.Value.Of(own)
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
