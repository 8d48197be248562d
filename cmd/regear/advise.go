package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
	"regear/plotting"
)

// adviseOptions is what `regear advise` was asked.
type adviseOptions struct {
	logFlags
	next   ask.NextRun
	format *ask.Choice[adviceFormat]
	units  *ask.Choice[units.System]
	plot   picture
	full   bool
}

// adviceFormat is one way to write an answer.
type adviceFormat struct {
	write func(o *adviseOptions, w io.Writer, a *advise.Advice, n report.Noticed, s report.Style) error
	// forPeople is true where cautions follow the answer.
	forPeople bool
}

func newAdviseCommand(env *environment) *cobra.Command {
	var opts adviseOptions
	cmd := &cobra.Command{
		Use:   "advise",
		Short: "Say which pinion to run next, and how likely it stays cool enough",
		Long: `advise fits the runs of one car and answers: of the pinions to choose from, the
tallest gearing whose next run stays under every limit with the wanted chance.

What you don't say about the next run is taken from the last one, and the answer
names it. Text is for people and may change; scripts read --format json.`,
		Example: `  # The next run is 12 minutes in 30 °C; the motor's maker says 80 °C.
  regear advise --log weekend.csv --limit motor=80C --ambient 30C --minutes 12

  # Only these pinions are in the box, and nine in ten runs should hold.
  regear advise --log weekend.csv --pinions 13,15,16 --confidence 0.9

  # A log with headers of its own, in Fahrenheit, from another program.
  export-runs | regear advise --log - --column 'Temp mot=motor_peak_f' --units us

  # With a plot of the motor's peak against gearing beside the answer.
  regear advise --log weekend.csv --plot weekend.svg

  # For a script.
  regear advise --log weekend.csv --car heron --format json`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := opts.logFlags.settle(cmd); err != nil {
				return err
			}
			return failed(runAdvise(env, &opts))
		},
	}
	opts.logFlags.register(cmd)
	addFlags(cmd, opts.next.Values()...)
	opts.format = ask.NewChoice([]string{"text", "json", "csv"},
		adviceFormat{writeAdviceText, true}, adviceFormat{writeAdviceJSON, false}, adviceFormat{writeAdviceCSV, false})
	opts.units = newUnitsFlag()
	cmd.Flags().Var(opts.format, "format", "how to write the answer")
	cmd.Flags().Var(opts.units, "units", unitsUsage)
	cmd.Flags().BoolVar(&opts.full, "full", false, "all there is to say; without it, text fits one screen")
	cmd.Flags().Var(&opts.plot, "plot", "also draw peak against gearing into this .png, .svg or .pdf file")
	return cmd
}

func runAdvise(env *environment, opts *adviseOptions) error {
	if err := opts.plot.open(); err != nil {
		return err
	}
	defer opts.plot.discard()
	opts.brief = opts.format.Value.forPeople && !opts.full
	answer, noticed, err := advice(env, &opts.logFlags, &opts.next)
	if err != nil {
		return err
	}
	// The picture comes first: whoever reads the text through a pipe may close it early,
	// and that ends the program.
	err = opts.plot.draw(func() (*plotting.Figure, error) {
		return plotting.Ratio(answer, answer.Binding, opts.units.Value)
	})
	if err != nil {
		return err
	}
	return opts.write(env, answer, noticed)
}

// write writes the answer, then its warnings on standard error, then the cautions:
// on a terminal the three read in that order.
func (o *adviseOptions) write(env *environment, a *advise.Advice, n report.Noticed) error {
	style := env.style(o.units.Value)
	if err := o.format.Value.write(o, env.out, a, n, style); err != nil {
		return err
	}
	if !o.brief {
		if err := env.warn(a.Warnings, style); err != nil || !o.format.Value.forPeople {
			return err
		}
		return report.CautionNotes(style.Units).Text(env.out, style.Layout)
	}
	if err := report.BriefWarnings(env.errOut, a.Warnings, n, style); err != nil {
		return err
	}
	return report.BriefCaution().Text(env.out, style.Layout)
}

// advice reads, fits and answers.
func advice(env *environment, logs *logFlags, next *ask.NextRun) (*advise.Advice, report.Noticed, error) {
	car, noticed, err := env.fitCar(logs)
	if err != nil {
		return nil, noticed, err
	}
	own, err := env.ownCar(car.Name)
	if err != nil {
		return nil, noticed, err
	}
	if err := env.notice(&noticed, next.Doubts(own)); err != nil {
		return nil, noticed, err
	}
	answer, err := answerFor(car, own, next)
	return answer, noticed, err
}

// answerFor answers for one next run. Its errors name the flags.
func answerFor(car *analyze.Car, own *carfile.Car, next *ask.NextRun) (*advise.Advice, error) {
	answer, err := next.Answer(car, own)
	var wrong *ask.ValueError
	switch {
	case errors.Is(err, advise.ErrNoLimit):
		err = fmt.Errorf("%w: give one with --limit, as in --limit %s=80C", err, car.Fits()[0].Part)
	case errors.As(err, &wrong):
		err = wrongFlag(wrong.Name, wrong.Text, wrong.Err)
	}
	return answer, err
}

func writeAdviceText(o *adviseOptions, w io.Writer, a *advise.Advice, _ report.Noticed, s report.Style) error {
	return report.AdviceText(w, a, s, o.full)
}

func writeAdviceJSON(_ *adviseOptions, w io.Writer, a *advise.Advice, n report.Noticed, _ report.Style) error {
	return report.AdviceJSON(w, a, n)
}

func writeAdviceCSV(_ *adviseOptions, w io.Writer, a *advise.Advice, n report.Noticed, _ report.Style) error {
	return report.AdviceCSV(w, a, n)
}
