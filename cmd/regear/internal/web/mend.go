package web

import (
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/report"
)

// The page of a run changes it or deletes it. Its form is that of a new run, filled in with
// what the book has.

func editForm(r *request) (reply, error) {
	logs, edited, err := r.runOf(r.URL.Query().Get("number"))
	if err != nil {
		return nil, err
	}
	form := newEditForm(r, logs, edited)
	form.keepTyped(r.URL.Query(), func(r *request) *runForm { return newEditForm(r, logs, edited) })
	return form.page(), nil
}

// runOf returns the book and the run of a number.
func (r *request) runOf(number string) (*app.Logs, run.Run, error) {
	logs, err := r.logs()
	if err != nil {
		return nil, run.Run{}, err
	}
	// A date would do at the command line; an address names a run by its number.
	if _, err := strconv.Atoi(number); err == nil {
		if found, err := logs.Find(number); err == nil {
			return logs, found[0], nil
		}
	}
	return logs, run.Run{}, &problem{http.StatusNotFound, "There is no such run",
		fmt.Errorf("run %s: %w: it was deleted, or what added it was undone", number, app.ErrNoSuchRun), &link{"/runs", "To the runs"}}
}

func newEditForm(r *request, logs *app.Logs, edited run.Run) *runForm {
	f := &runForm{request: r, logs: logs, car: edited.Car, fields: map[string]*field{}}
	f.Number = edited.Number
	var err error
	if f.run, err = r.EditRun(logs, edited); err != nil {
		f.Note = "The car file can't be read, so tires go by their size alone."
	}
	f.fillAll()
	// Neither a day alone nor a time with its zone can stand in a field for a moment.
	date := f.fields["date"]
	date.Hint = ""
	if n := len(date.Value); n != len("2026-05-16T10:50") && n != len("2026-05-16T10:50:07") {
		date.Kind, date.Hint = "", "as in 2026-05-16T10:50, or 2026-05-16"
	}
	return f
}

func editRun(r *request) (reply, error) { return r.saveOnce((*request).saveEdit) }

func (r *request) saveEdit() (reply, error) {
	logs, edited, err := r.runOf(r.PostForm.Get("number"))
	if errors.Is(err, app.ErrNoSuchRun) { // what was typed is not lost
		form := newRunForm(r, logs, r.PostForm.Get("car"), true)
		form.read(r.PostForm)
		form.Problems = []string{fmt.Sprintf("Run %s was deleted meanwhile. To add what stands here as a new run, save it.", r.PostForm.Get("number"))}
		return form.page(), nil
	}
	if err != nil {
		return nil, err
	}
	form := newEditForm(r, logs, edited)
	read := form.judge()
	if read == nil {
		return form.page(), nil
	}
	outcome, err := form.run.SaveEdit(read)
	switch {
	case errors.Is(err, logbook.ErrRunChanged), errors.Is(err, logbook.ErrNoSuchRun):
		return nil, logbook.ErrStale // looked at again, it shows what has changed
	case err != nil:
		form.Problems = append(form.Problems, reasons(err)...)
	case outcome.Conflict != nil:
		form.Conflict = report.EditConflict(outcome.Conflict).HTML()
	default:
		place := address("/advice", "car", outcome.Run.Car, "changed", strconv.Itoa(outcome.Run.Number))
		return redirect(place), nil
	}
	return form.page(), nil
}

// deleteRun deletes a run, unless it has changed since its form was made.
func deleteRun(r *request) (reply, error) {
	return r.saveOnce(func(r *request) (reply, error) {
		logs, gone, err := r.runOf(r.PostForm.Get("number"))
		if err != nil {
			return nil, err
		}
		form := newEditForm(r, logs, gone)
		if r.PostForm.Get("seen") != form.seen() {
			form.Note = "Not deleted: the run has changed since its page was opened. Here it is as it is now."
			p := form.page()
			p.status = http.StatusConflict
			return p, nil
		}
		switch err := r.Book.Delete(gone); {
		case errors.Is(err, logbook.ErrRunChanged), errors.Is(err, logbook.ErrNoSuchRun):
			return nil, logbook.ErrStale
		case err != nil:
			form.Problems = reasons(err)
			return form.page(), nil
		}
		place := address("/runs", "deleted", strconv.Itoa(gone.Number)) // of all cars: the car may have no other run
		return redirect(place), nil
	})
}

// done tells at the top of a page what was just done, and offers to change it or to undo it.
type done struct {
	Text   string
	Met    []string  // how the run met its forecast
	Number int       // of the run that may be changed, 0 for none
	Undo   *undoForm // nil where another change came after it
}

// undoForm undoes the last change of the book in a state.
type undoForm struct{ Form, Mark string }

func (r *request) undoForm(mark string) *undoForm { return &undoForm{r.site.Random(), mark} }

// undoOf returns the form that undoes the change of the book in a state, nil if another came after it.
func (r *request) undoOf(before string) *undoForm {
	now, err := r.logs()
	if err != nil {
		return nil
	}
	changes, err := r.Book.History()
	if err != nil || len(changes) == 0 || changes[0].Before != before {
		return nil
	}
	return r.undoForm(now.Mark)
}

// doneVerbs are the names under which an address claims that something was done to a run, and
// what the history says of it.
var doneVerbs = map[string]string{"saved": "added", "changed": "changed", "deleted": "deleted"}

// doneTo says what was just done to a run, if the address claims so and the book's last change was
// that; nil if there is nothing to say.
func (r *request) doneTo(logs *app.Logs) *done {
	query := r.URL.Query()
	for verb, inHistory := range doneVerbs {
		number, err := strconv.Atoi(query.Get(verb))
		if err != nil {
			continue
		}
		d := &done{}
		found, err := logs.Find(strconv.Itoa(number))
		switch {
		case verb == "deleted" && err != nil:
			d.Text = fmt.Sprintf("Deleted run %d. The log book holds %s now.", number, report.Runs(len(logs.Runs)))
		case verb == "deleted" || err != nil:
			return nil
		default:
			d.Text, d.Number = report.Saved(verb == "changed", &found[0], len(logs.Runs), r.units), number
			d.Met = report.Met(&found[0], logs.Foreseen(&found[0]), r.units)
		}
		changes, err := r.Book.History()
		if err == nil && len(changes) > 0 && strings.HasPrefix(changes[0].What, fmt.Sprintf("%s run %d (", inHistory, number)) {
			d.Undo = r.undoForm(logs.Mark)
		}
		return d
	}
	return nil
}

type changesPage struct {
	Done    string
	Changes []change
	Undo    *undoForm
}

type change struct{ When, What string }

func changes(r *request) (reply, error) {
	logs, err := r.logs()
	if err != nil {
		return nil, err
	}
	all, err := r.Book.History()
	if err != nil {
		return nil, err
	}
	body := changesPage{Undo: r.undoForm(logs.Mark)}
	if made, _, err := r.Book.Made(r.URL.Query().Get("undone")); err != nil {
		return nil, err
	} else if made != nil && made.Undone {
		body.Done = fmt.Sprintf("Undone: %s. The log book holds %s now.", made.What, report.Runs(len(logs.Runs)))
	}
	for _, c := range all {
		body.Changes = append(body.Changes, change{report.ChangedAt(&c, r.Now().Location()), c.What})
	}
	return &page{title: "Changes of the log book", template: "changes.html", body: body}, nil
}

// undo takes back the last change of the book as the reader saw it.
func undo(r *request) (reply, error) {
	return r.saveOnce(func(r *request) (reply, error) {
		mark := r.PostForm.Get("mark")
		_, err := r.Book.Undo(&mark)
		toChanges := &link{"/changes", "To the changes"}
		switch {
		case errors.Is(err, logbook.ErrStale):
			return nil, &problem{http.StatusConflict, "Nothing was undone",
				errors.New("the log book has changed since this was shown: look at the changes as they are now"), toChanges}
		case errors.Is(err, logbook.ErrNothingToUndo):
			return nil, &problem{http.StatusConflict, "Nothing was undone", err, toChanges}
		case err != nil:
			return nil, err
		}
		return redirect(address("/changes", "undone", r.Book.Form.Name)), nil
	})
}
