package app

import (
	"errors"
	"path/filepath"
	"slices"
	"strings"

	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/runlog"
)

// Notes are the problems that were met while logs were read, by what became of the rows.
type Notes struct {
	LeftOut     []run.Problem // rows that could not be used
	Implausible []run.Problem // what looks implausible and was used all the same
	CountedOnce []run.Problem // runs that stand in more than one log
	Lost        []run.Problem // cells that could not be used, of rows that were
	Noticed     []run.Problem // what was passed over, or read as something else than it says
}

// Of leaves out the problems of other cars' rows.
func (n Notes) Of(car string) Notes {
	return n.changed(func(of []run.Problem) []run.Problem {
		return slices.DeleteFunc(slices.Clone(of), func(p run.Problem) bool {
			return p.Car != "" && run.Fold(p.Car) != run.Fold(car)
		})
	})
}

// Worded returns the problems, each with its remedy in words.
func (n Notes) Worded(words func(run.Remedy) string) Notes {
	return n.changed(func(of []run.Problem) []run.Problem { return run.Worded(of, words) })
}

func (n Notes) changed(by func([]run.Problem) []run.Problem) Notes {
	return Notes{by(n.LeftOut), by(n.Implausible), by(n.CountedOnce), by(n.Lost), by(n.Noticed)}
}

// Logs are the runs of one log or of several, read as one.
type Logs struct {
	Runs  []run.Run
	Notes Notes
	// Names are the cars' names in alphabetical order, "" for runs that name none, and
	// ByCar their runs.
	Names []string
	ByCar map[string][]run.Run
	// Mark is the state of the log book that was read, "" of anything else: see
	// [logbook.Snapshot].
	Mark string
}

// Join joins logs. A run that stands in several of them is one run, as often as in the log
// that holds it most often: the same evidence read twice would make an answer look surer
// than it is.
func Join(logs ...*runlog.Log) *Logs {
	all := new(Logs)
	for _, log := range logs {
		all.Notes.LeftOut = append(all.Notes.LeftOut, log.Problems...)
		all.Notes.Implausible = append(all.Notes.Implausible, log.Warnings...)
		all.Notes.Lost = append(all.Notes.Lost, log.Lost...)
		all.Notes.Noticed = append(all.Notes.Noticed, log.Notices...)
	}
	if len(logs) == 1 {
		all.Runs = logs[0].Runs
	} else {
		all.union(logs)
	}
	all.Names, all.ByCar = analyze.Cars(all.Runs)
	return all
}

func (l *Logs) union(logs []*runlog.Log) {
	known := map[run.Run][]run.Position{}
	for _, log := range logs {
		here := map[run.Run]int{}
		for _, r := range log.Runs {
			key := r
			key.Position, key.Number = run.Position{}, 0
			here[key]++
			if n := here[key]; n <= len(known[key]) {
				l.Notes.CountedOnce = append(l.Notes.CountedOnce, run.Problem{Position: r.Position, What: "is the run of " + known[key][n-1].String()})
				continue
			}
			known[key] = append(known[key], r.Position)
			l.Runs = append(l.Runs, r)
		}
	}
}

// ReadBook reads the log book. One that does not exist has no runs.
func (a *App) ReadBook() (*Logs, error) {
	snapshot, err := a.Book.Snapshot(runlog.Options{})
	if err != nil {
		return nil, err
	}
	logs := Join(snapshot.Log)
	logs.Mark = snapshot.Mark
	return logs, nil
}

// Why no car could be chosen.
var (
	ErrNoUsableRun = errors.New("no usable run")
	ErrNoSuchCar   = errors.New("no run of such a car")
	ErrWhichCar    = errors.New("runs of several cars")
)

// Car is one car of the logs.
type Car struct {
	Name  string
	Runs  []run.Run
	Notes Notes // without those of other cars' rows
}

// Choose returns the car that was named, or the only one where none was. It fails with
// [ErrNoUsableRun], [ErrNoSuchCar] or [ErrWhichCar].
func (l *Logs) Choose(name string, named bool) (*Car, error) {
	known, found := analyze.CarNamed(name, l.Names)
	switch {
	case len(l.Names) == 0:
		return nil, ErrNoUsableRun
	case named && !found:
		return nil, ErrNoSuchCar
	case !named && len(l.Names) > 1:
		return nil, ErrWhichCar
	case !named:
		known = l.Names[0]
	}
	return &Car{known, l.ByCar[known], l.Notes.Of(known)}, nil
}

// WithoutFolders returns the car with the places of its runs under the names of their files
// alone: a report is passed on, and your folders are no concern of its reader. Names that
// would be the same stay whole.
func (c *Car) WithoutFolders() *Car {
	short := c.shortNames()
	runs := slices.Clone(c.Runs)
	for i := range runs {
		runs[i].File = short[runs[i].File]
	}
	notes := c.Notes.changed(func(problems []run.Problem) []run.Problem {
		problems = slices.Clone(problems)
		for i := range problems {
			p := &problems[i]
			p.File = short[p.File]
			for file, name := range short {
				p.What = strings.ReplaceAll(p.What, file+":", name+":") // as in "is the run of FILE:LINE"
			}
		}
		return problems
	})
	return &Car{c.Name, runs, notes}
}

func (c *Car) shortNames() map[string]string {
	short := map[string]string{}
	for i := range c.Runs {
		short[c.Runs[i].File] = filepath.Base(c.Runs[i].File)
	}
	for _, p := range slices.Concat(c.Notes.LeftOut, c.Notes.Implausible, c.Notes.CountedOnce, c.Notes.Lost, c.Notes.Noticed) {
		short[p.File] = filepath.Base(p.File)
	}
	short[""] = "" // what stands in no file
	like := map[string]int{}
	for _, name := range short {
		like[name]++
	}
	for file, name := range short {
		if like[name] > 1 {
			short[file] = file
		}
	}
	return short
}
