package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"regear/analyze"
	"regear/analyze/logbook"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
	"regear/plotting"
)

func newHindsightCommand(env *environment) *cobra.Command {
	var logs logFlags
	var limits ask.Limits
	return question[report.Replayed]{
		use:   "hindsight",
		short: "Replay the log: would the forecasts have been right?",
		asks: func(cmd *cobra.Command) {
			logs.register(env, cmd)
			addFlags(cmd, limits.Value("limit", "judge the chances against this limit, as in motor=80C; repeatable\n"+
				"(default: the car file's, else motor and esc 71C, battery 60C)"))
		},
		formats: report.HindsightFormats,
		answer:  func(bool) (report.Replayed, error) { return env.lookBack(&logs, &limits) },
		figure: func(h report.Replayed, u units.System) (*plotting.Figure, error) {
			return plotting.Hindsight(h.Hindsight, u)
		},
		plotUsage: "also draw forecasts and readings into this .png, .svg or .pdf file",
	}.command(env)
}

func (e *environment) lookBack(logs *logFlags, limits *ask.Limits) (report.Replayed, error) {
	car, err := e.carOf(logs, false)
	if err != nil {
		return report.Replayed{}, err
	}
	hindsight, setup, err := e.app(logbook.Book{}).LookBack(car, limits)
	if told := e.tell(setup); told != nil {
		return report.Replayed{}, told
	}
	if errors.Is(err, analyze.ErrTooFewRuns) {
		err = fmt.Errorf("%s: hindsight needs two usable runs of a part at least, as each is foreseen from the earlier ones; log more runs", logs.source)
	}
	return report.Replayed{Hindsight: hindsight, Notes: car.Notes}, err
}
