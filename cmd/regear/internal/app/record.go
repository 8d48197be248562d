package app

import (
	"errors"
	"time"

	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/entry"
)

// NewRun is a run of one car that is being logged.
type NewRun struct {
	Setup Setup
	Usual *entry.Draft // what rarely changes, as in the car's last run or the car file
	Draft *entry.Draft // what was entered so far

	app  *App
	book *Logs
}

// UsualCar returns the car of a run that is logged without one, "" if there is no such car:
// the book's only one or, of an empty book, the car file's only one.
func (a *App) UsualCar(book *Logs) string {
	if len(book.Names) == 1 {
		return book.Names[0]
	}
	file, err := a.Cars()
	if err != nil || len(book.Names) > 0 || file.Only() == nil {
		return ""
	}
	return file.Only().Name
}

// NewRun begins a run of a car. It fails with a [*CarFileError]; the run can then be logged
// all the same, as if the car file were empty.
func (a *App) NewRun(book *Logs, car string) (*NewRun, error) {
	setup, err := a.Setup(car)
	return &NewRun{Setup: setup, Usual: entry.Usual(book.Runs, car, setup.Car), Draft: new(entry.Draft), app: a, book: book}, err
}

// Enter takes what was entered in a field: see [entry.Draft.Enter]. The problems are what to
// ask about it, besides what [NewRun.Read] tells.
func (n *NewRun) Enter(f entry.Field, text string) ([]run.Problem, error) {
	if err := n.Draft.Enter(f, text, n.Setup.Car); err != nil {
		return nil, err
	}
	if problem, any := f.Problem(text, n.Setup.Car); any {
		return []run.Problem{problem}, nil
	}
	return nil, nil
}

// TakeUsual takes what usually stands in a field, where nothing was entered.
func (n *NewRun) TakeUsual(f entry.Field) { n.Draft.Take(f, n.Usual) }

// EndNow says that the run ended now, or at the first second after it that no known run has.
func (n *NewRun) EndNow() { n.Draft.SetEnd(n.app.Now(), n.book.Runs) }

// Read reads the run as a log of one row. Its problems are what looks implausible, for the
// driver to say that it is meant: each has the column that it is about. It fails with a
// [run.Problem] where a log would be refused.
func (n *NewRun) Read() (*runlog.Log, []run.Problem, error) {
	log, err := n.Draft.Read()
	if err != nil {
		return nil, nil, err
	}
	problems := log.Warnings
	// It would be the car's last run, from which the next answers go on, until its day comes.
	const otherClocks = 24 * time.Hour // phones and computers know of other time zones
	if !log.Runs[0].When.Before(n.app.Now().Add(otherClocks)) {
		problems = append(problems, run.Problem{Column: "date", What: "lies in the future", Do: "check day, month and year"})
	}
	return log, problems, nil
}

// ErrSavedBefore reports that the book holds just this run already.
var ErrSavedBefore = errors.New("the log book holds this run already")

// ConflictError reports that the book holds a run of the same car and moment with other
// values. Nothing was changed.
type ConflictError struct{ Kept run.Run }

func (e *ConflictError) Error() string {
	return e.Kept.Position.String() + ": holds a run of " + e.Kept.Car + " at that moment with other values"
}

// Saved is a run that was added to the book.
type Saved struct {
	Run  *run.Run
	Runs int // that the book holds now
}

// Save adds a run, as [NewRun.Read] read it, to the book as it is by now, and SaveTo only if
// the book is as it was read: else it fails with [logbook.ErrStale]. Both fail with
// [ErrSavedBefore], a [*ConflictError], or as [logbook.Book.Add] does.
func (n *NewRun) Save(log *runlog.Log) (*Saved, error) { return n.save(log, n.app.Book.Add) }

// SaveTo: see [NewRun.Save].
func (n *NewRun) SaveTo(log *runlog.Log) (*Saved, error) {
	return n.save(log, func(logs []logbook.Contents, decide logbook.Decision) (logbook.Merged, error) {
		return n.app.Book.AddTo(n.book.Mark, logs, decide)
	})
}

func (n *NewRun) save(log *runlog.Log, add func([]logbook.Contents, logbook.Decision) (logbook.Merged, error)) (*Saved, error) {
	merged, err := add([]logbook.Contents{logbook.FromLog(log)}, logbook.Undecided)
	switch {
	case err != nil:
		return nil, err
	case len(merged.Conflicts) > 0:
		return nil, &ConflictError{*merged.Conflicts[0].Kept.Run}
	case !merged.Changed:
		return nil, ErrSavedBefore
	}
	return &Saved{&log.Runs[0], len(merged.Entries)}, nil
}
