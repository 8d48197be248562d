package main

import (
	"io"

	"github.com/spf13/cobra"

	"regear/advise"
	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// restOptions is what `regear rest` was asked.
type restOptions struct {
	logFlags
	next   ask.NextRun
	start  domain.Readings // what parts read now
	format *ask.Choice[restFormat]
	units  *ask.Choice[units.System]
}

// restFormat is one way to write how long to run and to rest.
type restFormat struct {
	write     func(w io.Writer, a *advise.Advice, start domain.Readings, n report.Noticed, s report.Style) error
	forPeople bool
}

func newRestCommand(env *environment) *cobra.Command {
	var opts restOptions
	cmd := &cobra.Command{
		Use:   "rest",
		Short: "How long may I run, and how long let the car rest?",
		Long: `rest says for the gearing now fitted and for the one that advise picks how long a run
may last with the wanted chance of staying under every limit: from cold and, with
--start, from what the parts read now. Then it says how long to rest before the next
pack. Motor and ESC go out again, so they rest until they are within 5 °C (9 °F) of
the air. The battery comes out, so it has a line of its own: let it cool below 45 °C
(113 °F) before you charge it.`,
		Example: `  regear rest --log weekend.csv --ambient 30C
  regear rest --log weekend.csv --start motor=45C --start battery=35C`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := opts.logFlags.settle(cmd); err != nil {
				return err
			}
			return failed(runRest(env, &opts))
		},
	}
	opts.logFlags.register(cmd)
	addFlags(cmd, ask.Readings("start", "what a part reads now, as in motor=45C; repeatable (default: as cool as the air)", &opts.start))
	addFlags(cmd, opts.next.Values()...)
	opts.format = ask.NewChoice([]string{"text", "json"}, restFormat{report.RestText, true}, restFormat{report.RestJSON, false})
	opts.units = newUnitsFlag()
	cmd.Flags().Var(opts.format, "format", "how to write the answer")
	cmd.Flags().Var(opts.units, "units", unitsUsage)
	return cmd
}

func runRest(env *environment, opts *restOptions) error {
	answer, noticed, err := advice(env, &opts.logFlags, &opts.next)
	if err != nil {
		return err
	}
	if err := checkStart(answer, opts.start); err != nil {
		return err
	}
	style := env.style(opts.units.Value)
	if err := opts.format.Value.write(env.out, answer, opts.start, noticed, style); err != nil {
		return err
	}
	if err := env.warn(answer.Warnings, style); err != nil || !opts.format.Value.forPeople {
		return err
	}
	return report.CautionNotes(style.Units).Text(env.out, style.Layout)
}

// checkStart refuses readings that nothing can be told from.
func checkStart(a *advise.Advice, now domain.Readings) error {
	const colder units.Celsius = 5 // a car from a cool house, say
	for _, part := range domain.Parts {
		c, ok := now.Of(part)
		switch {
		case ok && a.Car.Fit(part) == nil:
			return usagef("--start: the log has no reading of the %s to go by", part)
		case ok && c < a.Next.Ambient-colder:
			return usagef("--start: the %s reads %g °C, which is below the next run's air of %g °C: say --ambient too, or check the unit",
				part, float64(c), float64(a.Next.Ambient))
		}
	}
	return nil
}
