package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"regear/analyze"
	"regear/analyze/nearest"
	domain "regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/report"
)

// logFlags say which logs to read and how, and which car to take from them.
type logFlags struct {
	bookFlag
	files   []string
	columns columnMap
	strict  bool
	car     string
	anyCar  bool   // no car was named
	brief   bool   // the answer tells itself, in short, what was noticed in the logs
	source  string // what was read, for messages
}

func (f *logFlags) register(cmd *cobra.Command) {
	f.columns = columnMap{}
	flags := cmd.Flags()
	flags.StringArrayVar(&f.files, "log", nil, "read this run log, a CSV `FILE`, instead of the log book; repeatable,\n- is standard input")
	f.bookFlag.register(cmd)
	flags.Var(f.columns, "column", "read a header of your own as a column, as in 'Temp mot=motor_peak_f'; repeatable")
	flags.BoolVar(&f.strict, "strict", false, "give no answer if any row of a log can't be used")
	flags.StringVar(&f.car, "car", "", "which car, by its `NAME` in the log (default: the only one in the log)")
}

// settle checks what can be checked before a file is opened.
func (f *logFlags) settle(cmd *cobra.Command) error {
	f.anyCar = !cmd.Flags().Changed("car")
	if len(f.files) > 0 && cmd.Flags().Changed("book") {
		return errors.New("--log and --book exclude each other: a log is read instead of the log book")
	}
	return readOnce(f.files)
}

// readOnce refuses standard input among files more than once.
func readOnce(files []string) error {
	stdin := 0
	for _, name := range files {
		if name == "-" {
			stdin++
		}
	}
	if stdin > 1 {
		return errors.New("standard input (-) can be read only once")
	}
	return nil
}

// names returns what is read: the logs that were named, or else the log book.
func (f *logFlags) names(env *environment) ([]string, error) {
	if len(f.files) > 0 {
		return f.files, nil
	}
	book, err := f.book(env)
	return []string{book.Path}, err
}

// fitCar reads the logs and fits the car that was asked for.
func (e *environment) fitCar(f *logFlags) (*analyze.Car, report.Noticed, error) {
	runs, noticed, err := e.runsOfCar(f)
	if err != nil {
		return nil, noticed, err
	}
	car, err := f.fit(runs)
	return car, noticed, err
}

// fit fits the runs that were read of one car.
func (f *logFlags) fit(runs []domain.Run) (*analyze.Car, error) {
	car, err := analyze.FitCar(runs)
	if errors.Is(err, analyze.ErrNoRuns) {
		err = errors.New(report.NoUsableRun(f.source + ": no run"))
	}
	return car, err
}

// runsOfCar reads the logs and returns the runs of the car that was asked for. What it
// noticed in the logs of that car goes to standard error at once, as it may explain why
// there is no answer. A short answer tells of it itself.
func (e *environment) runsOfCar(f *logFlags) ([]domain.Run, report.Noticed, error) {
	runs, noticed, err := f.read(e)
	if err == nil {
		runs, err = f.runsOfCar(runs)
	}
	if err == nil {
		noticed = noticed.Of(runs[0].Car)
	}
	if f.brief && err == nil {
		return runs, noticed, nil
	}
	if _, printErr := io.WriteString(e.errOut, noticed.Text()); err == nil {
		err = printErr
	}
	return runs, noticed, err
}

// read reads all logs as one. What it noticed is returned with an error too.
func (f *logFlags) read(env *environment) ([]domain.Run, report.Noticed, error) {
	var noticed report.Noticed
	var all [][]domain.Run
	names, err := f.names(env)
	if err != nil {
		return nil, noticed, err
	}
	f.source = strings.Join(names, ", ")
	for _, name := range names {
		log, err := f.readFile(env, name)
		if err != nil {
			return nil, noticed, err
		}
		noticed.LeftOut = append(noticed.LeftOut, domain.Worded(log.Problems, report.ByFlags)...)
		noticed.Doubtful = append(noticed.Doubtful, domain.Worded(log.Warnings, report.ByFlags)...)
		all = append(all, log.Runs)
	}
	runs, again := union(all)
	noticed.CountedOnce = again
	switch {
	case f.strict && len(noticed.LeftOut) > 0:
		return nil, noticed, errors.New("a row can't be used, and --strict was given")
	case len(runs) == 0:
		return nil, noticed, fmt.Errorf("%s: no usable run", f.source)
	}
	return runs, noticed, nil
}

func (f *logFlags) readFile(env *environment, name string) (*runlog.Log, error) {
	opts := runlog.Options{Columns: f.columns}
	if name == "-" {
		return runlog.Read(name, env.in, opts)
	}
	file, err := os.Open(name)
	if len(f.files) == 0 && errors.Is(err, fs.ErrNotExist) {
		return nil, noBook(name)
	}
	if err != nil {
		return nil, withoutCall(err)
	}
	defer file.Close()
	return runlog.Read(name, file, opts)
}

// withoutCall leaves the system call's name out of an error about a file.
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

// union joins logs. A run that stands in several of them is one run, as often as in
// the log that holds it most often: the same evidence read twice would make an
// answer look surer than it is.
func union(logs [][]domain.Run) (runs []domain.Run, again []domain.Problem) {
	if len(logs) == 1 {
		return logs[0], nil
	}
	known := map[domain.Run][]domain.Position{}
	for _, log := range logs {
		here := map[domain.Run]int{}
		for _, r := range log {
			key := r
			key.Position = domain.Position{}
			here[key]++
			if n := here[key]; n <= len(known[key]) {
				again = append(again, domain.Problem{Position: r.Position, What: "is the run of " + known[key][n-1].String()})
				continue
			}
			known[key] = append(known[key], r.Position)
			runs = append(runs, r)
		}
	}
	return runs, again
}

// runsOfCar returns the runs of the car that was named, or of the only one.
func (f *logFlags) runsOfCar(runs []domain.Run) ([]domain.Run, error) {
	names, byCar := analyze.Cars(runs)
	if f.anyCar {
		if len(names) == 1 {
			return runs, nil
		}
		return nil, usagef("the log holds several cars; choose one with --car:\n%s", carList(names, byCar))
	}
	if name, ok := analyze.CarNamed(f.car, names); ok {
		return byCar[name], nil
	}
	return nil, usagef("the log holds no car %q%s; it holds:\n%s", f.car, nearest.DidYouMean(f.car, names), carList(names, byCar))
}

func carList(names []string, byCar map[string][]domain.Run) string {
	lines := make([]string, len(names))
	for i, name := range names {
		lines[i] = "  " + report.CarLine(name, byCar[name])
	}
	return strings.Join(lines, "\n")
}

// columnMap is the flag --column: own headers, each with the column it is read as.
type columnMap map[string]string

func (m columnMap) String() string { return "" }
func (m columnMap) Type() string   { return "HEADER=COLUMN" }

func (m columnMap) Set(mapping string) error {
	header, column, err := runlog.ParseColumn(mapping)
	if err != nil {
		return err
	}
	m[header] = column
	return nil
}
