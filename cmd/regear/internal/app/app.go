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
	"time"

	"regear/advise/carfile"
	"regear/analyze/logbook"
)

// Book is all that is known of the log book. [logbook.Book] is one.
type Book interface {
	// Snapshot returns the book as a log, and a mark of the state that was read.
	Snapshot() (logbook.Snapshot, error)
	// Add merges logs into the book, and AddTo only if it still is in the marked state.
	Add(logs []logbook.Contents, decide logbook.Decision) (logbook.Merged, error)
	AddTo(mark string, logs []logbook.Contents, decide logbook.Decision) (logbook.Merged, error)
	Preview(logs []logbook.Contents, decide logbook.Decision) (logbook.Merged, error)
	// Columns returns the headers of the driver's own that the book remembers, and
	// Remember adds to them.
	Columns() (map[string]string, error)
	Remember(columns map[string]string) error
}

// App is a driver's log book, car file and clock.
type App struct {
	Book Book
	Cars func() (*carfile.File, error) // reads the car file; one without cars where there is none
	Now  func() time.Time
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
	of, note := file.Of(car)
	return Setup{of, file.Name, note}, nil
}
