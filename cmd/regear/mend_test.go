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
