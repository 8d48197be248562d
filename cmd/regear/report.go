package main

import (
	"slices"

	"github.com/spf13/cobra"

	"regear/analyze/units"
	"regear/cmd/regear/internal/report"
)

func newReportCommand(env *environment) *cobra.Command {
	var asked nextFlags
	out, system := newPage(), newUnitsFlag()
	cmd := &cobra.Command{
		Use:   "report",
		Short: "Write all there is to say into one file to keep",
		Args:  noArguments,
		RunE: func(*cobra.Command, []string) error {
			return failed(fillNamed(env, out, system.Value, func() (*report.Record, filled, error) {
				return env.report(&asked, system.Value)
			}))
		},
	}
	asked.register(env, cmd)
	cmd.Flags().Var(out, "out", "file to write, ending in .html or .md")
	cmd.Flags().Var(system, "units", "units of the report, unless the car file says")
	return cmd
}

func (e *environment) report(asked *nextFlags, u units.System) (*report.Record, filled, error) {
	car, err := e.carOf(&asked.logFlags, false)
	if err != nil {
		return nil, filled{}, err
	}
	fitted, err := e.fit(&asked.logFlags, car.WithoutFolders())
	if err != nil {
		return nil, filled{}, err
	}
	notes := fitted.Notes
	all, err := fitted.Report(&asked.next)
	if err := e.note(&fitted.Notes, all.Problems); err != nil {
		return nil, filled{}, err
	}
	if err != nil {
		return nil, filled{}, inFlags(err, fitted)
	}
	notes.Implausible = slices.Concat(notes.Implausible, all.Problems) // not by their flags
	record := &report.Record{
		Answer: all.Advice, Hindsight: all.Hindsight, Runs: fitted.Runs, Notes: notes,
		Units: u, Version: version(), Made: e.now(),
	}
	return record, filled{report.Headline(all.Advice, u), all.Advice.Warnings}, nil
}
