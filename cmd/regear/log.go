package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"regear/advise/carfile"
	"regear/analyze/logbook"
	domain "regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/entry"
	"regear/cmd/regear/internal/report"
)

// logOptions is what `regear log` was asked.
type logOptions struct {
	bookFlag
	// given holds what was said of the run, by the names of its fields.
	given map[string]string
	// doubts are about what was said and does not show in the cells.
	doubts []domain.Problem
}

func newLogCommand(env *environment) *cobra.Command {
	opts := logOptions{given: map[string]string{}}
	cmd := &cobra.Command{
		Use:   "log",
		Short: "Add one run to the log book",
		Long: `log adds one run to the log book. What you don't give and what rarely changes (car,
gearing, tire, cells, motor, surface, cooling) is as in the car's last run; for the
first run of a car, spur, internal ratio and cells are as in the car file. The date is
now. On a terminal log asks for what is needed and was not given, and whether what looks
doubtful is meant.`,
		Example: `  regear log --pinion 16 --minutes 12:30 --ambient 24C --motor-peak 78C --battery-peak 41C
  regear log --car heron --date 2026-05-16 --minutes 8 --ambient 75F --motor-peak 165F`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return failed(runLog(env, &opts)) },
	}
	for _, f := range entry.Fields {
		flag := cmd.Flags().VarPF(&fieldFlag{f, opts.given}, f.Name, "", f.Usage)
		if f.IsMark() {
			flag.NoOptDefVal = "yes"
		}
	}
	opts.bookFlag.register(cmd)
	return cmd
}

// fieldFlag is a field of a run as a flag. What it is given is kept as it is: what a tire's
// name stands for shows only once the car is known.
type fieldFlag struct {
	entry.Field
	given map[string]string
}

func (f *fieldFlag) String() string { return "" }
func (f *fieldFlag) Type() string   { return f.Kind() }

func (f *fieldFlag) Set(text string) error {
	err := f.Check(text)
	if err == nil {
		f.given[f.Name] = text
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
	cells, err := opts.complete(env, known.Runs, asking)
	if err != nil {
		return err
	}
	one, err := opts.read(env, cells, asking)
	if err != nil {
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

// read reads the run's cells. What is doubtful is told, and on a terminal asked about.
func (o *logOptions) read(env *environment, cells entry.Cells, asking *asker) (*runlog.Log, error) {
	one, err := cells.Read()
	if err != nil {
		return nil, err
	}
	doubts := slices.Concat(o.doubts, one.Warnings)
	if at := slices.IndexFunc(doubts, func(p domain.Problem) bool { return p.Remedy.Kind == domain.MarkHeatStop }); at >= 0 {
		stopped, err := asking.yes("The note reads like a heat stop. Did heat end this run?", false)
		if err != nil {
			return nil, err
		}
		if stopped {
			cells["stopped_by_heat"] = "yes"
			return o.read(env, cells, asking)
		}
		doubts[at].Do = "if heat ended this run, add --stopped-by-heat"
		if asking != nil {
			doubts = slices.Delete(doubts, at, at+1)
		}
	}
	for i := range doubts {
		o.asTyped(&doubts[i])
	}
	return one, env.confirm(asking, doubts, "Log it all the same?")
}

// asTyped puts what was typed, and where, in place of the cell that a problem is about.
func (o *logOptions) asTyped(p *domain.Problem) {
	p.Position = domain.Position{File: "this run"}
	f, known := entry.ByColumn(p.Column)
	if !known {
		return
	}
	p.File, p.Column = "--"+f.Name, ""
	if typed := o.given[f.Name]; typed != "" {
		p.Value = typed
	}
}

// complete returns the run's cells. What was not given is filled in from the car's last
// run or the car file, from the clock, and by asking, if there is somebody to ask.
func (o *logOptions) complete(env *environment, known []domain.Run, asking *asker) (entry.Cells, error) {
	file, err := env.carFile()
	if err != nil {
		return nil, err
	}
	cells := entry.Cells{}
	instead := entry.Cells{"car": entry.CarOf(known, file), "date": entry.FreeMoment(env.now(), known)}
	var own *carfile.Car
	for _, f := range entry.Fields {
		if cells[f.Column], err = o.cell(f, own, instead[f.Column], asking); err != nil {
			return nil, err
		}
		if f.Column != "car" {
			continue
		}
		// The car is the first of the fields, as the others' defaults are the car's.
		if own, err = env.ownCar(cells["car"]); err != nil {
			return nil, err
		}
		maps.Copy(instead, entry.Defaults(known, cells["car"], own))
	}
	var missing []string
	for _, f := range cells.Missing() {
		missing = append(missing, "--"+f.Name)
	}
	switch {
	case len(missing) > 0:
		return nil, usagef("a run needs %s", strings.Join(missing, ", "))
	case !cells.HasPeak():
		return nil, usagef("a run needs a peak: --motor-peak, --esc-peak or --battery-peak")
	}
	return cells, nil
}

// cell returns the cell of one field. own is what the car file says of the car, instead
// what stands there if nobody says otherwise, "" if nothing does.
func (o *logOptions) cell(f entry.Field, own *carfile.Car, instead string, asking *asker) (string, error) {
	text, given := o.given[f.Name]
	switch {
	case given:
		cell, err := f.Cell(text, own)
		if err != nil {
			err = wrongFlag(f.Name, text, err)
		}
		if doubt, any := f.Doubt(text, own); any {
			o.doubts = append(o.doubts, doubt)
		}
		return cell, err
	case asking != nil && (f.Needed || f.IsPeak() || f.Column == "note"):
		answer, cell, err := asking.ask(f, own, instead)
		o.given[f.Name] = answer
		return cell, err
	}
	return instead, nil
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

// yes asks a question that takes yes or no, and takes a blank answer for no. Where there is
// nobody to ask, the answer is otherwise.
func (a *asker) yes(question string, otherwise bool) (bool, error) {
	if a == nil {
		return otherwise, nil
	}
	fmt.Fprintf(a.out, "%s yes or no [no]: ", question)
	if !a.in.Scan() {
		return false, a.in.Err()
	}
	return isYes(a.in.Text()), nil
}

func isYes(answer string) bool {
	answer = strings.ToLower(strings.TrimSpace(answer))
	return answer == "yes" || answer == "y"
}

// confirm tells what is doubtful, and on a terminal asks whether to go on. It fails where
// the answer is no.
func (e *environment) confirm(asking *asker, doubts []domain.Problem, question string) error {
	if len(doubts) == 0 {
		return nil
	}
	for _, d := range doubts {
		fmt.Fprintln(e.errOut, d)
	}
	sure, err := asking.yes(question, true)
	if err == nil && !sure {
		err = errors.New("nothing was done")
	}
	return err
}

// ask asks for one cell until the answer can be used, and returns the answer too. A blank
// answer takes the default.
func (a *asker) ask(f entry.Field, own *carfile.Car, instead string) (answer, cell string, err error) {
	for {
		question := f.Usage
		if instead != "" {
			question += " [" + instead + "]"
		}
		fmt.Fprintf(a.out, "%s: ", question)
		if !a.in.Scan() {
			return "", "", errors.Join(a.in.Err(), errors.New("the answers ended before the run was complete: nothing was logged"))
		}
		answer = strings.TrimSpace(a.in.Text())
		if answer == "" && (instead != "" || !f.Needed) {
			return "", instead, nil
		}
		if cell, err = f.Cell(answer, own); err != nil {
			fmt.Fprintf(a.out, "  %q: %v\n", answer, err)
			continue
		}
		doubt, any := f.Doubt(answer, own)
		if !any {
			return answer, cell, nil
		}
		meant, err := a.yes(fmt.Sprintf("  %q %s: %s. Take it all the same?", answer, doubt.What, doubt.Do), true)
		if meant || err != nil {
			return answer, cell, err
		}
	}
}
