package app

import (
	"errors"
	"strconv"
	"strings"
	"time"

	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/entry"
)

// Why a text names no run.
var (
	ErrNoSuchRun  = logbook.ErrNoSuchRun
	ErrNoRunNamed = errors.New("is neither the number of a run nor its date")
)

// Find returns the runs that a text names: one by its number in the log book, or those of a
// date, as in 2026-05-16T10:50 or 2026-05-16. It fails with [ErrNoSuchRun] or [ErrNoRunNamed].
func (l *Logs) Find(text string) ([]run.Run, error) {
	is := func(r *run.Run) bool { return strings.HasPrefix(r.Date(), strings.Replace(text, " ", "T", 1)) }
	if number, err := strconv.Atoi(text); err == nil {
		is = func(r *run.Run) bool { return r.Number == number }
	} else if _, err := time.Parse(time.DateOnly, text[:min(len(text), len(time.DateOnly))]); err != nil {
		return nil, ErrNoRunNamed
	}
	var found []run.Run
	for i := range l.Runs {
		if is(&l.Runs[i]) {
			found = append(found, l.Runs[i])
		}
	}
	if len(found) == 0 {
		return nil, ErrNoSuchRun
	}
	return found, nil
}

// EditRun begins an edit of a run of the book. It fails as [App.NewRun] does.
func (a *App) EditRun(book *Logs, r run.Run) (*NewRun, error) {
	n, err := a.NewRun(book)
	n.from, n.Draft, n.Usual = &r, entry.Of(&r), entry.Of(&r)
	n.chooseCar()
	return n, err
}

// SaveEdit changes the run in the book to what [NewRun.Read] read. It fails as
// [logbook.Book.Edit] does.
func (n *NewRun) SaveEdit(log *runlog.Log) (logbook.Edited, error) {
	return n.app.Book.Edit(*n.from, log.Runs[0])
}
