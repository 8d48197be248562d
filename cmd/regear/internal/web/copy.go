package web

import (
	"bytes"
	"errors"
	"io/fs"
	"net/http"
	"slices"

	"regear/analyze/run"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/report"
)

// Copied remembers which runs were saved as a copy, where the log book lies in a browser, which may
// lose it.
type Copied interface {
	// LastRun returns the highest number of a run that a copy holds, 0 for none, and SetLastRun
	// sets it.
	LastRun() (int, error)
	SetLastRun(number int) error
}

// copyNote is what the first page says of copies.
type copyNote struct {
	Offered  bool
	Pocket   bool
	Uncopied string // how many runs no copy holds, "" where that needs no reminding
}

const remindAfter = 10 // runs that no copy holds

func (r *request) copyNote(logs *app.Logs) (copyNote, error) {
	note := copyNote{Offered: len(logs.Runs) > 0, Pocket: r.site.Copied != nil}
	if !note.Pocket {
		return note, nil
	}
	last, err := r.site.Copied.LastRun()
	n := 0
	for _, run := range logs.Runs {
		if run.Number > last {
			n++
		}
	}
	if n >= remindAfter {
		note.Uncopied = report.Runs(n)
	}
	return note, err
}

// saveCopy sends the book with all that belongs to it as one file.
func saveCopy(r *request) (reply, error) {
	logs, err := r.logs()
	if err != nil {
		return nil, err
	}
	var archive bytes.Buffer
	err = r.Book.Save(&archive)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, &problem{http.StatusNotFound, "The log book is empty", errors.New("there is nothing to copy yet"), &link{"/", "To the cars"}}
	}
	if err != nil {
		return nil, err
	}
	if r.site.Copied != nil && len(logs.Runs) > 0 {
		newest := slices.MaxFunc(logs.Runs, func(a, b run.Run) int { return a.Number - b.Number })
		if err := r.site.Copied.SetLastRun(newest.Number); err != nil {
			return nil, err
		}
	}
	return file{name: "regear-" + r.Now().Format("2006-01-02-1504") + ".zip", kind: "application/zip", data: archive.Bytes()}, nil
}
