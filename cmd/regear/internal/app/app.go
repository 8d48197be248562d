// Package app is what a driver does with run logs: read them as one, ask for an answer, look
// back, keep a report, log a run, import logs. The command line and the page both stand on
// it: a command or a handler parses what is asked, calls one of these, and shows what comes
// back.
//
// It touches no file, clock or network itself, so that it also runs in a browser: [App] is
// given the log book, the car file and the clock. It returns values and errors that tell a
// caller what is the matter; it names no flag and no field of a form.
//
// An answer comes about in three steps, and each has its own caller:
//
//	logs := app.Join(read...)            // or a.ReadBook()
//	car, err := logs.Choose(name, named) // [ErrWhichCar], [ErrNoSuchCar], [ErrNoUsableRun]
//	fitted, err := a.Fit(car)            // [analyze.ErrNoRuns], [*CarFileError]
//	advice, problems, err := fitted.Answer(&next)
package app

import (
	"errors"
	"time"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
)

// Book is all that is known of the log book. [logbook.Book] is one.
type Book interface {
	// Snapshot returns the book as a log, and a mark of the state that was read.
	Snapshot(opts runlog.Options) (logbook.Snapshot, error)
	// Add merges logs into the book, and AddTo only if it still is in the marked state.
	Add(logs []logbook.Contents, decide logbook.Decider) (logbook.Merged, error)
	AddTo(mark string, logs []logbook.Contents, decide logbook.Decider) (logbook.Merged, error)
	Preview(logs []logbook.Contents, decide logbook.Decider) (logbook.Merged, error)
	// Remembered returns what the book remembers of logs, Remember adds to it, and Forget takes
	// one thing away.
	Remembered() (logbook.Remembered, error)
	Remember(more logbook.Remembered) error
	Forget(what string) error
	// Edit changes a run, and Delete deletes runs, each of which must be as it was read.
	Edit(from, to run.Run) (logbook.Edited, error)
	Delete(runs ...run.Run) error
	// Undo takes the last change back, if the book is in the state of a mark or there is none.
	Undo(mark *string) (logbook.Undone, error)
	History() ([]logbook.Change, error)
}

// App is a driver's log book, car file and clock.
type App struct {
	Book Book
	Cars func() (*carfile.File, error) // reads the car file; one without cars where there is none
	// ChangeCars replaces the text of the car file, nil where there is none, by what change makes
	// of it, while no other change can. If change fails, nothing is written.
	ChangeCars func(change func(before []byte) (after []byte, err error)) error
	Now        func() time.Time
}

// Setup is what the car file says of one car. Where it says nothing of it though it has
// cars, Note is why.
type Setup struct {
	*carfile.Car
	File string // where the car file lies
	Note string
}

// CarFileError reports that the car file can't be read.
type CarFileError struct{ Err error }

func (e *CarFileError) Error() string { return e.Err.Error() }
func (e *CarFileError) Unwrap() error { return e.Err }

// Setup returns what the car file says of a car. It fails with a [*CarFileError].
func (a *App) Setup(car string) (Setup, error) {
	file, err := a.Cars()
	if err != nil {
		return Setup{Car: &carfile.Car{}}, &CarFileError{err}
	}
	return setupOf(file, car), nil
}

func setupOf(file *carfile.File, car string) Setup {
	of, note := file.Of(car)
	return Setup{of, file.Name, note}
}

// Fitted is a car with its fits, and with what the car file says of it.
type Fitted struct {
	*Car
	Fit   *analyze.Car
	Setup Setup
}

// Fit fits a car's runs. It fails with [analyze.ErrNoRuns] or a [*CarFileError].
func (a *App) Fit(car *Car) (*Fitted, error) {
	fit, err := analyze.FitCar(car.Runs)
	if err != nil {
		return nil, err
	}
	setup, err := a.Setup(car.Name)
	return &Fitted{car, fit, setup}, err
}

// Answer answers for a next run. The problems are of what was asked, each in the place of a
// value of ask.NextRun, and are returned with an error too: the run was answered for all the
// same, or the error is of something else. It fails as [ask.NextRun.Answer] does.
func (f *Fitted) Answer(next *ask.NextRun) (*advise.Advice, []run.Problem, error) {
	advice, err := next.Answer(f.Fit, f.Setup.Car)
	return advice, next.Problems(f.Setup.Car), err
}

// ColderThanAir reports whether a part can't read that little in that air: a car comes from a
// cool house at times.
func ColderThanAir(reads, air units.Celsius) bool {
	const cooler units.Rise = 5
	return air.Above(reads) > cooler
}

// LookBack foresees each run of a car from the earlier ones alone, and judges the forecasts
// against limits. It fails with [analyze.ErrTooFewRuns] or a [*CarFileError].
func (a *App) LookBack(car *Car, limits *ask.Limits) (*analyze.Hindsight, Setup, error) {
	setup, err := a.Setup(car.Name)
	if err != nil {
		return nil, setup, err
	}
	hindsight, err := analyze.LookBack(car.Runs, advise.Temperatures(limits.Complete(setup.Car)))
	return hindsight, setup, err
}

// Report is all there is to say of one answer.
type Report struct {
	Advice    *advise.Advice
	Hindsight *analyze.Hindsight // nil where no run has an earlier one to be foreseen from
	Problems  []run.Problem      // of what was asked: see [Fitted.Answer]
}

// Report answers for a next run and looks back. It fails as [Fitted.Answer] does.
func (f *Fitted) Report(next *ask.NextRun) (*Report, error) {
	advice, problems, err := f.Answer(next)
	if err != nil {
		return &Report{Problems: problems}, err
	}
	hindsight, err := analyze.LookBack(f.Runs, advise.Temperatures(advice.Limits))
	if errors.Is(err, analyze.ErrTooFewRuns) {
		err = nil
	}
	return &Report{advice, hindsight, problems}, err
}
