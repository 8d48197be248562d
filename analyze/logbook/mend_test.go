package logbook

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"regear/analyze/run"
	"regear/analyze/runlog"
)

// numberedRuns returns the book's runs by their numbers.
func numberedRuns(t *testing.T, b Book) map[int]run.Run {
	t.Helper()
	byNumber := map[int]run.Run{}
	for _, r := range snapshot(t, b).Log.Runs {
		byNumber[r.Number] = r
	}
	return byNumber
}

func undo(t *testing.T, b Book) Undone {
	t.Helper()
	undone, err := b.Undo(nil)
	if err != nil {
		t.Fatal(err)
	}
	return undone
}

func TestEdit(t *testing.T) {
	b := newBook(t)
	add(t, b, Contents{Extra: []string{"wind"}, Entries: []Entry{aRun(0), with(aRun(30), func(e *Entry) { e.Extra = map[string]string{"wind": "light"} })}})
	second := numberedRuns(t, b)[2]
	to := second
	to.Peak.Set(run.Motor, 79.8)
	to.When = to.When.AddDate(0, 0, -1) // it was the day before, so it comes first
	edited, err := b.Edit(second, to)
	if err != nil || edited.Conflict != nil || len(edited.Changed) != 2 {
		t.Fatalf("%v %+v", err, edited)
	}
	if want := (Difference{"motor_peak_c", "78", "79.8"}); edited.Changed[1] != want {
		t.Errorf("changed %+v, want %+v", edited.Changed[1], want)
	}
	if lines := strings.Split(read(t, b.Path), "\n"); !strings.HasPrefix(lines[1], "2026-05-15T10:30,heron,16,68,2.5,118,24,12,79.8,") ||
		!strings.HasSuffix(lines[1], ",2,light") || !strings.HasPrefix(lines[2], "2026-05-16T10:00,") {
		t.Errorf("%q", lines)
	}
	// The same once more is an edit of what is no longer there.
	if _, err := b.Edit(second, to); !errors.Is(err, ErrRunChanged) {
		t.Errorf("the run has changed: %v", err)
	}
	if edited, err := b.Edit(to, to); err != nil || len(edited.Changed) > 0 {
		t.Errorf("nothing to change: %v %+v", err, edited)
	}
	changes, err := b.History()
	if want := `changed run 2 (heron, 2026-05-16T10:30, 16/68 teeth): date 2026-05-16T10:30 → 2026-05-15T10:30, motor_peak_c 78 → 79.8`; err != nil || len(changes) != 2 || changes[0].What != want {
		t.Errorf("%v %+v", err, changes)
	}
}

// An edit that would make two runs one changes nothing and shows both.
func TestEditIntoAnotherRun(t *testing.T) {
	b := newBook(t, aRun(0), with(aRun(30), func(e *Entry) { e.Minutes = 10 }))
	text, second := read(t, b.Path), numberedRuns(t, b)[2]
	to := second
	to.When = aRun(0).When
	edited, err := b.Edit(second, to)
	if err != nil || edited.Conflict == nil || read(t, b.Path) != text {
		t.Fatalf("%v %+v", err, edited)
	}
	if want := []Difference{{"run_minutes", "12", "10"}}; !slices.Equal(edited.Conflict.Differences, want) {
		t.Errorf("%+v, want %+v", edited.Conflict.Differences, want)
	}
	if edited.Conflict.Kept.Number != 1 || edited.Conflict.New.Number != 2 {
		t.Errorf("conflict of %d and %d", edited.Conflict.Kept.Number, edited.Conflict.New.Number)
	}
}

// A number is given once: to no other run when its own is deleted, or its import undone.
func TestNumbersStay(t *testing.T) {
	b := newBook(t, aRun(0), aRun(10), aRun(20))
	if err := b.Delete(numberedRuns(t, b)[3]); err != nil {
		t.Fatal(err)
	}
	add(t, b, of(aRun(5))) // earlier, and 4 all the same
	if got := numberedRuns(t, b); got[4].When != aRun(5).When || len(got) != 3 {
		t.Errorf("%v", got)
	}
	undo(t, b)
	add(t, b, of(aRun(40)))
	if got := numberedRuns(t, b); got[5].When != aRun(40).When {
		t.Errorf("%v", got)
	}
	for range 3 {
		undo(t, b)
	}
	if got := numberedRuns(t, b); len(got) != 0 {
		t.Errorf("%v", got)
	}
	add(t, b, of(aRun(50)))
	if got := numberedRuns(t, b); got[6].When != aRun(50).When {
		t.Errorf("%v", got)
	}
}

// A book of before the numbers, or one to which a person added rows, numbers them in its order, as
// it does in the next list.
func TestRowsWithoutNumbers(t *testing.T) {
	b := newBook(t, aRun(0), aRun(10))
	lines := strings.SplitAfter(read(t, b.Path), "\n")
	byHand := strings.NewReplacer(",2\n", ",\n", "T10:10", "T10:20").Replace(lines[2])
	copied := strings.Replace(lines[2], "T10:10", "T10:05", 1) // still with number 2
	write(t, b.Path, lines[0]+lines[1]+lines[2]+byHand+copied)
	want := map[int]string{1: "2026-05-16T10:00", 2: "2026-05-16T10:10", 3: "2026-05-16T10:20", 4: "2026-05-16T10:05"}
	check := func() {
		t.Helper()
		got := numberedRuns(t, b)
		for n, date := range want {
			if r := got[n]; r.Date() != date {
				t.Errorf("run %d is of %s, want %s", n, r.Date(), date)
			}
		}
	}
	check()
	add(t, b, of(aRun(1)))
	want[5] = "2026-05-16T10:01"
	check()
}

func TestDelete(t *testing.T) {
	b := newBook(t, aRun(0), aRun(10), aRun(20))
	text, all := read(t, b.Path), numberedRuns(t, b)
	gone := all[2]
	gone.Number = 7
	changed := all[2]
	changed.Minutes = 11
	for want, r := range map[error]run.Run{ErrNoSuchRun: gone, ErrRunChanged: changed} {
		if err := b.Delete(all[1], r); !errors.Is(err, want) || read(t, b.Path) != text {
			t.Errorf("%v, want %v", err, want)
		}
	}
	if err := b.Delete(all[1], all[3]); err != nil {
		t.Fatal(err)
	}
	if got := numberedRuns(t, b); len(got) != 1 || got[2].Minutes != 12 {
		t.Errorf("%v", got)
	}
	undo(t, b)
	if read(t, b.Path) != text {
		t.Errorf("undone: %s", read(t, b.Path))
	}
}

// Every change of the last twenty goes back to the byte, and the history stays bounded.
func TestUndoToTheBytes(t *testing.T) {
	b := newBook(t)
	var states []string
	for n := range mostChanges + 5 {
		add(t, b, of(aRun(n)))
		states = append(states, read(t, b.Path))
	}
	all, err := b.kept()
	if err != nil || len(all) != mostChanges {
		t.Fatalf("%v: %d changes", err, len(all))
	}
	for k := range fewestChanges {
		undone := undo(t, b)
		if want := states[len(states)-2-k]; read(t, b.Path) != want {
			t.Fatalf("undo %d gave\n%s\nwant\n%s", k+1, read(t, b.Path), want)
		}
		// And what was undone can be put back.
		if k == 3 {
			if _, err := b.Restore("kept.csv", []byte(read(t, undone.Kept))); err != nil || read(t, b.Path) != states[len(states)-1-k] {
				t.Fatalf("put back (%v):\n%s", err, read(t, b.Path))
			}
			undo(t, b)
		}
	}
}

func TestNothingToUndo(t *testing.T) {
	b := newBook(t)
	if _, err := b.Undo(nil); !errors.Is(err, ErrNothingToUndo) {
		t.Error(err)
	}
	add(t, b, of(aRun(0)))
	undo(t, b)
	if _, err := b.Undo(nil); !errors.Is(err, ErrNothingToUndo) {
		t.Error(err)
	}
}

// An undo that was offered for one state undoes no later change.
func TestUndoOfAnotherState(t *testing.T) {
	b := newBook(t, aRun(0))
	mark := snapshot(t, b).Mark
	add(t, b, of(aRun(10)))
	text := read(t, b.Path)
	if _, err := b.Undo(&mark); !errors.Is(err, ErrStale) || read(t, b.Path) != text {
		t.Error(err)
	}
}

// Case and blanks make no other car, motor, surface or cooling; the first spelling stays.
func TestLabelsFold(t *testing.T) {
	b := newBook(t, with(aRun(0), func(e *Entry) { e.Surface, e.Motor = "Short grass", "540 can" }))
	merged := add(t, b, of(
		with(aRun(0), func(e *Entry) { e.Car, e.Surface, e.Motor = "HERON", "shortgrass", "540CAN" }),
		with(aRun(10), func(e *Entry) { e.Car, e.Surface, e.Motor = " Heron", "SHORT GRASS", "540 Can" }),
	))
	if merged.Tallies[0] != (Tally{Added: 1, Known: 1}) {
		t.Errorf("%+v", merged.Tallies)
	}
	for n, r := range numberedRuns(t, b) {
		if r.Car != "heron" || r.Surface != "Short grass" || r.Motor != "540 can" {
			t.Errorf("run %d: %q, %q, %q", n, r.Car, r.Surface, r.Motor)
		}
	}
}

func TestSaveAndRestore(t *testing.T) {
	b := newBook(t, aRun(0))
	b.CarFile = filepath.Join(t.TempDir(), "settings", "cars.toml")
	write(t, b.CarFile, "cars = 1\n")
	add(t, b, of(aRun(10)))
	if err := b.Remember(Remembered{Columns: map[string]string{"Temp mot": "motor_peak_c"}}); err != nil {
		t.Fatal(err)
	}
	var archive bytes.Buffer
	if err := b.Save(&archive); err != nil {
		t.Fatal(err)
	}
	saved := read(t, b.Path)

	// On another computer all of it comes back, with its history.
	other := newBook(t)
	other.CarFile = filepath.Join(t.TempDir(), "cars.toml")
	if _, err := other.Restore("club.zip", archive.Bytes()); err != nil {
		t.Fatal(err)
	}
	if read(t, other.Path) != saved || read(t, other.CarFile) != "cars = 1\n" || read(t, other.ColumnsPlace()) != read(t, b.ColumnsPlace()) {
		t.Error("not as it was saved")
	}
	undo(t, other)
	if _, err := os.Stat(other.CarFile); err == nil || read(t, other.Path) != "" {
		t.Errorf("the restoring was not undone: %v, %q", err, read(t, other.Path))
	}
	if changes, err := other.History(); err != nil || len(changes) != 2 {
		t.Errorf("%v: %+v", err, changes)
	}

	// Here it takes the place of what there is, until that is undone.
	write(t, b.CarFile, "cars = 2\n")
	add(t, b, of(aRun(20)))
	before := read(t, b.Path)
	restored, err := b.Restore("club.zip", archive.Bytes())
	if err != nil || restored.Runs != 2 || read(t, b.Path) != saved || read(t, b.CarFile) != "cars = 1\n" {
		t.Errorf("%v %+v", err, restored)
	}
	undo(t, b)
	if read(t, b.Path) != before || read(t, b.CarFile) != "cars = 2\n" {
		t.Error("the restoring was not undone")
	}
}

func TestRestoreRefuses(t *testing.T) {
	b := newBook(t, aRun(0))
	text := read(t, b.Path)
	for what, data := range map[string]string{
		"nothing": "", "blanks": "\n \n", "no zip": "PK\x03\x04 not", "no log": "a,b\n1,2\n",
	} {
		if _, err := b.Restore("club.zip", []byte(data)); err == nil || read(t, b.Path) != text {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// What a person or a broken disk did to the history is never put into the book.
func TestDamagedHistory(t *testing.T) {
	b := newBook(t, aRun(0))
	add(t, b, of(aRun(10)))
	all, err := b.kept()
	if err != nil {
		t.Fatal(err)
	}
	last, text := b.store().Place(all[len(all)-1].name), read(t, b.Path)
	write(t, last, strings.TrimSuffix(read(t, last), "\n"))
	if _, err := b.Undo(nil); err == nil || !strings.Contains(err.Error(), last) || read(t, b.Path) != text {
		t.Error(err)
	}
	write(t, filepath.Join(b.HistoryPlace(), "notes.csv"), "not ours\n")
	if _, err := b.Snapshot(runlog.Options{}); err != nil {
		t.Error(err)
	}
	add(t, b, of(aRun(20)))
}
