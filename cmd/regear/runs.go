package main

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"regear/analyze"
	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// runsOptions is what `regear runs` was asked.
type runsOptions struct {
	logFlags
	filter   ask.RunFilter
	problems bool
	format   *ask.Choice[runsFormat]
	units    *ask.Choice[units.System]
}

// runsFormat is one way to write runs, and what keeps runs out of the fits.
type runsFormat struct {
	runs     func(io.Writer, []domain.Run, report.Style) error
	problems func(io.Writer, []report.RunProblem) error
}

func newRunsCommand(env *environment) *cobra.Command {
	var opts runsOptions
	cmd := &cobra.Command{
		Use:   "runs",
		Short: "List the runs of the log book, with totals by car",
		Long: `runs lists the runs of the log book, or of the logs that you name, in the order of time,
and gives totals by car. The filters are for all of them: a run is listed if it
passes each.

With --problems it lists what keeps runs out of the fits instead, and why: rows that
can't be used, and runs that a fit leaves out.`,
		Example: `  regear runs --car heron --since 2026-05-01
  regear runs --pinion 15-16 --tire 118mm --format csv
  regear runs --problems`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := opts.logFlags.settle(cmd); err != nil {
				return err
			}
			return failed(runRuns(env, &opts))
		},
	}
	opts.logFlags.register(cmd)
	cmd.Flags().Lookup("car").Usage = "only runs of the car of this `NAME` (default: all cars)"
	opts.format = ask.NewChoice([]string{"text", "csv", "json"},
		runsFormat{report.RunsText, report.RunProblemsText},
		runsFormat{report.RunsCSV, report.RunProblemsCSV},
		runsFormat{report.RunsJSON, report.RunProblemsJSON})
	opts.units = newUnitsFlag()
	addFlags(cmd, opts.filter.Values()...)
	flags := cmd.Flags()
	flags.BoolVar(&opts.problems, "problems", false, "list what keeps runs out of the fits")
	flags.Var(opts.format, "format", "how to write the answer")
	flags.Var(opts.units, "units", unitsUsage)
	return cmd
}

func runRuns(env *environment, opts *runsOptions) error {
	all, noticed, err := opts.read(env)
	if err != nil {
		return errors.Join(env.print(noticed), err)
	}
	if !opts.anyCar {
		if all, err = opts.runsOfCar(all); err != nil {
			return err
		}
	}
	if opts.problems {
		return opts.format.Value.problems(env.out, opts.findProblems(all, noticed))
	}
	if err := env.print(noticed); err != nil {
		return err
	}
	runs := slices.DeleteFunc(all, func(r domain.Run) bool { return !opts.filter.Wants(&r) })
	slices.SortStableFunc(runs, func(a, b domain.Run) int { return a.When.Compare(b.When) })
	return opts.format.Value.runs(env.out, runs, env.style(opts.units.Value))
}

// findProblems lists what keeps rows and runs out of the fits. The fits are those of
// all runs of each car; the filters choose what is listed of them.
func (o *runsOptions) findProblems(all []domain.Run, noticed report.Noticed) []report.RunProblem {
	found := report.RowProblems(noticed)
	names, byCar := analyze.Cars(all)
	for _, name := range names {
		runs := byCar[name]
		listed := map[domain.Position]bool{}
		for i := range runs {
			listed[runs[i].Position] = o.filter.Wants(&runs[i])
		}
		fit, err := analyze.FitCar(runs)
		if err != nil {
			found = append(found, report.RunProblem{Car: name, Why: report.NoUsableRun(fmt.Sprintf("no run of %q", name))})
			continue
		}
		for _, p := range report.LeftOutOf(fit) {
			if listed[p.Position] {
				found = append(found, p)
			}
		}
	}
	return found
}
