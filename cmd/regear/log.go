package main

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"github.com/spf13/cobra"

	domain "regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/entry"
	"regear/cmd/regear/internal/report"
)

type runFlags struct {
	bookFlag
	given    map[string]string          // by the names of the fields
	units    ask.Optional[units.System] // of bare numbers
	asked    []string                   // the names of the fields that a question took
	problems []domain.Problem           // what to ask about what was given
}

func newLogCommand(env *environment) *cobra.Command {
	var told runFlags
	cmd := &cobra.Command{
		Use:   "log",
		Short: "Add one run to the log book",
		Args:  noArguments,
		RunE:  func(*cobra.Command, []string) error { return failed(told.log(env, env.asker())) },
	}
	told.register(cmd)
	return cmd
}

// register adds a flag for each field.
func (told *runFlags) register(cmd *cobra.Command) {
	told.given = map[string]string{}
	for _, f := range entry.Fields {
		flag := cmd.Flags().VarPF(ask.Value{Name: f.Name, Kind: f.Kind, Take: func(text string) error { return told.take(f, text) }}, f.Name, "", f.Usage)
		if f.IsMark() {
			flag.NoOptDefVal = "yes"
		}
	}
	addFlags(cmd, bareUnits.Value("units", "units of bare numbers, as in --ambient 24 (default: the car file's)", &told.units))
	told.bookFlag.register(cmd)
}

var bareUnits = ask.Kind[units.System]{Name: "metric|us", Parse: units.ParseSystem, Words: newUnitsFlag().Words()}

// take keeps what is given as it is: what a tire's name stands for, and the unit of a bare
// number, show only once the car file is read. What can't be is no fault of the command line.
func (told *runFlags) take(f entry.Field, text string) error {
	told.given[f.Name] = text
	if f.Units.Behind(text, units.Metric) != text {
		return nil
	}
	if err := f.Check(text); !errors.As(err, new(runlog.Impossible)) {
		return err
	}
	return nil
}

func (told *runFlags) log(env *environment, asking *asker) error {
	book, err := told.book(env)
	if err != nil {
		return err
	}
	a := env.app(book)
	known, err := a.ReadBook()
	if err != nil {
		return err
	}
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
	undo := "regear undo"
	if told.path != "" {
		undo += " --book " + quoted(told.path)
	}
	return report.Logged(env.out, book.Path, undo, run, saved, told.units.Value)
}

// enter enters the run. What was not given is as usual, the date is now, and what is needed
// is asked for if there is somebody to ask.
func (told *runFlags) enter(env *environment, a *app.App, known *app.Logs, asking *asker) (*app.NewRun, error) {
	run, err := a.NewRun(known)
	if err != nil {
		return nil, err
	}
	told.takeUnits(env)
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
	return run, told.needsMore(env, run.Draft)
}

// takeUnits takes the units of bare numbers from the car file, where no flag said them.
func (told *runFlags) takeUnits(env *environment) {
	if !told.units.Given {
		told.units = env.unitsInFile()
	}
}

// needsMore says what a run still needs, with a line that has it all.
func (told *runFlags) needsMore(env *environment, draft *entry.Draft) error {
	var needs, missing []string
	for _, f := range draft.Missing() {
		needs, missing = append(needs, "--"+f.Name), append(missing, "--"+f.Name+" "+placeholder(f))
	}
	if !draft.HasPeak() {
		needs = append(needs, "a peak (of the motor, the ESC or the battery)")
		missing = append(missing, "--motor-peak TEMP")
	}
	if len(needs) == 0 {
		return nil
	}
	for _, p := range told.problems { // a new car needs much that one with a wrong name has
		fmt.Fprintln(env.errOut, byFlag(p))
	}
	words := []string{"regear"}
	for _, arg := range env.args {
		words = append(words, quoted(arg))
	}
	return usagef("a run needs %s: fill in what is in capitals\n  %s", strings.Join(needs, ", "), strings.Join(append(words, missing...), " "))
}

// placeholder stands for a field's value in a line to be filled in: no sign of it means
// something to a shell.
func placeholder(f entry.Field) string {
	kind, _, _ := strings.Cut(f.Kind, "|")
	return kind
}

// quoted returns an argument as a shell takes it back.
func quoted(arg string) string {
	plain := func(r rune) bool {
		return unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune("-_=+.,:/@%", r)
	}
	if arg != "" && !strings.ContainsFunc(arg, func(r rune) bool { return !plain(r) }) {
		return arg
	}
	return "'" + strings.ReplaceAll(arg, "'", `'\''`) + "'"
}

func (told *runFlags) enterField(run *app.NewRun, f entry.Field, asking *asker) error {
	text, given := told.given[f.Name]
	switch {
	case given:
		problems, err := told.enterText(run, f, text)
		switch {
		case errors.As(err, new(runlog.Impossible)):
			err = domain.Problem{Position: domain.Position{File: "--" + f.Name}, Value: text, What: err.Error()}
		case err != nil:
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

// enterText enters a text, in the units of bare numbers if somebody said them.
func (told *runFlags) enterText(run *app.NewRun, f entry.Field, text string) ([]domain.Problem, error) {
	if told.units.Given {
		text = f.Units.Behind(text, told.units.Value)
	}
	problems, err := run.Enter(f, text)
	if errors.Is(err, units.ErrNoUnit) {
		err = fmt.Errorf("%w, or say --units metric or --units us, or put units into the car file", err)
	}
	return problems, err
}

func (told *runFlags) ask(run *app.NewRun, f entry.Field, asking *asker) error {
	question, usual := strings.ReplaceAll(f.Usage, "\n", " "), run.Usual.Text(f)
	if usual != "" {
		question += " [" + usual + "]"
	}
	told.asked = append(told.asked, f.Name)
	err := asking.until(question, func(answer string) (string, error) {
		if answer == "" && (usual != "" || !f.Needed) {
			run.TakeUsual(f)
			return "", nil
		}
		if answer == "-" && !f.Needed { // nothing, whatever is usual
			answer = ""
		}
		problems, err := told.enterText(run, f, answer)
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

// check reads the run. What is odd is told, and on a terminal asked about. What can't be, and what
// is not meant, is asked for again if it was an answer.
func (told *runFlags) check(env *environment, run *app.NewRun, asking *asker) (*runlog.Log, error) {
	for {
		read, doubts, err := told.read(env, run, asking)
		var wrong []domain.Problem
		switch refused := new(domain.Problem); {
		case errors.As(err, refused):
			wrong, err = []domain.Problem{*refused}, byFlag(*refused)
		case errors.Is(err, errNotMeant):
			wrong = doubts
		default:
			return read, err
		}
		if again, errAsking := told.askAgain(env, run, wrong, asking); !again || errAsking != nil {
			return read, cmp.Or(errAsking, err)
		}
	}
}

// read reads the run once, and returns what is doubtful about it.
func (told *runFlags) read(env *environment, run *app.NewRun, asking *asker) (*runlog.Log, []domain.Problem, error) {
	read, problems, err := run.Read()
	if err != nil {
		return nil, nil, err
	}
	problems = slices.Concat(told.problems, problems)
	if at := slices.IndexFunc(problems, func(p domain.Problem) bool { return p.Remedy.Kind == domain.MarkHeatStop }); at >= 0 {
		stopped, err := asking.yes("The note reads like a heat stop. Did heat end this run?", false)
		if err != nil {
			return nil, nil, err
		}
		if stopped {
			mark, _ := entry.ByName("stopped-by-heat")
			if _, err := run.Enter(mark, "yes"); err != nil {
				return nil, nil, err
			}
			return told.read(env, run, asking)
		}
		problems[at].Do = "if heat ended this run, add --stopped-by-heat"
		if asking != nil {
			problems = slices.Delete(problems, at, at+1)
		}
	}
	var shown []domain.Problem
	for _, p := range problems {
		shown = append(shown, byFlag(p))
	}
	return read, problems, env.confirm(asking, shown, "Log it all the same?")
}

// askAgain asks again for the answers that problems are about, if all of them are about answers.
func (told *runFlags) askAgain(env *environment, run *app.NewRun, about []domain.Problem, asking *asker) (bool, error) {
	var fields []entry.Field
	for _, p := range about {
		f, _ := entry.ByColumn(p.Column)
		if !slices.Contains(told.asked, f.Name) {
			return false, nil
		}
		if p = byFlag(p); !p.Ask {
			fmt.Fprintln(env.errOut, p) // what is odd was told with the question
		}
		if !slices.ContainsFunc(fields, func(other entry.Field) bool { return other.Name == f.Name }) {
			fields = append(fields, f)
		}
	}
	for _, f := range fields {
		if err := told.ask(run, f, asking); err != nil {
			return false, err
		}
	}
	return true, nil
}

// byFlag puts the flag in the place where a problem of a run is.
func byFlag(p domain.Problem) domain.Problem {
	p.Position = domain.Position{File: "this run"}
	if f, known := entry.ByColumn(p.Column); known {
		p.File, p.Column = "--"+f.Name, ""
	}
	return p
}
