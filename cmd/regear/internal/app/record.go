package app

import (
	"errors"
	"maps"
	"slices"
	"time"

	"regear/advise/carfile"
	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/entry"
)

// NewRun is a run that is being logged. Its car is entered first: what is usual is the car's.
type NewRun struct {
	Setup Setup        // what the car file says of the car
	Usual *entry.Draft // what stands where nothing is entered, as in the car's last run or the car file
	Draft *entry.Draft // what was entered so far

	app  *App
	book *Logs
	cars *carfile.File
	from *run.Run // the run that is edited, nil for a new one
}

// NewRun begins a run. Usual is its car alone: the book's only one or, of an empty book, the
// car file's only one. If the car file can't be read, a [*CarFileError] is returned with the
// run, which can be logged all the same: nothing is then taken from the file.
func (a *App) NewRun(book *Logs) (*NewRun, error) {
	n := &NewRun{Setup: Setup{Car: &carfile.Car{}}, Usual: new(entry.Draft), Draft: new(entry.Draft), app: a, book: book}
	var err error
	if n.cars, err = a.Cars(); err != nil {
		n.cars, err = &carfile.File{}, &CarFileError{err}
	}
	only := n.cars.Only()
	switch {
	case len(book.Names) == 1:
		_ = n.Usual.Enter(entry.Car, book.Names[0], nil) // a log has it
	case len(book.Names) == 0 && only != nil:
		_ = n.Usual.Enter(entry.Car, only.Name, nil)
	}
	return n, err
}

// Enter takes what was entered in a field, and fails as [entry.Draft.Enter] does. The problems
// are what to ask about it, besides what [NewRun.Read] tells.
func (n *NewRun) Enter(f entry.Field, text string) ([]run.Problem, error) {
	if err := n.Draft.Enter(f, text, n.Setup.Car); err != nil {
		return nil, err
	}
	if f.Name != entry.Car.Name {
		return f.Problems(text, n.Setup.Car), nil
	}
	n.chooseCar()
	return misspelt(n.Draft.Text(f), slices.Concat(n.book.Names, slices.Sorted(maps.Keys(n.cars.Cars)))), nil
}

// TakeUsual takes what is usual in a field, where nothing was entered.
func (n *NewRun) TakeUsual(f entry.Field) {
	n.Draft.Take(f, n.Usual)
	if f.Name == entry.Car.Name {
		n.chooseCar()
	}
}

func (n *NewRun) chooseCar() {
	car := n.Draft.Text(entry.Car)
	n.Setup = setupOf(n.cars, car)
	if n.from != nil {
		return // what stands in its fields is the run itself
	}
	n.Usual = entry.Usual(n.book.Runs, car, n.Setup.Car)
	n.Usual.Take(entry.Car, n.Draft)
}

// TakeDay makes usual what the day's last run had: its air, whichever car it was, and this car's
// minutes.
func (n *NewRun) TakeDay() {
	now := n.app.Now()
	today := (&run.Run{When: time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, time.UTC)}).Day()
	car := n.Draft.Text(entry.Car)
	take := func(name string, isMeant func(*run.Run) bool) {
		var last *run.Run
		for i := range n.book.Runs {
			if r := &n.book.Runs[i]; r.Day() == today && isMeant(r) && (last == nil || !r.When.Before(last.When)) {
				last = r
			}
		}
		if field, _ := entry.ByName(name); last != nil {
			n.Usual.Take(field, entry.Of(last))
		}
	}
	take("ambient", func(*run.Run) bool { return true })
	take("minutes", func(r *run.Run) bool { return run.Fold(r.Car) == run.Fold(car) })
}

// EndNow says that the run ended now, or at the first second after it that no known run has.
func (n *NewRun) EndNow() { n.Draft.SetEnd(n.app.Now(), n.book.Runs) }

// HasLast reports whether the book has an earlier run of the car, whose values are the usual ones.
func (n *NewRun) HasLast() bool { return len(ofCar(n.Draft.Text(entry.Car), n.book.Runs)) > 0 }

// Read reads the run as a log of one row. Its problems are what looks odd, in itself or beside the
// book's runs, for the driver to say that it is meant: each has the column that it is about, if
// it is one. It fails with a [run.Problem] where a log would be refused.
//
// Of a run that is edited only what was entered is asked about: what was there was meant once.
func (n *NewRun) Read() (*runlog.Log, []run.Problem, error) {
	log, err := n.Draft.Read(n.app.Now())
	if err != nil {
		return nil, nil, err
	}
	one := &oddRun{Run: &log.Runs[0], draft: n.Draft, setup: n.Setup.Car, now: n.app.Now(), book: n.book.Runs}
	if n.from == nil {
		return log, one.problems(log.Warnings), nil
	}
	one.book = slices.DeleteFunc(slices.Clone(n.book.Runs), func(r run.Run) bool { return r.Number == n.from.Number })
	return log, slices.DeleteFunc(one.problems(log.Warnings), func(p run.Problem) bool { return !n.entered(p.Column) }), nil
}

// entered reports whether something was entered in a column or, for "", in those that make the
// rollout.
func (n *NewRun) entered(column string) bool {
	columns := []string{column}
	if column == "" {
		columns = []string{"pinion_teeth", "spur_teeth", "internal_ratio", "tire_diameter_mm"}
	}
	return slices.ContainsFunc(columns, func(column string) bool {
		f, _ := entry.ByColumn(column)
		return n.Draft.Typed(f) != ""
	})
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
	Run  run.Run // with its number
	Runs int     // that the book holds now
}

// Save adds a run, as [NewRun.Read] read it, to the book as it is by now. It fails with
// [ErrSavedBefore], a [*ConflictError], or as [logbook.Book.Add] does.
func (n *NewRun) Save(log *runlog.Log) (*Saved, error) {
	merged, err := n.app.Book.Add([]logbook.Contents{logbook.FromLog(log)}, logbook.Undecided)
	return saved(merged, err)
}

// SaveTo does what Save does, but only to the book as it was read: else it fails with
// [logbook.ErrStale].
func (n *NewRun) SaveTo(log *runlog.Log) (*Saved, error) {
	merged, err := n.app.Book.AddTo(n.book.Mark, []logbook.Contents{logbook.FromLog(log)}, logbook.Undecided)
	return saved(merged, err)
}

func saved(merged logbook.Merged, err error) (*Saved, error) {
	switch {
	case err != nil:
		return nil, err
	case len(merged.Conflicts) > 0:
		return nil, &ConflictError{*merged.Conflicts[0].Kept.Run}
	case !merged.Changed:
		return nil, ErrSavedBefore
	}
	newest := slices.MaxFunc(merged.Entries, func(a, b logbook.Entry) int { return a.Number - b.Number })
	return &Saved{*newest.Run, len(merged.Entries)}, nil
}
