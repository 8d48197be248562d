package main

import (
	"errors"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"regear/advise/carfile"
	"regear/analyze"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

type startFlags struct {
	logFlags
	change ask.Change
}

func newStartCommand(env *environment) *cobra.Command {
	var f startFlags
	return question[report.Started]{
		use:   "start",
		short: "The first gearing after another tire, battery or motor, and how to try it",
		asks: func(cmd *cobra.Command) {
			addFlags(cmd, f.change.Values()...)
			f.logFlags.register(env, cmd)
		},
		formats: report.StartFormats,
		answer:  func(bool) (report.Started, error) { return f.start(env) },
		tell: func(s report.Started, people bool, style report.Style) error {
			var warnings []analyze.Warning
			if s.Car != nil {
				warnings = s.Car.Warnings()
			}
			return env.warnAndCaution(warnings, people, style)
		},
	}.command(env)
}

func (f *startFlags) start(env *environment) (report.Started, error) {
	var answer report.Started
	car, setup, err := f.before(env)
	if err != nil {
		return answer, err
	}
	var fit *analyze.Car
	if car != nil {
		fit, answer.Notes = car.Fit, car.Notes
	}
	answer.Start, answer.Known, err = f.change.Answer(fit, setup)
	if err != nil {
		return answer, changeInFlags(err)
	}
	problems := f.change.Problems(setup)
	for i := range problems {
		problems[i].File = "--" + problems[i].File
	}
	answer.Notes.Implausible = append(answer.Notes.Implausible, problems...)
	return answer, env.confirm(env.asker(), problems, "Use it all the same?")
}

// before returns what the car file says of the car and, where there is a log from before the
// change, its fits.
func (f *startFlags) before(env *environment) (*app.Fitted, *carfile.Car, error) {
	if !f.named && f.change.NamesPinion() {
		setup, err := env.setupOf(f.car)
		return nil, setup, err
	}
	if !f.named {
		book, err := f.book(env)
		if err != nil {
			return nil, nil, err
		}
		if _, err := os.Stat(book.Path); err != nil {
			return nil, nil, usagef("what was fitted before? Add --pinion, --spur and --from-tire, as in --pinion 17 --spur 68 --from-tire 104mm, or name a log with --log FILE")
		}
	}
	fitted, err := env.fitted(&f.logFlags, false)
	if err != nil {
		return nil, nil, err
	}
	return fitted, fitted.Setup.Car, nil
}

// changeInFlags words an error of a change with the flags that it is about.
func changeInFlags(err error) error {
	var wrong *ask.ValueError
	var missing *ask.MissingError
	switch {
	case errors.Is(err, ask.ErrNothingChanges):
		return usagef("%w: say what does, with --tire, --cells or --kv and what it was before", err)
	case errors.As(err, &wrong):
		return wrongFlag(wrong.Name, wrong.Text, wrong.Err)
	case !errors.As(err, &missing):
		return err
	}
	switch missing.Name {
	case "spur":
		return usagef("%w Add --spur, as in --spur 68", missing)
	case "tire":
		return usagef("%w Add --tire, and --from-tire if it changes, as in --from-tire 104mm --tire 118mm", missing)
	}
	other, isBefore := strings.CutPrefix(missing.Name, "from-")
	if !isBefore {
		other = "from-" + other
	}
	return usagef("--%s: %w Add --%s", other, missing, missing.Name)
}
