package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"regear/analyze"
	"regear/analyze/logbook"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/report"
)

// logOptions is what `regear log` was asked.
type logOptions struct {
	bookFlag
	// cells are the run's as they would stand in a log, by their column.
	cells map[string]string
}

// runFlag is a flag, a column, and a question at once.
type runFlag struct {
	name, kind, column, usage string
	needed                    bool
	fromLast                  bool // taken from the car's last run where it isn't given
}

// runFlags are in the order in which a driver thinks of them after a run.
var runFlags = []runFlag{
	{"car", "NAME", "car", "which car", true, true},
	{"date", "DATE", "date", "when the run ended, as in 2026-05-16T15:04 or 2026-05-16", false, false},
	{"pinion", "N", "pinion_teeth", "teeth of the pinion", true, true},
	{"spur", "N", "spur_teeth", "teeth of the spur", true, true},
	{"internal-ratio", "N", "internal_ratio", "reduction behind the spur, 1 if there is none", true, true},
	{"tire", "LENGTH", "tire_diameter_mm", "tire diameter, as in 118mm or 4.65in", true, true},
	{"minutes", "N", "run_minutes", "how long the car was driven, as in 12.5 or 12:30", true, false},
	{"ambient", "TEMP", "ambient_c", "air temperature, as in 24C or 75F", true, false},
	{"motor-peak", "TEMP", "motor_peak_c", "the motor's peak, as in 78C or 172F; leave out what was not measured", false, false},
	{"esc-peak", "TEMP", "esc_peak_c", "the ESC's peak", false, false},
	{"battery-peak", "TEMP", "battery_peak_c", "the battery's peak", false, false},
	{"motor-start", "TEMP", "motor_start_c", "the motor before the run, if it was still warm", false, false},
	{"esc-start", "TEMP", "esc_start_c", "the ESC before the run, if it was still warm", false, false},
	{"battery-start", "TEMP", "battery_start_c", "the battery before the run, if it was still warm", false, false},
	{"cells", "N", "cells", "battery cells in series", false, true},
	{"motor", "TEXT", "motor", "which motor", false, true},
	{"surface", "TEXT", "surface", "what the car ran on", false, true},
	{"cooling", "TEXT", "cooling", "fans and the like", false, true},
	{"note", "TEXT", "note", "anything worth knowing", false, false},
}

func newLogCommand(env *environment) *cobra.Command {
	opts := logOptions{cells: map[string]string{}}
	cmd := &cobra.Command{
		Use:   "log",
		Short: "Add one run to the log book",
		Long: `log adds one run to the log book. What you don't give and what rarely changes (car,
gearing, tire, cells, motor, surface, cooling) is as in the car's last run, and the
date is now. On a terminal, what is needed and was not given is asked for.`,
		Example: `  regear log --pinion 16 --minutes 12:30 --ambient 24C --motor-peak 78C --battery-peak 41C
  regear log --car heron --date 2026-05-16 --minutes 8 --ambient 75F --motor-peak 165F`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return failed(runLog(env, &opts)) },
	}
	for _, f := range runFlags {
		cmd.Flags().Var(&cellFlag{f, opts.cells}, f.name, f.usage)
	}
	for _, mark := range []struct{ name, column, usage string }{
		{"stopped-by-heat", "stopped_by_heat", "heat cut the run short"},
		{"skip", "skip", "keep the run in the book, and out of fits"},
	} {
		flag := cmd.Flags().VarPF(&cellFlag{runFlag{column: mark.column, kind: "bool"}, opts.cells}, mark.name, "", mark.usage)
		flag.NoOptDefVal = "yes"
	}
	opts.bookFlag.register(cmd)
	return cmd
}

// cellFlag puts what it is given into a cell.
type cellFlag struct {
	runFlag
	cells map[string]string
}

func (f *cellFlag) String() string { return "" }
func (f *cellFlag) Type() string   { return f.kind }

func (f *cellFlag) Set(text string) error {
	cell, err := f.cell(text)
	if err == nil {
		f.cells[f.column] = cell
	}
	return err
}

func runLog(env *environment, opts *logOptions) error {
	book, err := opts.book(env)
	if err != nil {
		return err
	}
	known, err := book.Read()
	switch {
	case errors.Is(err, fs.ErrNotExist):
		known = &runlog.Log{}
	case err != nil:
		return withoutCall(err)
	}
	asking := env.asker()
	if err := opts.complete(known.Runs, asking); err != nil {
		return err
	}
	one, err := opts.run()
	if err != nil {
		return err
	}
	if err := env.print(report.Noticed{Doubtful: one.Warnings}); err != nil {
		return err
	}
	merged, err := book.Add([]logbook.Contents{logbook.FromLog(one)}, logbook.Undecided)
	var rows *logbook.RowsError
	switch {
	case errors.As(err, &rows):
		return errors.Join(env.print(report.Noticed{LeftOut: rows.Problems}), fmt.Errorf("%s: %w", book.Path, err))
	case err != nil:
		return withoutCall(err)
	case len(merged.Conflicts) > 0:
		return fmt.Errorf("%s: holds a run of %s at that moment with other values: give another --date, or mend the book",
			merged.Conflicts[0].Kept.Position, one.Runs[0].Car)
	case !merged.Changed:
		return fmt.Errorf("%s: holds this run already; if it is another one, give --date with a time of day", book.Path)
	}
	return report.Logged(env.out, book.Path, &one.Runs[0], len(merged.Entries))
}

// run reads the cells as a log of one row: what an import refuses or doubts is refused
// or doubted here.
func (o *logOptions) run() (*runlog.Log, error) {
	var header, row []string
	for _, column := range runlog.WrittenColumns() {
		header, row = append(header, column), append(row, o.cells[column])
	}
	given := [][]string{header, row}
	next := func() ([]string, error) {
		if len(given) == 0 {
			return nil, io.EOF
		}
		cells := given[0]
		given = given[1:]
		return cells, nil
	}
	log, err := runlog.ReadSheet("this run", runlog.Sheet{Next: next}, runlog.Options{KeepCells: true})
	if err != nil {
		return nil, err
	}
	if len(log.Problems) > 0 {
		p := log.Problems[0]
		p.Line = 0
		return nil, p
	}
	return log, nil
}

// complete fills in what was not given: from the car's last run, from the clock, and by
// asking, if there is somebody to ask.
func (o *logOptions) complete(known []runlog.Run, asking *asker) error {
	var missing []string
	for _, f := range runFlags {
		if o.cells[f.column] != "" {
			continue
		}
		instead := o.instead(f, known)
		_, given := o.cells[f.column]
		switch {
		case given:
		case asking != nil && (f.needed || strings.HasSuffix(f.name, "-peak") || f.column == "note"):
			cell, err := asking.ask(f, instead)
			if err != nil {
				return err
			}
			o.cells[f.column] = cell
		case instead == "" && f.needed:
			missing = append(missing, "--"+f.name)
		default:
			o.cells[f.column] = instead
		}
	}
	if len(missing) > 0 {
		return usagef("a run needs %s", strings.Join(missing, ", "))
	}
	if o.cells["motor_peak_c"]+o.cells["esc_peak_c"]+o.cells["battery_peak_c"] == "" {
		return usagef("a run needs a peak: --motor-peak, --esc-peak or --battery-peak")
	}
	return nil
}

// instead returns what stands for a cell that was not given, "" if nothing does.
func (o *logOptions) instead(f runFlag, known []runlog.Run) string {
	switch {
	case f.column == "date":
		return freeMoment(time.Now(), known).Format("2006-01-02T15:04:05")
	case f.column == "car":
		if names, _ := analyze.Cars(known); len(names) == 1 {
			return names[0]
		}
		return ""
	case !f.fromLast:
		return ""
	}
	var last *runlog.Run
	for i := range known {
		if r := &known[i]; r.Car == o.cells["car"] && (last == nil || !r.When.Before(last.When)) {
			last = r
		}
	}
	if last == nil {
		return ""
	}
	cells := last.Written()
	for i, column := range runlog.WrittenColumns() {
		if column == f.column {
			return cells[i]
		}
	}
	return ""
}

// freeMoment returns now on the log's clock, to the second, or the first second after it
// at which the book holds no run: two runs logged in one breath are two runs.
func freeMoment(now time.Time, known []runlog.Run) time.Time {
	moment := time.Date(now.Year(), now.Month(), now.Day(), now.Hour(), now.Minute(), now.Second(), 0, time.UTC)
	for slices.ContainsFunc(known, func(r runlog.Run) bool { return r.When.Equal(moment) }) {
		moment = moment.Add(time.Second)
	}
	return moment
}

// asker asks on a terminal.
type asker struct {
	in  *bufio.Scanner
	out io.Writer
}

// asker returns who is to be asked, nil if the program does not run on a terminal.
func (e *environment) asker() *asker {
	in, ok := e.in.(*os.File)
	if !ok || !term.IsTerminal(int(in.Fd())) {
		return nil
	}
	return &asker{bufio.NewScanner(in), e.errOut}
}

// ask asks for one cell until the answer can be used. A blank answer takes the default.
func (a *asker) ask(f runFlag, instead string) (string, error) {
	for {
		question := f.usage
		if instead != "" {
			question += " [" + instead + "]"
		}
		fmt.Fprintf(a.out, "%s: ", question)
		if !a.in.Scan() {
			return "", errors.Join(a.in.Err(), errors.New("the answers ended before the run was complete: nothing was logged"))
		}
		answer := strings.TrimSpace(a.in.Text())
		if answer == "" && (instead != "" || !f.needed) {
			return instead, nil
		}
		cell, err := f.cell(answer)
		if err == nil {
			return cell, nil
		}
		fmt.Fprintf(a.out, "  %q: %v\n", answer, err)
	}
}
