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
		asks:  func(cmd *cobra.Command) { asked.register(env, cmd) },
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

func (e *environment) tellAdvice(a report.Advised, people bool, s report.Style) error {
	if !a.Brief {
		return e.warnAndCaution(a.Warnings, people, s)
	}
	if err := report.BriefWarnings(e.errOut, a.Warnings, a.Notes, s); err != nil {
		return err
	}
	return report.BriefCaution().Text(e.out, s.Layout)
}
