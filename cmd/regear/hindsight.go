package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
	"regear/plotting"
)

// hindsightOptions is what `regear hindsight` was asked.
type hindsightOptions struct {
	logFlags
	limits ask.Limits
	format *ask.Choice[hindsightWriter]
	units  *ask.Choice[units.System]
	plot   picture
}

// hindsightWriter writes a replay in one format.
type hindsightWriter = func(w io.Writer, h *analyze.Hindsight, n report.Noticed, s report.Style) error

func newHindsightCommand(env *environment) *cobra.Command {
	var opts hindsightOptions
	cmd := &cobra.Command{
		Use:   "hindsight",
		Short: "Replay the log: would the forecasts have been right?",
		Long: `hindsight takes the log of one car run by run and foresees each from the earlier ones
alone, as advise would have done on the day. It shows every forecast beside what was
read, wrong ones included, counts how often the 80 % range held and how the stated
chances came out, and says whether the forecasts have earned trust on this car.`,
		Example: `  regear hindsight --log season.csv
  regear hindsight --log season.csv --limit motor=80C --plot hindsight.svg
  regear hindsight --log season.csv --format json`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := opts.logFlags.settle(cmd); err != nil {
				return err
			}
			return failed(runHindsight(env, &opts))
		},
	}
	opts.logFlags.register(cmd)
	addFlags(cmd, opts.limits.Value("limit", "judge the chances against this limit, as in motor=80C; repeatable\n"+
		"(default: the car file's, else motor and esc 71C, battery 60C)"))
	opts.format = ask.NewChoice([]string{"text", "json"}, writeHindsightText, writeHindsightJSON)
	opts.units = newUnitsFlag()
	cmd.Flags().Var(opts.format, "format", "how to write the answer")
	cmd.Flags().Var(opts.units, "units", unitsUsage)
	cmd.Flags().Var(&opts.plot, "plot", "also draw forecasts and readings into this .png, .svg or .pdf file")
	return cmd
}

func runHindsight(env *environment, opts *hindsightOptions) error {
	if err := opts.plot.open(); err != nil {
		return err
	}
	defer opts.plot.discard()
	runs, noticed, err := env.runsOfCar(&opts.logFlags)
	if err != nil {
		return err
	}
	own, err := env.ownCar(runs[0].Car)
	if err != nil {
		return err
	}
	replay, err := analyze.LookBack(runs, advise.Temperatures(opts.limits.Complete(own)))
	if errors.Is(err, analyze.ErrTooFewRuns) {
		return fmt.Errorf("%s: hindsight needs two usable runs of a part at least, as each is foreseen from the earlier ones; log more runs",
			opts.source)
	}
	if err != nil {
		return err
	}
	err = opts.plot.draw(func() (*plotting.Figure, error) {
		return plotting.Hindsight(replay, opts.units.Value)
	})
	if err != nil {
		return err
	}
	return opts.format.Value(env.out, replay, noticed, env.style(opts.units.Value))
}

func writeHindsightText(w io.Writer, h *analyze.Hindsight, _ report.Noticed, s report.Style) error {
	return report.HindsightText(w, h, s)
}

func writeHindsightJSON(w io.Writer, h *analyze.Hindsight, n report.Noticed, _ report.Style) error {
	return report.HindsightJSON(w, h, n)
}
