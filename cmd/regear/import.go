package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"regear/analyze/logbook"
	domain "regear/analyze/run"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/report"
)

type importFlags struct {
	bookFlag
	readingFlags
	files             []string
	car               string
	dryRun, strict    bool
	replace, keepBoth bool
	rejects           string
	remembered        bool
	forget            []string
}

func newImportCommand(env *environment) *cobra.Command {
	var f importFlags
	cmd := &cobra.Command{
		Use:     "import FILE...",
		Short:   "Add the runs of logs to the log book",
		PreRunE: f.check,
		RunE:    func(*cobra.Command, []string) error { return failed(f.run(env)) },
	}
	flags := cmd.Flags()
	flags.BoolVar(&f.dryRun, "dry-run", false, "tell what would be done, and write nothing")
	flags.StringVar(&f.rejects, "rejects", "", "write the rows that can't be used, each with the reason, to this CSV `FILE`")
	flags.BoolVar(&f.replace, "replace", false, "in a conflict, let the log's values take the place of the book's")
	flags.BoolVar(&f.keepBoth, "keep-both", false, "in a conflict, add the log's run beside the book's")
	f.readingFlags.register(cmd, ",\nand remembered beside the book")
	flags.StringVar(&f.car, "car", "", "the `NAME` of the car, for logs that name none")
	flags.BoolVar(&f.strict, "strict", false, "import nothing if any row can't be used")
	flags.BoolVar(&f.remembered, "remembered", false, "list the headers and the constants that are remembered, and import nothing")
	flags.StringArrayVar(&f.forget, "forget", nil, "forget a `HEADER` or a constant that is remembered; repeatable")
	f.bookFlag.register(cmd)
	return cmd
}

// check checks what can be checked before a file is opened.
func (f *importFlags) check(cmd *cobra.Command, files []string) error {
	f.files = files
	switch {
	case len(files) == 0 && !f.remembered && len(f.forget) == 0:
		return fmt.Errorf("no log was named: name the files to import, as in %s weekend.csv", cmd.CommandPath())
	case f.replace && f.keepBoth:
		return errors.New("--replace and --keep-both exclude each other: choose one")
	case cmd.Flags().Changed("car") && strings.TrimSpace(f.car) == "":
		return errors.New("--car: a car in the log book needs a name")
	}
	return readOnce(files)
}

func (f *importFlags) decision() logbook.Decision {
	switch {
	case f.replace:
		return logbook.Replace
	case f.keepBoth:
		return logbook.KeepBoth
	}
	return logbook.Undecided
}

func (f *importFlags) run(env *environment) error {
	book, err := f.book(env)
	if err != nil {
		return err
	}
	if err := f.spareInputs(book); err != nil {
		return err
	}
	for _, what := range f.forget {
		if err := book.Forget(what); err != nil {
			return withoutCall(err)
		}
	}
	if f.remembered || len(f.files) == 0 {
		return f.list(env, book)
	}
	logs, err := f.read(env, book)
	if err != nil {
		return err
	}
	// Where there is nobody to ask, the report tells of it.
	if asking := env.asker(); asking != nil && !f.dryRun {
		if logs, err = f.askAboutHeat(env, book, asking, logs); err != nil {
			return err
		}
		if err := env.confirm(asking, logs.ToAsk(), "Import it all the same?"); err != nil {
			return err
		}
	}
	if f.dryRun {
		err = logs.Preview(f.decision())
	} else {
		err = logs.Add(f.decision())
	}
	if err != nil {
		return env.bookError(book, err)
	}
	shown := report.Import{Import: logs, Book: book.Path, Rejects: f.rejects}
	if shown.RejectFiles, err = f.writeRejects(logs); err != nil {
		return fmt.Errorf("%w; the runs are in the log book, so import again with another --rejects", withoutCall(err))
	}
	if err := report.Imported(&shown).Text(env.out, report.Style{}.Layout); err != nil {
		return err
	}
	if n := len(logs.Conflicts); n > 0 {
		return undecided(n)
	}
	if !logs.AnyRun() {
		return errors.New("no usable run: nothing was imported")
	}
	return nil
}

// list lists what is remembered, each line as --forget takes it.
func (f *importFlags) list(env *environment, book logbook.Book) error {
	remembered, err := book.Remembered()
	if err != nil {
		return withoutCall(err)
	}
	return report.Remembered(remembered).Text(env.out, report.Style{}.Layout)
}

// askAboutHeat asks whether heat ended the runs whose peaks say so in words, and if it did reads
// the logs again with that.
func (f *importFlags) askAboutHeat(env *environment, book logbook.Book, asking *asker, logs *app.Import) (*app.Import, error) {
	cells := logs.HeatStops()
	if len(cells) == 0 {
		return logs, nil
	}
	for _, p := range cells {
		fmt.Fprintln(env.errOut, p)
	}
	sure, err := asking.yes("Did heat end these runs?", false)
	if err != nil || !sure {
		return logs, err
	}
	f.reading.HeatStops = true
	return f.read(env, book)
}

func undecided(n int) error {
	runs, disagree := "runs", "disagree"
	if n == 1 {
		runs, disagree = "run", "disagrees"
	}
	return fmt.Errorf("%d %s %s with what the log book or another row has, so nothing was changed: mend the log, "+
		"or decide with --replace (the log's values, but not between rows of one log) or --keep-both", n, runs, disagree)
}

func (f *importFlags) read(env *environment, book logbook.Book) (*app.Import, error) {
	var files []app.File
	for _, name := range f.files {
		files = append(files, env.file(name))
	}
	logs, err := env.app(book).ReadImport(files, app.ImportOptions{Options: f.options(), Car: f.car})
	if problem := new(domain.Problem); errors.As(err, problem) {
		err = problem.Worded(report.ByFlags)
	}
	if err != nil {
		return nil, withoutCall(err)
	}
	logs.Word(report.ByFlags)
	if problems := logs.Problems(); len(problems) > 0 && f.strict {
		return nil, errors.Join(env.print(app.Notes{LeftOut: problems}), errors.New("a row can't be used, and --strict was given: nothing was imported"))
	}
	return logs, nil
}

func (e *environment) bookError(book logbook.Book, err error) error {
	var rows *logbook.RowsError
	if errors.As(err, &rows) {
		return errors.Join(e.print(app.Notes{LeftOut: rows.Problems}), fmt.Errorf("%s: %w", book.Path, err))
	}
	return withoutCall(err)
}

// spareInputs makes sure that the rejects don't take the place of a log or of the book.
func (f *importFlags) spareInputs(book logbook.Book) error {
	if f.rejects == "" {
		return nil
	}
	to, err := os.Stat(f.rejects)
	if err != nil {
		return nil // there is no such file, or writing to it will say why not
	}
	for _, name := range append([]string{book.Path}, f.files...) {
		if info, err := os.Stat(name); err == nil && os.SameFile(info, to) {
			return usagef("--rejects %s: would write over what is read: name another file", f.rejects)
		}
	}
	return nil
}

// writeRejects writes the refused rows of what was imported, one file for each header, and
// returns the files' names.
func (f *importFlags) writeRejects(logs *app.Import) ([]string, error) {
	if f.rejects == "" || f.dryRun || len(logs.Conflicts) > 0 {
		return nil, nil
	}
	var names []string
	for _, rows := range logs.Rejects(f.rejects) {
		file, err := os.Create(rows.Name)
		if err == nil {
			err = errors.Join(rows.Write(file), file.Close())
		}
		if err != nil {
			return names, err
		}
		names = append(names, rows.Name)
	}
	return names, nil
}
