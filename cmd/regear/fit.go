package main

import (
	"github.com/spf13/cobra"

	"regear/analyze"
	"regear/cmd/regear/internal/report"
)

func newFitCommand(env *environment) *cobra.Command {
	var logs logFlags
	return question[report.Fitted]{
		use:     "fit",
		short:   "Show what the runs say of how each part heats up",
		asks:    func(cmd *cobra.Command) { logs.register(env, cmd) },
		formats: report.FitFormats,
		answer: func(bool) (report.Fitted, error) {
			car, err := env.carOf(&logs, false)
			if err != nil {
				return report.Fitted{}, err
			}
			fit, err := analyze.FitCar(car.Runs)
			return report.Fitted{Car: fit, Notes: car.Notes}, logs.noFit(err)
		},
		tell: func(f report.Fitted, _ bool, s report.Style) error { return env.warn(f.Warnings(), s) },
	}.command(env)
}
