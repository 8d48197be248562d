package main

import (
	"github.com/spf13/cobra"

	"regear/advise"
	domain "regear/analyze/run"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

func newRestCommand(env *environment) *cobra.Command {
	var asked nextFlags
	var start domain.Readings // what parts read now
	return question[report.Rested]{
		use:   "rest",
		short: "How long may I run, and how long let the car rest?",
		asks: func(cmd *cobra.Command) {
			asked.register(env, cmd, ask.Readings("start", "what a part reads now, as in motor=45C; repeatable (default: as cool as the air)", &start))
		},
		formats: report.RestFormats,
		answer: func(bool) (report.Rested, error) {
			a, err := env.answered(&asked, false)
			if err == nil {
				err = checkStart(a.Advice, start)
			}
			return report.Rested{Advice: a.Advice, Start: start, Notes: a.Notes}, err
		},
		tell: func(r report.Rested, people bool, s report.Style) error {
			return env.warnAndCaution(r.Warnings, people, s)
		},
	}.command(env)
}

func checkStart(a *advise.Advice, now domain.Readings) error {
	for part, c := range now.All() {
		switch {
		case a.Car.Fit(part) == nil:
			return usagef("--start: the log has no reading of the %s to go by", part)
		case app.ColderThanAir(c, a.Next.Ambient):
			return usagef("--start: the %s reads %g °C, which is below the next run's air of %g °C: say --ambient too, or check the unit",
				part, float64(c), float64(a.Next.Ambient))
		}
	}
	return nil
}
