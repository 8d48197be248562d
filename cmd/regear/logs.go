package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/logbook"
	"regear/analyze/logbook/workbook"
	"regear/analyze/nearest"
	domain "regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

type logFlags struct {
	bookFlag
	readingFlags
	files  []string
	strict bool
	car    string
	named  bool   // a log or a log book was
	anyCar bool   // no car was named
	source string // what was read, for messages
}

// register adds the flags, and has them checked before the command runs.
func (f *logFlags) register(env *environment, cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringArrayVar(&f.files, "log", nil, "read this run log, a CSV or .xlsx `FILE`, instead of the log book; repeatable,\n- is standard input")
	f.bookFlag.register(cmd)
	f.readingFlags.register(cmd, "")
	flags.BoolVar(&f.strict, "strict", false, "give no answer if any row of a log can't be used")
	flags.StringVar(&f.car, "car", "", "which car, by its `NAME` in the log (default: the only one in the log)")
	_ = cmd.RegisterFlagCompletionFunc("car", func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		logs, _ := f.read(env) // what can't be read has no car to offer
		return logs.Names, cobra.ShellCompDirectiveNoFileComp
	})
	cmd.PreRunE = f.check
}

type nextFlags struct {
	logFlags
	next ask.NextRun
}

// register adds the flags, in the order of the help: which log, what else is asked, and what
// of the next run.
func (f *nextFlags) register(env *environment, cmd *cobra.Command, others ...ask.Value) {
	f.logFlags.register(env, cmd)
	addFlags(cmd, others...)
	addFlags(cmd, f.next.Values()...)
}

// check checks what can be checked before a file is opened.
func (f *logFlags) check(cmd *cobra.Command, _ []string) error {
	book := cmd.Flags().Changed("book")
	f.anyCar, f.named = !cmd.Flags().Changed("car"), len(f.files) > 0 || book
	if len(f.files) > 0 && book {
		return errors.New("--log and --book exclude each other: a log is read instead of the log book")
	}
	return readOnce(f.files)
}

// read reads all logs as one. What was noted on the way is returned with an error too.
func (f *logFlags) read(env *environment) (*app.Logs, error) {
	f.source = strings.Join(f.files, ", ")
	var read []*runlog.Log
	opts := f.options()
	switch book, err := f.book(env); {
	case len(f.files) == 0 && err != nil:
		return new(app.Logs), err
	case len(f.files) == 0:
		opts.Forgiving = false // a log book is in the program's own columns
		log, err := f.readBook(book, opts)
		if err != nil {
			return new(app.Logs), err
		}
		read = append(read, log)
	case err == nil: // without a place for a book nothing is remembered
		remembered, err := book.Remembered()
		if err != nil {
			return new(app.Logs), withoutCall(err)
		}
		opts.Remembered = remembered.For()
	}
	for _, name := range f.files {
		logs, err := env.file(name).Read(opts, workbook.Read)
		if err != nil {
			return app.Join(read...), withoutCall(err)
		}
		read = append(read, logs...)
	}
	if err := runlog.Unread(opts.Columns, read); err != nil {
		return app.Join(read...), err
	}
	logs := app.Join(read...)
	logs.Notes = logs.Notes.Worded(report.ByFlags)
	switch {
	case f.strict && len(logs.Notes.LeftOut) > 0:
		return logs, errors.New("a row can't be used, and --strict was given")
	case len(logs.Runs) == 0:
		return logs, fmt.Errorf("%s: no usable run", f.source)
	}
	return logs, nil
}

func (f *logFlags) readBook(book logbook.Book, opts runlog.Options) (*runlog.Log, error) {
	f.source = book.Path
	snapshot, err := book.Snapshot(opts)
	if err == nil && len(snapshot.Log.Runs)+len(snapshot.Log.Problems) == 0 {
		err = emptyBook(book.Path)
	}
	return snapshot.Log, withoutCall(err)
}

// file returns a file to read, "-" for standard input. How far its reading has come is shown
// on a terminal.
func (e *environment) file(name string) app.File {
	return app.File{Name: name, Open: func() (io.ReadCloser, error) {
		if name == "-" {
			return io.NopCloser(e.in), nil
		}
		file, err := os.Open(name)
		if err != nil {
			return nil, err
		}
		return e.watch(file), nil
	}}
}

func withoutCall(err error) error {
	var path *fs.PathError
	switch {
	case errors.As(err, &path) && errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s: there is no such file", path.Path)
	case errors.As(err, &path):
		return fmt.Errorf("%s: %w", path.Path, path.Err)
	}
	return err
}

func (f *logFlags) choose(logs *app.Logs) (*app.Car, error) {
	car, err := logs.Choose(f.car, !f.anyCar)
	switch {
	case errors.Is(err, app.ErrWhichCar):
		err = usagef("the log holds several cars; choose one with --car:\n%s", carList(logs))
	case errors.Is(err, app.ErrNoSuchCar):
		err = usagef("the log holds no car %q%s; it holds:\n%s", f.car, nearest.DidYouMean(f.car, logs.Names), carList(logs))
	}
	return car, err
}

func carList(logs *app.Logs) string {
	lines := make([]string, len(logs.Names))
	for i, name := range logs.Names {
		lines[i] = "  " + report.CarLine(name, logs.ByCar[name])
	}
	return strings.Join(lines, "\n")
}

// carOf reads the logs and returns the car that was asked for. What was noted in its logs
// goes to standard error at once, as it may explain why there is no answer. A short answer
// tells of it itself.
func (e *environment) carOf(f *logFlags, short bool) (*app.Car, error) {
	logs, err := f.read(e)
	if err != nil {
		return nil, errors.Join(e.print(logs.Notes), err)
	}
	car, err := f.choose(logs)
	if err != nil {
		return nil, errors.Join(e.print(logs.Notes), err)
	}
	if short {
		return car, nil
	}
	return car, e.print(car.Notes)
}

func (e *environment) print(n app.Notes) error {
	return report.Noted(n).Text(e.errOut, report.Style{}.Layout)
}

func (e *environment) app(book logbook.Book) *app.App {
	return &app.App{Book: book, Cars: e.carFile, Now: e.now, Workbook: workbook.Read}
}

func (e *environment) fit(f *logFlags, car *app.Car) (*app.Fitted, error) {
	fitted, err := e.app(logbook.Book{}).Fit(car)
	if err != nil {
		return nil, f.noFit(err)
	}
	return fitted, e.tell(fitted.Setup)
}

func (f *logFlags) noFit(err error) error {
	if errors.Is(err, analyze.ErrNoRuns) {
		err = errors.New(report.NoUsableRun(f.source + ": no run"))
	}
	return err
}

func (e *environment) fitted(f *logFlags, short bool) (*app.Fitted, error) {
	car, err := e.carOf(f, short)
	if err != nil {
		return nil, err
	}
	return e.fit(f, car)
}

func (e *environment) answered(f *nextFlags, short bool) (report.Advised, error) {
	fitted, err := e.fitted(&f.logFlags, short)
	if err != nil {
		return report.Advised{}, err
	}
	advice, err := e.answer(fitted, &f.next)
	return report.Advised{Advice: advice, Notes: fitted.Notes, Brief: short}, err
}

// answer answers for one next run. Its errors name the flags, and what is doubtful about
// them joins the notes.
func (e *environment) answer(fitted *app.Fitted, next *ask.NextRun) (*advise.Advice, error) {
	advice, problems, err := fitted.Answer(next)
	if err := e.note(&fitted.Notes, problems); err != nil {
		return nil, err
	}
	return advice, inFlags(err, fitted)
}

// note adds what is doubtful about the values of flags to what was noted in the logs, and
// writes what is new of it to standard error.
func (e *environment) note(n *app.Notes, problems []domain.Problem) error {
	var told app.Notes
	for _, p := range problems {
		p.File = "--" + p.File
		if !slices.Contains(n.Implausible, p) {
			told.Implausible = append(told.Implausible, p)
		}
	}
	n.Implausible = append(n.Implausible, told.Implausible...)
	return e.print(told)
}

// inFlags words an error of an answer with the flags that it is about.
func inFlags(err error, fitted *app.Fitted) error {
	var wrong *ask.ValueError
	switch {
	case errors.Is(err, advise.ErrNoLimit):
		return fmt.Errorf("%w: give one with --limit, as in --limit %s=80C", err, fitted.Fit.Fits()[0].Part)
	case errors.As(err, &wrong):
		return wrongFlag(wrong.Name, wrong.Text, wrong.Err)
	}
	return report.NoAnswer(err)
}
