package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"regear/analyze/run"
	"strings"
	"sync"
	"testing"
)

func TestRunIsLoggedAndAdvised(t *testing.T) {
	p := newPit(t, "")
	p.get("/").has(t, "The log book is empty")
	got := p.post("/log", aRun(p.form("/log"), "84"))
	if !strings.HasPrefix(got.path, "/advice?car=heron&saved=") {
		t.Fatalf("a saved run leads to %s:\n%s", got.path, got.text)
	}
	got.has(t, "Saved: heron, 2026-05-16 15:04", "17/68", "What if")
	if runs := p.runs(); len(runs) != 1 || runs[0].Minutes != 12 {
		t.Fatalf("the book holds %v", runs)
	}
	// Under a link that claims a run which the book lacks, nothing is claimed.
	if got := p.get("/advice?car=heron&saved=2020-01-01"); strings.Contains(got.text, "Saved") {
		t.Error("the page claims a run that was never saved")
	}
}

func TestUntouchedFieldsStoreTheLastRunExactly(t *testing.T) {
	p := newPit(t, "")
	p.post("/log", aRun(p.form("/log"), "84"))
	// 118 mm stand as 4.65 in, which is 118.11 mm.
	p.post("/units", url.Values{"units": {"us"}, "back": {"/log"}})
	form := p.form("/log?car=heron")
	if form.Get("tire") != "4.65" {
		t.Fatalf("the tire stands as %q in inches", form.Get("tire"))
	}
	form.Set("minutes", "10")
	form.Set("ambient", "71,6")
	form.Set("motor-peak", "176")
	if got := p.post("/log", form); !strings.HasPrefix(got.path, "/advice") {
		t.Fatalf("not saved:\n%s", got.text)
	}
	kept := p.runs()[1]
	motor, _ := kept.Peak.Of(run.Motor)
	if kept.Tire != 118 || kept.Ambient != 22 || motor != 80 || kept.Gearing.Pinion != 17 {
		t.Errorf("stored: tire %v, air %v, motor %v, %v", kept.Tire, kept.Ambient, motor, kept.Gearing)
	}
}

func TestFormSentTwiceIsOneRun(t *testing.T) {
	p := newPit(t, "")
	form := aRun(p.form("/log"), "84")
	first, second := p.post("/log", form), p.post("/log", form)
	if first.path != second.path || len(p.runs()) != 1 {
		t.Errorf("a second tap leads to %s instead of %s; %d runs", second.path, first.path, len(p.runs()))
	}
	// The same values from a form of its own are another run.
	p.post("/log", aRun(p.form("/log?car=heron"), "84"))
	if n := len(p.runs()); n != 2 {
		t.Errorf("%d runs after a second one like the first", n)
	}
}

func TestStalePageSaysSoAndKeepsWhatWasTyped(t *testing.T) {
	p := newPit(t, "")
	p.post("/log", aRun(p.form("/log"), "84"))
	here, there := p.form("/log?car=heron"), p.form("/log?car=heron")
	there.Set("pinion", "15")
	p.post("/log", aRun(there, "70"))

	got := p.post("/log", aRun(here, "83.5"))
	got.has(t, "Not saved yet", "has changed since", "Pinion, teeth: 15 in the newest run, 17 here", `value="83.5"`)
	if n := len(p.runs()); n != 2 {
		t.Fatalf("a stale page saved: %d runs", n)
	}
	if got := p.post("/log", formOf(got)); !strings.HasPrefix(got.path, "/advice") {
		t.Errorf("what was confirmed is not saved:\n%s", got.text)
	}
	if n := len(p.runs()); n != 3 {
		t.Errorf("%d runs", n)
	}
}

func TestRefusedRunShowsWhatIsWrong(t *testing.T) {
	p := newPit(t, "")
	for _, c := range []struct{ name, field, value, says string }{
		{"no pinion", "pinion", "", "is needed"},
		{"no number", "minutes", "soon", "soon"},
		{"a temperature in the wrong field", "pinion", "84C", "whole number"},
		{"no reading", "motor-peak", "", "how hot at least one part got"},
		{"colder than anything", "motor-peak", "-400", "absolute zero"},
		{"a blank car", "car", " ", "is needed"},
	} {
		t.Run(c.name, func(t *testing.T) {
			form := aRun(p.form("/log"), "84")
			form.Set(c.field, c.value)
			got := p.post("/log", form)
			if got.status != http.StatusUnprocessableEntity {
				t.Errorf("status %d", got.status)
			}
			got.has(t, "Not saved yet", c.says)
			if n := len(p.runs()); n != 0 {
				t.Errorf("%d runs", n)
			}
		})
	}
}

func TestDoubtfulRunIsSavedOnceConfirmed(t *testing.T) {
	p := newPit(t, "")
	got := p.post("/log", aRun(p.form("/log"), "184"))
	got.has(t, "is this right?", "184", "Save as it is")
	if n := len(p.runs()); n != 0 {
		t.Fatalf("saved before it was confirmed: %d runs", n)
	}
	form := formOf(got)
	// Another doubt than the one confirmed is asked about anew.
	form.Set("motor-peak", "190")
	got = p.post("/log", form)
	got.has(t, "is this right?", "190")
	if got := p.post("/log", formOf(got)); !strings.HasPrefix(got.path, "/advice") || len(p.runs()) != 1 {
		t.Errorf("confirmed and not saved:\n%s", got.text)
	}
}

func TestSameMomentWithOtherValuesIsRefused(t *testing.T) {
	p := newPit(t, "")
	for i, motor := range []string{"84", "80"} {
		form := aRun(p.form("/log?new=car"), motor)
		form.Set("date", "2026-05-16T10:50")
		got := p.post("/log", form)
		if i == 1 {
			got.has(t, "at that moment with other values", `value="80"`)
		}
	}
	if n := len(p.runs()); n != 1 {
		t.Errorf("%d runs", n)
	}
}

func TestManyPhonesLoseNothing(t *testing.T) {
	const phones, each = 50, 3
	p := newPit(t, "")
	var all sync.WaitGroup
	for phone := range phones {
		all.Go(func() {
			for run := range each {
				form := aRun(p.form("/log?new=car"), fmt.Sprint(60+run))
				form.Set("car", fmt.Sprintf("car %d", phone%7))
				form.Set("note", fmt.Sprintf("phone %d run %d", phone, run))
				if got := p.post("/log", form); got.status != http.StatusOK || !strings.HasPrefix(got.path, "/advice") {
					t.Errorf("phone %d: %d %s", phone, got.status, got.path)
				}
			}
		})
	}
	all.Wait()
	notes := map[string]int{}
	for _, kept := range p.runs() {
		notes[kept.Note]++
	}
	if len(notes) != phones*each {
		t.Errorf("%d of %d runs are in the book", len(notes), phones*each)
	}
	for note, n := range notes {
		if n != 1 {
			t.Errorf("%s is there %d times", note, n)
		}
	}
}

func TestCarFileFillsTheFirstRun(t *testing.T) {
	p := newPit(t, "[cars.heron]\ninternal_ratio = 2.5\ncells = 4\nspurs = [68]\n")
	form := p.form("/log")
	if form.Get("car") != "heron" || form.Get("spur") != "68" || form.Get("internal-ratio") != "2.5" {
		t.Errorf("the form stands at %v", form)
	}
}

func TestBookThatCanNotBeWrittenKeepsWhatWasTyped(t *testing.T) {
	p := newPit(t, "")
	p.post("/log", aRun(p.form("/log"), "84"))
	form := aRun(p.form("/log?car=heron"), "77.5")
	form.Set("minutes", "9")

	// A row is broken in an editor meanwhile.
	text, err := os.ReadFile(p.book.Path)
	if err != nil {
		t.Fatal(err)
	}
	broken := append(text, "2026-05-16T16:00,heron,many,68\n"...)
	if err := os.WriteFile(p.book.Path, broken, 0o644); err != nil {
		t.Fatal(err)
	}
	p.post("/log", form).has(t, "Not saved yet", "mend or delete them first", "log book:3: has 4 cells under 21 headers", `value="77.5"`, `value="9"`)
	p.get("/").has(t, "log book:3")
	if left, err := os.ReadFile(p.book.Path); err != nil || string(left) != string(broken) {
		t.Errorf("the book is\n%s", left)
	}

	if err := os.WriteFile(p.book.Path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	if got := p.post("/log", form); !strings.HasPrefix(got.path, "/advice") {
		t.Errorf("the mended book does not take the run:\n%s", got.text)
	}
}

// 2.2 in is what the trade calls a rim (common practice, no source): the form asks whether it
// is meant, saves it once that is said, and never asks again of the same car.
func TestRimSizeIsAskedAbout(t *testing.T) {
	p := newPit(t, "")
	form := aRun(p.form("/log"), "84")
	form.Set("tire", "2.2in")
	got := p.post("/log", form)
	got.has(t, "Not saved yet: is this right?", "Tire: 2.2in is a rim size, measure across the rubber.")
	if n := len(p.runs()); n != 0 {
		t.Fatalf("%d runs were saved unasked", n)
	}
	if got := p.post("/log", formOf(got)); !strings.HasPrefix(got.path, "/advice") || len(p.runs()) != 1 {
		t.Fatalf("not saved though it is meant:\n%s", got.text)
	}
	again := p.form("/log?car=heron")
	again.Set("pinion", "16")
	if got := p.post("/log", aRun(again, "80")); !strings.HasPrefix(got.path, "/advice") {
		t.Errorf("asked again:\n%s", got.text)
	}
	// A diameter in mm is asked about nowhere.
	again = aRun(p.form("/log?car=heron"), "80")
	again.Set("tire", "96.52")
	again.Set("pinion", "15")
	if got := p.post("/log", again); !strings.HasPrefix(got.path, "/advice") {
		t.Errorf("a tire of 96.52 mm is asked about:\n%s", got.text)
	}
	p.get("/advice?car=heron&tire=2.2in").has(t, "Tire: 2.2in is a rim size, measure across the rubber.")
	p.get("/api/advice?car=heron&tire=2.2in").has(t, "looks_implausible", "is a rim size")
	if got := p.get("/advice?car=heron&tire=104mm"); strings.Contains(got.text, "rim size") {
		t.Error("104 mm pass for a rim")
	}
}

// A note that tells of a heat stop is asked about, in the words of the form.
func TestNoteOfAHeatStopIsAskedAbout(t *testing.T) {
	p := newPit(t, "")
	form := aRun(p.form("/log"), "84")
	form.Set("note", "ESC thermal shutdown")
	got := p.post("/log", form)
	got.has(t, "Note: ESC thermal shutdown reads like a heat stop, if heat ended this run, tick “Heat cut the run short”.")
	form = formOf(got)
	form.Set("stopped-by-heat", "yes")
	p.post("/log", form)
	if runs := p.runs(); len(runs) != 1 || !runs[0].StoppedByHeat {
		t.Errorf("the book holds %v", runs)
	}
}

// What nobody can have read is refused beside its field.
func TestImpossibleReadingIsRefused(t *testing.T) {
	p := newPit(t, "")
	p.post("/log", aRun(p.form("/log"), "1470F")).has(t, "Not saved yet", "is no temperature of air or parts: check the reading and the unit", `value="1470F"`)
	p.post("/log", aRun(p.form("/log"), "122")).has(t, "Motor: 122 is very hot, check the reading and the unit.")
	if n := len(p.runs()); n != 0 {
		t.Errorf("%d runs", n)
	}
}
