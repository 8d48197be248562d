package main

import (
	"github.com/spf13/cobra"

	"regear/analyze"
	"regear/cmd/regear/internal/report"
)

func newFitCommand(env *environment) *cobra.Command {
	var logs logFlags
	return question[report.Fitted]{
		use:   "fit",
		short: "Show what the runs say of how each part heats up",
		long: `fit shows what advise works with: for each part the runs used and left out, how its
heat follows rollout and ratio, what was held before the log and what is held
after, the time constant, the scatter from run to run, the plain straight line
that one would draw through the points, and what looks doubtful.`,
		example: `  regear fit --log weekend.csv
  regear fit --log spring.csv --log summer.csv --car heron --units us
  regear fit --log weekend.csv --format json`,
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
