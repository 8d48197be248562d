package main

import (
	"errors"
	"io"
	"maps"
	"slices"

	"github.com/spf13/cobra"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze/drivetrain"
	"regear/cmd/regear/internal/report"
)

// tableOptions is what `regear table` was asked.
type tableOptions struct {
	car            string
	pinions, spurs optional[[]int]
	internal       optional[float64]
	tires          tireList
	format         *choice[func(io.Writer, report.GearTable, report.Style) error]
	units          *choice[report.Units]
}

// tireList is a repeatable --tire.
type tireList []tireChoice

func (l *tireList) String() string { return "" }
func (l *tireList) Type() string   { return "LENGTH|NAME" }

func (l *tireList) Set(text string) error {
	tire, err := parseTireChoice(text)
	if err == nil {
		*l = append(*l, tire)
	}
	return err
}

func newTableCommand(env *environment) *cobra.Command {
	var opts tableOptions
	cmd := &cobra.Command{
		Use:   "table",
		Short: "Final drive ratio and rollout of every pinion and spur at hand",
		Long: `table lists for every spur and pinion the final drive ratio, the distance a motor turn on
each tire (rollout) and, where the car file knows pitch and mount, how far the shafts
are apart and whether the pair fits. It needs no log.`,
		Example: `  regear table --pinions 13-18 --spurs 68,72 --internal-ratio 2.5 --tire 118mm --tire 104mm
  regear table --car heron --format csv`,
		Args: noMoreArguments,
		RunE: func(*cobra.Command, []string) error { return failed(runTable(env, &opts)) },
	}
	opts.pinions = optional[[]int]{kind: "LIST", parse: parseTeeth}
	opts.spurs = optional[[]int]{kind: "LIST", parse: parseTeeth}
	opts.internal = optional[float64]{kind: "N", parse: parseAbove0}
	opts.format = newChoice([]string{"text", "json", "csv"}, report.TableText, report.TableJSON, report.TableCSV)
	opts.units = newUnitsFlag()
	flags := cmd.Flags()
	flags.Var(&opts.pinions, "pinions", "pinions, as in 11-16 or 11,13,15 (default: the car file's)")
	flags.Var(&opts.spurs, "spurs", "spurs (default: the car file's)")
	flags.Var(&opts.internal, "internal-ratio", "internal ratio behind the spur (default: the car file's, else 1)")
	flags.Var(&opts.tires, "tire", "tire diameter, as in 118mm or 4.65in, or its name in the car file; repeatable\n(default: all in the car file)")
	flags.StringVar(&opts.car, "car", "", "which car, by its `NAME` in the car file (default: the only one in it)")
	flags.Var(opts.format, "format", "how to write the table")
	flags.Var(opts.units, "units", unitsUsage)
	return cmd
}

func runTable(env *environment, opts *tableOptions) error {
	own, err := env.ownCar(opts.car)
	if err != nil {
		return err
	}
	gears := gearsAtHand(own, &opts.pinions, &opts.spurs)
	internal, origin := opts.internal.orElse(carFileOr(own.Internal, 1))
	t := report.GearTable{Car: own.Name, Internal: internal, NoInternal: own.Internal == 0 && origin != advise.Given, Pitch: gears.Boxes[0].Pitch,
		HasMount: gears.Mount != nil}
	if t.Tires, err = opts.tires.of(own); err != nil {
		return err
	}
	for _, box := range gears.Boxes {
		for _, g := range advise.Pinions(drivetrain.Gearing{Internal: internal}, box.Pinions, box.Spurs) {
			row := report.GearRow{Gearing: g, Pitch: box.Pitch}
			if gears.Mount != nil {
				row.Reach = gears.Mount.Reach(box.Pitch, g.Pinion, g.Spur)
			}
			t.Rows = append(t.Rows, row)
		}
	}
	if len(t.Rows) == 0 {
		return usageError{errors.New("which gears? Add --pinions and --spurs, as in --pinions 13-18 --spurs 68,72, or name them in the car file")}
	}
	return opts.format.value(env.out, t, env.style(opts.units.value))
}

// of returns the tires that were named, or all in the car file.
func (l tireList) of(own *carfile.Car) ([]report.Tire, error) {
	var tires []report.Tire
	for _, choice := range l {
		diameter, err := choice.of(own, "tire")
		if err != nil {
			return nil, err
		}
		tires = append(tires, report.Tire{Name: choice.name, Diameter: diameter})
	}
	if len(l) > 0 {
		return tires, nil
	}
	for _, name := range slices.Sorted(maps.Keys(own.Tires)) {
		tires = append(tires, report.Tire{Name: name, Diameter: own.Tires[name]})
	}
	return tires, nil
}
