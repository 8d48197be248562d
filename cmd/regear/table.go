package main

import (
	"maps"
	"slices"

	"github.com/spf13/cobra"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze/drivetrain"
	domain "regear/analyze/run"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// tableFlags are what `regear table` was asked.
type tableFlags struct {
	car            string
	pinions, spurs ask.Optional[[]int]
	internal       ask.Optional[float64]
	tires          tireList
}

// tireList is a repeatable --tire.
type tireList []ask.Tire

func (l *tireList) String() string  { return "" }
func (l *tireList) Type() string    { return ask.TireChoice.Name }
func (l *tireList) Words() []string { return nil }

func (l *tireList) Set(text string) error {
	tire, err := ask.TireChoice.Parse(text)
	if err == nil {
		*l = append(*l, tire)
	}
	return err
}

func newTableCommand(env *environment) *cobra.Command {
	var f tableFlags
	return question[report.GearTable]{
		use:   "table",
		short: "Final drive ratio and rollout of every pinion and spur at hand",
		long: `table lists for every spur and pinion the final drive ratio, the distance a motor turn on
each tire (rollout) and, where the car file knows pitch and mount, how far the shafts
are apart and whether the pair fits. It needs no log.`,
		example: `  regear table --pinions 13-18 --spurs 68,72 --internal-ratio 2.5 --tire 118mm --tire 104mm
  regear table --car heron --format csv`,
		asks: func(cmd *cobra.Command) {
			addFlags(cmd,
				ask.Gears.Value("pinions", "pinions, as in 11-16 or 11,13,15 (default: the car file's)", &f.pinions),
				ask.Gears.Value("spurs", "spurs (default: the car file's)", &f.spurs),
				ask.Above0.Value("internal-ratio", "internal ratio behind the spur (default: the car file's, else 1)", &f.internal),
			)
			cmd.Flags().Var(&f.tires, "tire", "tire diameter, as in 118mm or 4.65in, or its name in the car file; repeatable\n(default: all in the car file)")
			cmd.Flags().StringVar(&f.car, "car", "", "which car, by its `NAME` in the car file (default: the only one in it)")
		},
		formats: report.TableFormats,
		usage:   "how to write the table",
		answer:  func(bool) (report.GearTable, error) { return f.table(env) },
	}.command(env)
}

func (f *tableFlags) table(env *environment) (report.GearTable, error) {
	own, err := env.ownCar(f.car)
	if err != nil {
		return report.GearTable{}, err
	}
	gears := ask.GearsAtHand(own, f.pinions, f.spurs)
	internal, origin := f.internal.OrElse(ask.CarFileOr(own.Internal, 1))
	t := report.GearTable{Car: own.Name, Internal: internal, NoInternal: own.Internal == 0 && origin != advise.Given, Pitch: gears.Boxes[0].Pitch,
		HasMount: gears.Mount != nil}
	if t.Tires, err = f.tires.of(own); err != nil {
		return t, err
	}
	if err := env.note(new(app.Notes), f.tires.problems(own)); err != nil {
		return t, err
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

// problems returns what to ask about the tires that were named.
func (l tireList) problems(own *carfile.Car) []domain.Problem {
	var problems []domain.Problem
	for _, choice := range l {
		if problem, any := choice.Problem("tire", own); any {
			problems = append(problems, problem)
		}
	}
	return problems
}

// of returns the tires that were named, or all in the car file.
func (l tireList) of(own *carfile.Car) ([]report.Tire, error) {
	var tires []report.Tire
	for _, choice := range l {
		diameter, err := choice.Of(own)
		if err != nil {
			return nil, wrongFlag("tire", choice.Name, err)
		}
		tires = append(tires, report.Tire{Name: choice.Name, Diameter: diameter})
	}
	if len(l) > 0 {
		return tires, nil
	}
	for _, name := range slices.Sorted(maps.Keys(own.Tires)) {
		tires = append(tires, report.Tire{Name: name, Diameter: own.Tires[name]})
	}
	return tires, nil
}
