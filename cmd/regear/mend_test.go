package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A typing error is seen, mended, and everything can be taken back to the byte.
func TestAWeekendIsMended(t *testing.T) {
	inTopFolder(t)
	folder, book := newBookFolder(t)
	text := func() string {
		t.Helper()
		all, err := os.ReadFile(book)
		if err != nil {
			t.Fatal(err)
		}
		return string(all)
	}
	mustRun(t, "", "import", weekend)
	imported := text()
	mustRun(t, "", "log", "--pinion", "16", "--minutes", "12", "--ambient", "24C", "--motor-peak", "97C")
	logged := text()
	if got := mustRun(t, "", "edit", "7", "--motor-peak", "79C"); !strings.Contains(got, "motor peak: 79 °C, was 97 °C") {
		t.Errorf("edit: %s", got)
	}
	edited := text()
	mustRun(t, "", "delete", "7", "2026-05-16T11:30")
	if got := mustRun(t, "", "undo", "--list"); strings.Count(got, "\n") != 5 || !strings.Contains(got, "deleted 2 runs\n") ||
		!strings.Contains(got, "changed run 7 (heron, 2026-05-18T19:04, 16/68 teeth): motor_peak_c 97 → 79\n") {
		t.Errorf("undo --list: %s", got)
	}
	archive := filepath.Join(folder, "club.zip")
	mustRun(t, "", "book", "save", archive)
	for _, want := range []string{edited, logged, imported, ""} {
		mustRun(t, "", "undo")
		if text() != want {
			t.Fatalf("undone to\n%s\nwant\n%s", text(), want)
		}
	}
	if got := regear(t, "", "undo"); got.exit != exitFailed || !strings.Contains(got.stderr, "no change to undo") {
		t.Errorf("one undo too many: exit %d: %s", got.exit, got.stderr)
	}
	mustRun(t, "", "book", "restore", archive)
	if got := mustRun(t, "", "runs", "--format", "json"); strings.Count(got, `"run": `) != 5 {
		t.Errorf("restored: %s", got)
	}
	if got := strings.Join(strings.Fields(mustRun(t, "", "book")), " "); !strings.Contains(got, book+" (5 runs)") || !strings.Contains(got, filepath.FromSlash(book)+".history (1 change)") {
		t.Errorf("book: %s", got)
	}
}

// Two computers that each changed their copy hand each other files, and end equal.
func TestTwoCopiesMeet(t *testing.T) {
	inTopFolder(t)
	folder := t.TempDir()
	at := func(book string, args ...string) string {
		t.Helper()
		return mustRun(t, "", append(args, "--book", filepath.Join(folder, book))...)
	}
	file := func(name string) string { return filepath.Join(folder, name) }
	at("home.csv", "import", weekend)
	at("home.csv", "book", "save", file("1.zip"))
	if got := at("track.csv", "import", file("1.zip"), "--dry-run"); !strings.Contains(got, "  6 new\n") || !strings.Contains(got, "nothing was written") {
		t.Errorf("dry run: %s", got)
	}
	at("track.csv", "import", file("1.zip"))
	at("track.csv", "edit", "2", "--motor-peak", "76C")
	at("track.csv", "delete", "3")
	at("track.csv", "log", "--date", "2026-05-18T10:00", "--pinion", "16", "--minutes", "12", "--ambient", "24C", "--motor-peak", "79C")
	at("home.csv", "log", "--date", "2026-05-18T20:00", "--pinion", "17", "--minutes", "8", "--ambient", "22C", "--motor-peak", "74C")
	at("track.csv", "book", "save", file("2.zip"))
	got := at("home.csv", "import", file("2.zip"))
	for _, want := range []string{
		"2.zip: a copy of the log book, 6 runs\n  1 new, 1 changed there later, 1 deleted there and 4 as they are here\n",
		"new: run 7: heron, 2026-05-18 10:00, 16/68",
		"changed there later: run 2: heron, 2026-05-16 11:30, 17/68; motor peak 74 °C → 76 °C",
		"deleted there: run 3: heron, 2026-05-16 12:10, 16/68",
		"run 7 is run 8 now, as the number is another run's too",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("lacks %q:\n%s", want, got)
		}
	}
	at("home.csv", "book", "save", file("3.zip"))
	at("track.csv", "import", file("3.zip"))
	if home, track := at("home.csv", "runs", "--format", "csv"), at("track.csv", "runs", "--format", "csv"); home != track {
		t.Errorf("at home\n%s\nat the track\n%s", home, track)
	}
	if got := at("home.csv", "import", file("2.zip"), file("3.zip")); !strings.Contains(got, "nothing to change, it holds 7 runs") {
		t.Errorf("taken again: %s", got)
	}
	copied, err := os.ReadFile(file("3.zip"))
	if err != nil {
		t.Fatal(err)
	}
	keep(t, folder, "cut.zip", string(copied[:len(copied)/2]))
	half := regear(t, "", "import", file("cut.zip"), "--book", file("home.csv"))
	if half.exit != exitFailed || !strings.Contains(half.stderr, "cut.zip: holds no whole copy of a log book, save the copy again") {
		t.Errorf("half a copy: exit %d, %s", half.exit, half.stderr)
	}
	if got := at("home.csv", "undo"); !strings.Contains(got, "Undone: from a copy: ") || !strings.Contains(got, "holds 7 runs now") {
		t.Errorf("undo: %s", got)
	}
}
