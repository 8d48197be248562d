package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"regear/analyze/logbook"
	domain "regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// importOptions is what `regear import` was asked.
type importOptions struct {
	bookFlag
	files             []string
	columns           columnMap
	order             *ask.Choice[runlog.DateOrder]
	car               string
	dryRun, strict    bool
	replace, keepBoth bool
	rejects           string
}

func newImportCommand(env *environment) *cobra.Command {
	var opts importOptions
	cmd := &cobra.Command{
		Use:   "import FILE...",
		Short: "Add the runs of logs to the log book",
		Long: `import adds the runs of logs, CSV files or .xlsx sheets, to the log book. The book is one
CSV file with the runs of all your cars; advise, fit and plot read it if you name no
log. A FILE of - is standard input.

The same run is added once, however often you import it. A run is known by its car
and its moment; where a log gives the day alone, by its car, day, gearing, tire, air,
minutes and readings. A run that the book has with other values is a conflict: import
shows both and changes nothing, until --replace or --keep-both decides. A blank cell
contradicts nothing, and a blank in the book is filled from the log.

Import adds everything or nothing. It names the rows that can't be used, and --rejects
writes them to a file: mend them there and import that file. On a terminal it asks
whether a tire that has the size of a rim is meant.`,
		Example: `  regear import weekend.csv
  regear import spring.csv summer.xlsx --rejects mend.csv
  regear import club.csv --date-order day-first --column 'Temp mot=motor_peak_f'
  regear import weekend.csv --dry-run`,
		RunE: func(cmd *cobra.Command, files []string) error {
			opts.files = files
			if err := opts.settle(cmd); err != nil {
				return err
			}
			return failed(runImport(env, &opts))
		},
	}
	opts.columns = columnMap{}
	opts.order = ask.NewChoice([]string{runlog.OrderOfLog.String(), runlog.DayFirst.String(), runlog.MonthFirst.String()},
		runlog.OrderOfLog, runlog.DayFirst, runlog.MonthFirst)
	flags := cmd.Flags()
	flags.BoolVar(&opts.dryRun, "dry-run", false, "tell what would be done, and write nothing")
	flags.StringVar(&opts.rejects, "rejects", "", "write the rows that can't be used, each with the reason, to this CSV `FILE`")
	flags.BoolVar(&opts.replace, "replace", false, "in a conflict, let the log's values take the place of the book's")
	flags.BoolVar(&opts.keepBoth, "keep-both", false, "in a conflict, add the log's run beside the book's")
	flags.Var(opts.order, "date-order", "how to read dates such as 03/04/2026 where the log's\ndates fit both orders")
	flags.Var(opts.columns, "column", "read a header of your own as a column, as in 'Temp mot=motor_peak_f'; repeatable,\nand remembered beside the book")
	flags.StringVar(&opts.car, "car", "", "the `NAME` of the car, for logs that name none")
	flags.BoolVar(&opts.strict, "strict", false, "import nothing if any row can't be used")
	opts.bookFlag.register(cmd)
	return cmd
}

// settle checks what can be checked before a file is opened.
func (o *importOptions) settle(cmd *cobra.Command) error {
	switch {
	case len(o.files) == 0:
		return fmt.Errorf("no log was named: name the files to import, as in %s weekend.csv", cmd.CommandPath())
	case o.replace && o.keepBoth:
		return errors.New("--replace and --keep-both exclude each other: choose one")
	case cmd.Flags().Changed("car") && strings.TrimSpace(o.car) == "":
		return errors.New("--car: a car in the log book needs a name")
	}
	return readOnce(o.files)
}

func (o *importOptions) decision() logbook.Decision {
	switch {
	case o.replace:
		return logbook.Replace
	case o.keepBoth:
		return logbook.KeepBoth
	}
	return logbook.Undecided
}

func runImport(env *environment, opts *importOptions) error {
	book, err := opts.book(env)
	if err != nil {
		return err
	}
	if err := opts.spareInputs(book); err != nil {
		return err
	}
	logs, err := opts.read(env, book)
	if err != nil {
		return err
	}
	// Where there is nobody to ask, the report tells of it.
	if asking := env.asker(); asking != nil && !opts.dryRun {
		if err := env.confirm(asking, report.ToAsk(logs), "Import it all the same?"); err != nil {
			return err
		}
	}
	imported := report.Import{Book: book.Path, Logs: logs, DryRun: opts.dryRun, Rejects: opts.rejects}
	if err := opts.carryOut(book, &imported); err != nil {
		var rows *logbook.RowsError
		if errors.As(err, &rows) {
			err = errors.Join(env.print(report.Noticed{LeftOut: rows.Problems}), fmt.Errorf("%s: %w", book.Path, err))
		}
		return withoutCall(err)
	}
	if err := report.ImportText(env.out, &imported); err != nil {
		return err
	}
	if n := len(imported.Conflicts); n > 0 {
		return report.Undecided(n)
	}
	return report.AnyRun(logs)
}

// print writes what was noticed in a log to standard error.
func (e *environment) print(n report.Noticed) error {
	_, err := io.WriteString(e.errOut, n.Text())
	return err
}

// notice adds what is doubtful about the values of flags to what was noticed in the logs,
// and writes what is new of it to standard error.
func (e *environment) notice(n *report.Noticed, doubts []domain.Problem) error {
	var told report.Noticed
	for _, d := range doubts {
		d.File = "--" + d.File
		if !slices.Contains(n.Doubtful, d) {
			told.Doubtful = append(told.Doubtful, d)
		}
	}
	n.Doubtful = append(n.Doubtful, told.Doubtful...)
	return e.print(told)
}

// read reads all logs, and fails if one can't be read as a whole.
func (o *importOptions) read(env *environment, book logbook.Book) ([]report.ImportedLog, error) {
	remembered, err := book.Columns()
	if err != nil {
		return nil, withoutCall(err)
	}
	readOpts := runlog.Options{Columns: logbook.WithColumns(remembered, o.columns), DateOrder: o.order.Value}
	var logs []report.ImportedLog
	problems := 0
	for _, name := range o.files {
		read, err := env.readLogs(name, readOpts)
		if err != nil {
			return nil, err
		}
		for _, log := range read {
			if err := logbook.NameCar(log, o.car); err != nil {
				return nil, addFlag(err)
			}
			log.Problems, log.Warnings = domain.Worded(log.Problems, report.ByFlags), domain.Worded(log.Warnings, report.ByFlags)
			contents := logbook.FromLog(log)
			problems += len(log.Problems)
			logs = append(logs, report.ImportedLog{Log: log, Contents: contents})
			log.Cells = nil // the contents have what is needed of them
		}
	}
	if problems > 0 && o.strict {
		for _, l := range logs {
			if err := env.print(report.Noticed{LeftOut: l.Problems}); err != nil {
				return nil, err
			}
		}
		return nil, errors.New("a row can't be used, and --strict was given: nothing was imported")
	}
	return logs, nil
}

// readLogs reads the logs of one file.
func (e *environment) readLogs(name string, opts runlog.Options) ([]*runlog.Log, error) {
	if name == "-" {
		return logbook.ReadLogs(name, e.in, opts)
	}
	file, err := os.Open(name)
	if err != nil {
		return nil, withoutCall(err)
	}
	defer file.Close()
	progress := e.watch(file)
	defer progress.done()
	return logbook.ReadLogs(name, progress, opts)
}

// addFlag says which flag names the car of a log that doesn't.
func addFlag(err error) error {
	var nameless domain.Problem
	if errors.As(err, &nameless) {
		return nameless.Worded(report.ByFlags)
	}
	return err
}

// spareInputs makes sure that the rejects don't take the place of a log or of the book.
func (o *importOptions) spareInputs(book logbook.Book) error {
	if o.rejects == "" {
		return nil
	}
	to, err := os.Stat(o.rejects)
	if err != nil {
		return nil // there is no such file, or writing to it will say why not
	}
	for _, name := range append([]string{book.Path}, o.files...) {
		if info, err := os.Stat(name); err == nil && os.SameFile(info, to) {
			return usagef("--rejects %s: would write over what is read: name another file", o.rejects)
		}
	}
	return nil
}

// carryOut merges the logs into the book, or tells what that would do.
func (o *importOptions) carryOut(book logbook.Book, to *report.Import) (err error) {
	contents := report.Contents(to.Logs)
	if o.dryRun {
		to.Merged, err = book.Preview(contents, o.decision())
		return err
	}
	to.Merged, err = book.Add(contents, o.decision())
	if err != nil || len(to.Conflicts) > 0 {
		return err
	}
	if len(o.columns) > 0 {
		if err := book.Remember(o.columns); err != nil {
			return err
		}
	}
	to.RejectFiles, err = o.writeRejects(to.Logs)
	if err != nil {
		return fmt.Errorf("%w; the runs are in the log book, so import again with another --rejects", err)
	}
	return nil
}

// writeRejects writes the refused rows of all logs, one file for each header, and
// returns the files' names.
func (o *importOptions) writeRejects(logs []report.ImportedLog) ([]string, error) {
	if o.rejects == "" {
		return nil, nil
	}
	names, tables := report.Rejects(logs, o.rejects)
	for i, table := range tables {
		if err := writeRejectTable(names[i], table); err != nil {
			return names[:i], withoutCall(err)
		}
	}
	return names, nil
}

func writeRejectTable(name string, table logbook.RejectTable) error {
	file, err := os.Create(name)
	if err != nil {
		return err
	}
	return errors.Join(table.Write(file), file.Close())
}
