package main

import (
	"errors"

	"github.com/spf13/cobra"

	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

func newTableCommand(env *environment) *cobra.Command {
	var asked ask.AtHand
	var car string
	return question[report.GearTable]{
		use:   "table",
		short: "Final drive ratio and rollout of every pinion and spur at hand",
		asks: func(cmd *cobra.Command) {
			addFlags(cmd, asked.Values()...)
			cmd.Flags().StringVar(&car, "car", "", "which car, by its `NAME` in the car file (default: the only one in it)")
		},
		formats: report.TableFormats,
		usage:   "how to write the table",
		answer:  func(bool) (report.GearTable, error) { return env.table(&asked, car) },
	}.command(env)
}

func (e *environment) table(asked *ask.AtHand, car string) (report.GearTable, error) {
	setup, err := e.setupOf(car)
	if err != nil {
		return report.GearTable{}, err
	}
	if err := e.note(new(app.Notes), asked.Problems(setup)); err != nil {
		return report.GearTable{}, err
	}
	table, err := asked.Table(setup, nil)
	var wrong *ask.ValueError
	switch {
	case errors.As(err, &wrong):
		err = wrongFlag(wrong.Name, wrong.Text, wrong.Err)
	case errors.As(err, new(*ask.MissingError)):
		err = usagef("which gears? Add --pinions and --spurs, as in --pinions 13-18 --spurs 68,72, or name them in the car file")
	}
	return report.GearTable{GearTable: table}, err
}
