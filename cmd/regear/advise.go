package main

import (
	"github.com/spf13/cobra"

	"regear/analyze/units"
	"regear/cmd/regear/internal/report"
	"regear/plotting"
)

func newAdviseCommand(env *environment) *cobra.Command {
	var asked nextFlags
	var full bool
	return question[report.Advised]{
		use:   "advise",
		short: "Say which pinion to run next, and how likely it stays cool enough",
		long: `advise fits the runs of one car and answers: of the pinions to choose from, the
tallest gearing whose next run stays under every limit with the wanted chance.

What you don't say about the next run is taken from the last one, and the answer
names it. Text is for people and may change; scripts read --format json.`,
		example: `  # The next run is 12 minutes in 30 °C; the motor's maker says 80 °C.
  regear advise --log weekend.csv --limit motor=80C --ambient 30C --minutes 12

  # Only these pinions are in the box, and nine in ten runs should hold.
  regear advise --log weekend.csv --pinions 13,15,16 --confidence 0.9

  # A log with headers of its own, in Fahrenheit, from another program.
  export-runs | regear advise --log - --column 'Temp mot=motor_peak_f' --units us

  # With a plot of the motor's peak against gearing beside the answer.
  regear advise --log weekend.csv --plot weekend.svg

  # For a script.
  regear advise --log weekend.csv --car heron --format json`,
		asks: func(cmd *cobra.Command) { asked.register(env, cmd) },
		late: func(cmd *cobra.Command) {
			cmd.Flags().BoolVar(&full, "full", false, "all there is to say; without it, text fits one screen")
		},
		formats: report.AdviceFormats,
		answer:  func(people bool) (report.Advised, error) { return env.answered(&asked, people && !full) },
		tell:    env.tellAdvice,
		figure: func(a report.Advised, u units.System) (*plotting.Figure, error) {
			return plotting.Ratio(a.Advice, a.Binding, u)
		},
		plotUsage: "also draw peak against gearing into this .png, .svg or .pdf file",
	}.command(env)
}

// tellAdvice tells the warnings and cautions of an answer, in brief where it is.
func (e *environment) tellAdvice(a report.Advised, people bool, s report.Style) error {
	if !a.Brief {
		return e.warnAndCaution(a.Warnings, people, s)
	}
	if err := report.BriefWarnings(e.errOut, a.Warnings, a.Notes, s); err != nil {
		return err
	}
	return report.BriefCaution().Text(e.out, s.Layout)
}
