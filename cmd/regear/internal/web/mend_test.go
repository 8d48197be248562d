package web_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"testing"

	"regear/analyze/run"
)

// twoRuns returns a pit whose book holds runs 1 and 2, of 84 and 74 °C.
func twoRuns(t *testing.T) *pit {
	t.Helper()
	p := newPit(t, "")
	p.post("/log", aRun(p.form("/log"), "84", "date", "2026-05-16T10:50"))
	p.post("/log", aRun(p.form("/log?car=heron"), "74", "date", "2026-05-16T11:30", "minutes", "8"))
	p.hasRuns(2)
	return p
}

func (p *pit) peak(number int) float64 {
	p.Helper()
	for _, r := range p.runs() {
		if r.Number == number {
			motor, _ := r.Peak.Of(run.Motor)
			return float64(motor)
		}
	}
	p.Fatalf("there is no run %d", number)
	return 0
}

func changed(form url.Values, pairs ...string) url.Values {
	for i := 0; i < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	return form
}

func TestRunIsChangedAndUndone(t *testing.T) {
	p := twoRuns(t)
	p.get("/runs").has(`href="/run?number=1"`, `href="/run?number=2"`)
	form := p.form("/run?number=2")
	if form.Get("motor-peak") != "74" || form.Get("minutes") != "8" || form.Get("date") != "2026-05-16T11:30" || form.Get("pinion") != "17" {
		t.Errorf("the form is filled in with %v", form)
	}
	got := p.post("/run", changed(form, "motor-peak", "76.5")).has("Changed: heron, 2026-05-16 11:30", "motor 76.5 °C", "Undo")
	if p.peak(2) != 76.5 || p.peak(1) != 84 {
		t.Errorf("changed to %v", p.runs())
	}
	// The same form once more leads to the same place and changes nothing.
	if again := p.post("/run", form); again.path != got.path {
		t.Errorf("sent twice it leads to %s", again.path)
	}
	p.post("/undo", url.Values{"mark": {got.hidden("mark")}}).has("Undone: changed run 2", "holds 2 runs now")
	if p.peak(2) != 74 {
		t.Errorf("undone to %v", p.peak(2))
	}
	// Undone once, the button of that page undoes nothing more.
	p.post("/undo", url.Values{"mark": {got.hidden("mark")}}).hasStatus(http.StatusConflict).has("Nothing was undone")
	// Tapped twice it undoes once, and says what.
	got = p.get("/changes")
	tap := url.Values{"mark": {got.hidden("mark")}, "form": {got.hidden("form")}}
	for range 2 {
		p.post("/undo", tap).has("Undone: added run 2", "holds 1 run now")
	}
	p.hasRuns(1)
}

func TestRunIsDeletedAndUndone(t *testing.T) {
	p := twoRuns(t)
	got := p.post("/run/delete", p.form("/run?number=1")).has("Deleted run 1.", "holds 1 run now", "Undo")
	if left := p.runs(); len(left) != 1 || left[0].Number != 2 {
		t.Fatalf("left: %v", left)
	}
	p.get("/run?number=1").hasStatus(http.StatusNotFound).has("There is no such run")
	p.post("/undo", url.Values{"mark": {got.hidden("mark")}})
	p.hasRuns(2)
	// The address claims it still; the book says otherwise.
	p.get("/runs?car=heron&deleted=1").lacks("Deleted run")
}

// What serves the pages may be started anew while a form is open, or twice on one book: a form that
// is sent to both is saved once, and so is each change, deletion and undo.
func TestFormsOutlastARestart(t *testing.T) {
	p := twoRuns(t)
	anew := newSite(p.book, "")
	random := anew.Random
	anew.Random = func() string { return "anew" + random() }
	other := httptest.NewServer(anew.Handler())
	defer other.Close()
	restart := func() { p.server.URL, other.URL = other.URL, p.server.URL }
	both := func(path string, form url.Values) page {
		t.Helper()
		first := p.post(path, form)
		restart()
		if again := p.post(path, form); again.path != first.path || again.status != http.StatusOK {
			t.Errorf("%s leads to %s, and once more to %s (%d)", path, first.path, again.path, again.status)
		}
		return first
	}
	run := aRun(p.form("/log?car=heron"), "79")
	both("/log", run).has("Saved:")
	p.hasRuns(3)
	p.post("/log", changed(run, "motor-peak", "78")).hasStatus(http.StatusConflict).has("Saved before", "/advice?car=heron")

	edit := p.form("/run?number=3")
	both("/run", changed(edit, "motor-peak", "77"))
	p.post("/run", changed(edit, "motor-peak", "76")).hasStatus(http.StatusConflict)
	if p.peak(3) != 77 {
		t.Errorf("run 3 was changed to %v", p.peak(3))
	}
	got := both("/run/delete", p.form("/run?number=3"))
	p.hasRuns(2)
	for _, runs := range []int{3, 3, 2} { // the deletion, the edit and the run itself go
		both("/undo", url.Values{"mark": {got.hidden("mark")}, "form": {got.hidden("form")}}).has("Undone: ")
		p.hasRuns(runs)
		got = p.get("/changes")
	}
	// A run that was saved and taken back is not saved by the browser's way back.
	changed(run, "motor-peak", "79")
	both("/log", run).has("Undone: added run 3")
	p.hasRuns(2)
}

// Of two phones with the same run open the second is told what the first has done.
func TestStaleRunSaysSo(t *testing.T) {
	p := twoRuns(t)
	here, there := p.form("/run?number=2"), p.form("/run?number=2")
	p.post("/run", changed(there, "motor-peak", "75"))
	p.post("/run", changed(here, "motor-peak", "76", "note", "gusts")).hasStatus(http.StatusUnprocessableEntity).
		has("Not saved yet", "Motor: 75 in the log book, 76 here.", "gusts")
	p.post("/run/delete", here).hasStatus(http.StatusConflict).has("Not deleted: the run has changed")
	if p.peak(2) != 75 {
		t.Errorf("%v", p.peak(2))
	}
	p.post("/run/delete", p.form("/run?number=2"))
	// What was typed for a run that is gone is not.
	got := p.post("/run", here).hasStatus(http.StatusUnprocessableEntity).has("Run 2 was deleted meanwhile", "gusts")
	p.hasRuns(1)
	p.saves(formOf(got))
	p.hasRuns(2)
}

func TestEditIntoAnotherRunIsShown(t *testing.T) {
	p := twoRuns(t)
	p.post("/run", changed(p.form("/run?number=2"), "date", "2026-05-16T10:50")).hasStatus(http.StatusUnprocessableEntity).
		has("the two would be one run", "run 2 as edited", "84", "74")
	p.hasRuns(2)
}

// What can't be is refused in an edit as in a new run, and what was not touched stays to the last digit.
func TestEditIsJudged(t *testing.T) {
	p := twoRuns(t)
	p.post("/run", changed(p.form("/run?number=2"), "motor-peak", "1470F")).hasStatus(http.StatusUnprocessableEntity).has("Not saved yet")
	p.post("/run", changed(p.form("/run?number=2"), "motor-peak", "")).hasStatus(http.StatusUnprocessableEntity).has("how hot at least one part got")
	p.post("/units", url.Values{"show": {"us"}, "back": {"/runs"}})
	form := p.form("/run?number=2")
	if form.Get("motor-peak") != "165.2" || form.Get("tire") != "4.65" { // 74 °C are 165.2 °F, and 118 mm 4.646 in
		t.Errorf("in °F and inches: %v", form)
	}
	p.post("/run", changed(form, "skip", "yes"))
	for _, r := range p.runs() {
		if r.Number == 2 && (!r.Skip || r.Tire != 118 || p.peak(2) != 74) {
			t.Errorf("%+v", r)
		}
	}
	form = p.form("/run?number=2")
	form.Del("skip")
	form.Set("note", "-3 laps")
	p.post("/run", form)
	if form = p.form("/run?number=2"); form.Get("note") != "-3 laps" {
		t.Errorf("the note stands as %q", form.Get("note"))
	}
	if p.runs()[1].Skip {
		t.Error("still skipped")
	}
}

// Another's change in between takes the button away that would undo it.
func TestUndoIsOfferedForOnesOwnChange(t *testing.T) {
	p := twoRuns(t)
	got := p.post("/run", changed(p.form("/run?number=1"), "motor-peak", "85"))
	p.post("/run", changed(p.form("/run?number=2"), "motor-peak", "75"))
	p.get(got.path).has("Changed: heron", `href="/changes"`).lacks(`name="mark"`)
	p.get("/changes").has("changed run 2", "changed run 1", "added run 2")
}

func TestImportIsUndone(t *testing.T) {
	p := twoRuns(t)
	got := p.imports("more.csv", header+"2026-05-17T10:50,heron,17,68,2.5,118,22,12,80\n2026-05-17T11:50,heron,17,68,2.5,118,22,12,81\n").has("2 added", "Undo")
	p.hasRuns(4)
	p.post("/undo", url.Values{"mark": {got.hidden("mark")}}).has("Undone: added 2 runs", "holds 2 runs now")
	p.imports("known.csv", header+"2026-05-16T10:50,heron,17,68,2.5,118,22,12,84\n").lacks("Undo")
}
