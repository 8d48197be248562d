package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	domain "regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/entry"
	"regear/cmd/regear/internal/report"
)

type runFlags struct {
	bookFlag
	given    map[string]string // by the names of the fields
	problems []domain.Problem  // what to ask about what was given
}

func newLogCommand(env *environment) *cobra.Command {
	var told runFlags
	cmd := &cobra.Command{
		Use:   "log",
		Short: "Add one run to the log book",
		Args:  noArguments,
		RunE:  func(*cobra.Command, []string) error { return failed(told.log(env)) },
	}
	told.register(cmd)
	return cmd
}

// register adds a flag for each field.
func (told *runFlags) register(cmd *cobra.Command) {
	told.given = map[string]string{}
	for _, f := range entry.Fields {
		// What it is given is kept as it is: what a tire's name stands for shows only once the
		// car is known.
		take := func(text string) error { told.given[f.Name] = text; return f.Check(text) }
		flag := cmd.Flags().VarPF(ask.Value{Name: f.Name, Kind: f.Kind, Take: take}, f.Name, "", f.Usage)
		if f.IsMark() {
			flag.NoOptDefVal = "yes"
		}
	}
	told.bookFlag.register(cmd)
}

func (told *runFlags) log(env *environment) error {
	book, err := told.book(env)
	if err != nil {
		return err
	}
	a := env.app(book)
	known, err := a.ReadBook()
	if err != nil {
		return err
	}
	asking := env.asker()
	run, err := told.enter(env, a, known, asking)
	if err != nil {
		return err
	}
	read, err := told.check(env, run, asking)
	if err != nil {
		return err
	}
	saved, err := run.Save(read)
	var conflict *app.ConflictError
	switch {
	case errors.As(err, &conflict):
		return fmt.Errorf("%w: give another --date, or mend the book", err)
	case errors.Is(err, app.ErrSavedBefore):
		return fmt.Errorf("%s: holds this run already; if it is another one, give --date with a time of day", book.Path)
	case err != nil:
		return env.bookError(book, err)
	}
	return report.Logged(env.out, book.Path, &saved.Run, saved.Runs)
}

// enter enters the run. What was not given is as usual, the date is now, and what is needed
// is asked for if there is somebody to ask.
func (told *runFlags) enter(env *environment, a *app.App, known *app.Logs, asking *asker) (*app.NewRun, error) {
	run, err := a.NewRun(known)
	if err != nil {
		return nil, err
	}
	for _, f := range entry.Fields {
		if err := told.enterField(run, f, asking); err != nil {
			return nil, err
		}
		if f.Name == entry.Car.Name {
			if err := env.tell(run.Setup); err != nil {
				return nil, err
			}
		}
	}
	var missing []string
	for _, f := range run.Draft.Missing() {
		missing = append(missing, "--"+f.Name)
	}
	switch {
	case len(missing) > 0:
		return nil, usagef("a run needs %s", strings.Join(missing, ", "))
	case !run.Draft.HasPeak():
		return nil, usagef("a run needs a peak: --motor-peak, --esc-peak or --battery-peak")
	}
	return run, nil
}

func (told *runFlags) enterField(run *app.NewRun, f entry.Field, asking *asker) error {
	text, given := told.given[f.Name]
	switch {
	case given:
		problems, err := run.Enter(f, text)
		if err != nil {
			err = wrongFlag(f.Name, text, err)
		}
		told.problems = append(told.problems, problems...)
		return err
	case f.Column == "date":
		run.EndNow()
		return nil
	case asking != nil && (f.Needed || f.IsPeak() || f.Column == "note"):
		return told.ask(run, f, asking)
	}
	run.TakeUsual(f)
	return nil
}

func (told *runFlags) ask(run *app.NewRun, f entry.Field, asking *asker) error {
	question, usual := f.Usage, run.Usual.Text(f)
	if usual != "" {
		question += " [" + usual + "]"
	}
	err := asking.until(question, func(answer string) (string, error) {
		if answer == "" && (usual != "" || !f.Needed) {
			run.TakeUsual(f)
			return "", nil
		}
		if answer == "-" && !f.Needed { // nothing, whatever is usual
			answer = ""
		}
		told.given[f.Name] = answer
		problems, err := run.Enter(f, answer)
		if len(problems) == 0 {
			return "", err
		}
		return fmt.Sprintf("%q %s: %s. Take it all the same?", answer, problems[0].What, problems[0].Do), nil
	})
	if errors.Is(err, errEnded) {
		err = fmt.Errorf("%w before the run was complete: nothing was logged", err)
	}
	return err
}

// check reads the run. What looks implausible is told, and on a terminal asked about.
func (told *runFlags) check(env *environment, run *app.NewRun, asking *asker) (*runlog.Log, error) {
	read, problems, err := run.Read()
	if err != nil {
		return nil, err
	}
	problems = slices.Concat(told.problems, problems)
	if at := slices.IndexFunc(problems, func(p domain.Problem) bool { return p.Remedy.Kind == domain.MarkHeatStop }); at >= 0 {
		stopped, err := asking.yes("The note reads like a heat stop. Did heat end this run?", false)
		if err != nil {
			return nil, err
		}
		if stopped {
			mark, _ := entry.ByName("stopped-by-heat")
			if _, err := run.Enter(mark, "yes"); err != nil {
				return nil, err
			}
			return told.check(env, run, asking)
		}
		problems[at].Do = "if heat ended this run, add --stopped-by-heat"
		if asking != nil {
			problems = slices.Delete(problems, at, at+1)
		}
	}
	for i := range problems {
		told.asTyped(&problems[i])
	}
	return read, env.confirm(asking, problems, "Log it all the same?")
}

// asTyped puts what was typed, and where, in place of the cell that a problem is about.
func (told *runFlags) asTyped(p *domain.Problem) {
	p.Position = domain.Position{File: "this run"}
	f, known := entry.ByColumn(p.Column)
	if !known {
		return
	}
	p.File, p.Column = "--"+f.Name, ""
	if typed := told.given[f.Name]; typed != "" {
		p.Value = typed
	}
}
