package main

import (
	"io"

	"github.com/spf13/cobra"

	"regear/analyze"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// fitOptions is what `regear fit` was asked.
type fitOptions struct {
	logFlags
	format *ask.Choice[fitWriter]
	units  *ask.Choice[units.System]
}

// fitWriter writes the fits of a car in one format.
type fitWriter = func(w io.Writer, car *analyze.Car, n report.Noticed, s report.Style) error

func newFitCommand(env *environment) *cobra.Command {
	var opts fitOptions
	cmd := &cobra.Command{
		Use:   "fit",
		Short: "Show what the runs say of how each part heats up",
		Long: `fit shows what advise works with: for each part the runs used and left out, how its
heat follows rollout and ratio, what was held before the log and what is held
after, the time constant, the scatter from run to run, the plain straight line
that one would draw through the points, and what looks doubtful.`,
		Example: `  regear fit --log weekend.csv
  regear fit --log spring.csv --log summer.csv --car heron --units us
  regear fit --log weekend.csv --format json`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := opts.logFlags.settle(cmd); err != nil {
				return err
			}
			return failed(runFit(env, &opts))
		},
	}
	opts.logFlags.register(cmd)
	opts.format = ask.NewChoice([]string{"text", "json"}, writeFitText, writeFitJSON)
	opts.units = newUnitsFlag()
	cmd.Flags().Var(opts.format, "format", "how to write the answer")
	cmd.Flags().Var(opts.units, "units", unitsUsage)
	return cmd
}

func runFit(env *environment, opts *fitOptions) error {
	car, noticed, err := env.fitCar(&opts.logFlags)
	if err != nil {
		return err
	}
	style := env.style(opts.units.Value)
	if err := opts.format.Value(env.out, car, noticed, style); err != nil {
		return err
	}
	return env.warn(car.Warnings(), style)
}

func writeFitText(w io.Writer, car *analyze.Car, _ report.Noticed, s report.Style) error {
	return report.FitText(w, car, s)
}

func writeFitJSON(w io.Writer, car *analyze.Car, n report.Noticed, _ report.Style) error {
	return report.FitJSON(w, car, n)
}
