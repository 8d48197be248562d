package main

import (
	"maps"
	"slices"

	"github.com/spf13/cobra"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze/drivetrain"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

type tableFlags struct {
	car            string
	pinions, spurs ask.Optional[[]int]
	internal       ask.Optional[float64]
	tires          []ask.Tire
}

func newTableCommand(env *environment) *cobra.Command {
	var f tableFlags
	return question[report.GearTable]{
		use:   "table",
		short: "Final drive ratio and rollout of every pinion and spur at hand",
		asks: func(cmd *cobra.Command) {
			addFlags(cmd,
				ask.Gears.Value("pinions", "pinions, as in 11-16 or 11,13,15 (default: the car file's)", &f.pinions),
				ask.Gears.Value("spurs", "spurs (default: the car file's)", &f.spurs),
				ask.Above0.Value("internal-ratio", "internal ratio behind the spur (default: the car file's, else 1)", &f.internal),
				ask.Value{Name: "tire", Kind: ask.TireChoice.Name, Take: f.addTire,
					Usage: "tire diameter, as in 118mm or 4.65in, or its name in the car file; repeatable\n(default: all in the car file)"},
			)
			cmd.Flags().StringVar(&f.car, "car", "", "which car, by its `NAME` in the car file (default: the only one in it)")
		},
		formats: report.TableFormats,
		usage:   "how to write the table",
		answer:  func(bool) (report.GearTable, error) { return f.table(env) },
	}.command(env)
}

func (f *tableFlags) addTire(text string) error {
	tire, err := ask.TireChoice.Parse(text)
	f.tires = append(f.tires, tire)
	return err
}

func (f *tableFlags) table(env *environment) (report.GearTable, error) {
	setup, err := env.setupOf(f.car)
	if err != nil {
		return report.GearTable{}, err
	}
	gears := ask.GearsAtHand(setup, f.pinions, f.spurs)
	internal, origin := f.internal.OrElse(ask.CarFileOr(setup.Internal, 1))
	t := report.GearTable{Car: setup.Name, Internal: internal, NoInternal: setup.Internal == 0 && origin != advise.Given, Pitch: gears.Boxes[0].Pitch,
		HasMount: gears.Mount != nil}
	if t.Tires, err = f.tiresOf(setup); err != nil {
		return t, err
	}
	for _, tire := range f.tires {
		if err := env.note(new(app.Notes), tire.Problems("tire", setup)); err != nil {
			return t, err
		}
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
		return t, usagef("which gears? Add --pinions and --spurs, as in --pinions 13-18 --spurs 68,72, or name them in the car file")
	}
	return t, nil
}

func (f *tableFlags) tiresOf(setup *carfile.Car) ([]report.Tire, error) {
	var tires []report.Tire
	for _, choice := range f.tires {
		diameter, err := choice.Of(setup)
		if err != nil {
			return nil, wrongFlag("tire", choice.Name, err)
		}
		tires = append(tires, report.Tire{Name: choice.Name, Diameter: diameter})
	}
	if len(f.tires) > 0 {
		return tires, nil
	}
	for _, name := range slices.Sorted(maps.Keys(setup.Tires)) {
		tires = append(tires, report.Tire{Name: name, Diameter: setup.Tires[name]})
	}
	return tires, nil
}
