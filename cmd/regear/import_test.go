package main

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"regear/analyze/logbook"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/entry"
)

// newBookFolder makes the log book one in a new folder.
func newBookFolder(t *testing.T) (folder, book string) {
	t.Helper()
	folder = filepath.ToSlash(t.TempDir()) // JSON would double what parts names on Windows
	book = folder + "/book.csv"
	t.Setenv(bookVariable, book)
	return folder, book
}

func mustRun(t *testing.T, stdin string, args ...string) string {
	t.Helper()
	got := regear(t, stdin, args...)
	if got.exit != 0 {
		t.Fatalf("%q: exit %d: %s%s", args, got.exit, got.stdout, got.stderr)
	}
	return got.stdout
}

// Every file of the demo and of the corpus of logs that can be imported changes not one
// byte when it is imported again, and the book itself stays the same.
func TestImportAgainChangesNotOneByte(t *testing.T) {
	inTopFolder(t)
	imported := 0
	for _, pattern := range []string{"testdata/demo/*.csv", "testdata/logs/*.?sv"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatal("no logs", err)
		}
		for _, file := range files {
			_, book := newBookFolder(t)
			args := []string{"import", file, "--date-order", "day-first", "--keep-both"}
			if got := regear(t, "", args...); strings.Contains(got.stderr, "add --car NAME") {
				args = append(args, "--car", "heron")
			}
			if got := regear(t, "", args...); got.exit != 0 {
				continue // what can't be imported has its message in the corpus
			}
			imported++
			before := read(t, book)
			for _, again := range [][]string{args, {"import", book}} {
				mustRun(t, "", again...)
				if read(t, book) != before {
					t.Errorf("%q changed the book", again)
				}
			}
		}
	}
	if imported < 20 {
		t.Errorf("only %d logs could be imported", imported)
	}
}

// Answers from the book are those from the log that was imported into it.
func TestBookStandsForTheLog(t *testing.T) {
	inTopFolder(t)
	_, book := newBookFolder(t)
	mustRun(t, "", "import", weekend)
	for _, args := range [][]string{
		{"advise", "--limit", "motor=80C", "--format", "json"}, {"fit", "--format", "json"},
		{"hindsight", "--format", "json"}, {"runs", "--format", "csv"},
	} {
		fromBook := mustRun(t, "", args...)
		if named := mustRun(t, "", append(args, "--book", book)...); named != fromBook {
			t.Errorf("%q: --book gives another answer", args)
		}
		fromLog := mustRun(t, "", append(args, "--log", weekend)...)
		// Places are the file's own.
		compare(t, strings.Join(args, " "), places(fromBook, book), places(fromLog, weekend))
	}
	if got := regear(t, "", "fit", "--log", weekend, "--book", book); got.exit != exitUsage {
		t.Errorf("--log and --book: exit %d", got.exit)
	}
}

// runInBook is the last cell of a run in CSV, which a log has not.
var runInBook = regexp.MustCompile(`,\d+\n$`)

// places takes the file and the line out of places: the book has its comment elsewhere.
func places(text, file string) string {
	var kept []string
	for line := range strings.Lines(text) {
		if !strings.Contains(line, file) {
			kept = append(kept, runInBook.ReplaceAllString(line, ",\n"))
		}
	}
	return strings.Join(kept, "")
}

// Refused rows, mended in the file that --rejects wrote, go in as they are.
func TestMendedRejectsGoIn(t *testing.T) {
	inTopFolder(t)
	folder, book := newBookFolder(t)
	mend := filepath.Join(folder, "mend.csv")
	mustRun(t, "", "import", "testdata/golden/bad-rows/log.csv", "--rejects", mend)
	before := strings.Count(read(t, book), "\n")
	rejects := read(t, mend)
	refused := strings.Count(rejects, "\n") - 1
	if refused < 1 {
		t.Fatal("nothing was refused")
	}
	mended := strings.NewReplacer(",fifteen,", ",15,", "118,,12", "118,24,12").Replace(rejects)
	keep(t, folder, "mend.csv", mended)
	mustRun(t, "", "import", mend)
	text := read(t, book)
	if added := strings.Count(text, "\n") - before; added != refused || strings.Contains(text, "refused_because") {
		t.Errorf("%d of %d mended rows went in:\n%s", added, refused, text)
	}
}

// Rows of logs with other headers, here in other units, go to files of their own.
func TestRejectsOfSeveralHeaders(t *testing.T) {
	inTopFolder(t)
	folder, _ := newBookFolder(t)
	metric := "date,car,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c\n2026-05-16,heron,x,68,118,22,12,84\n"
	keep(t, folder, "metric.csv", metric+"2026-05-17,heron,16,68,118,22,12,84\n")
	keep(t, folder, "us.csv", strings.NewReplacer("_c", "_f", "_mm", "_in").Replace(metric))
	mend := filepath.Join(folder, "mend.csv")
	got := mustRun(t, "", "import", filepath.Join(folder, "metric.csv"), filepath.Join(folder, "us.csv"), "--rejects", mend)
	if !strings.Contains(got, "mend-2.csv") || !strings.Contains(read(t, filepath.Join(folder, "mend-2.csv")), "ambient_f") ||
		!strings.Contains(read(t, mend), "ambient_c") {
		t.Errorf("%s\n%s", got, read(t, mend))
	}
}

// A mapping that was given once holds for the next import.
func TestColumnsAreRemembered(t *testing.T) {
	inTopFolder(t)
	folder, book := newBookFolder(t)
	text := "date,car,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,Temp mot\n2026-05-16,heron,16,68,118,22,12,176\n"
	keep(t, folder, "log.csv", text)
	log := filepath.Join(folder, "log.csv")
	if got := regear(t, "", "import", log); got.exit != exitFailed {
		t.Fatalf("exit %d", got.exit)
	}
	mustRun(t, "", "import", log, "--column", "Temp mot=motor_peak_f")
	keep(t, folder, "log.csv", strings.Replace(text, "05-16", "05-17", 1))
	mustRun(t, "", "import", log)
	if got := read(t, book); strings.Count(got, ",80,") != 2 { // 176 °F is 80 °C
		t.Errorf("got\n%s", got)
	}
}

// One log that can't be read keeps all others out.
func TestAllOrNothing(t *testing.T) {
	inTopFolder(t)
	_, book := newBookFolder(t)
	for _, bad := range []string{"testdata/no-such.csv", "testdata/demo", "testdata/demo/weekend.svg"} {
		if got := regear(t, "", "import", weekend, bad); got.exit != exitFailed {
			t.Errorf("%s: exit %d", bad, got.exit)
		}
		if _, err := os.Stat(book); !os.IsNotExist(err) {
			t.Errorf("%s: the book was written", bad)
		}
	}
}

// onBook returns what the commands stand on, and the runs of the log book.
func onBook(t *testing.T, env *environment) (*app.App, *app.Logs) {
	t.Helper()
	a := env.app(logbook.Book{Path: os.Getenv(bookVariable)})
	known, err := a.ReadBook()
	if err != nil {
		t.Fatal(err)
	}
	return a, known
}

// Questions are asked until the answer can be used, defaults are shown and taken.
func TestAsking(t *testing.T) {
	inTopFolder(t)
	newBookFolder(t)
	mustRun(t, "", "import", weekend)
	env := &environment{getenv: os.Getenv, errOut: new(bytes.Buffer), now: time.Now}
	a, known := onBook(t, env)
	// The tire is first taken for its rim, and then read across the rubber.
	answers := "\nseventeen\n16\n\n\n2.8in\nno\n\n12:30\n165\n165F\n\n40C\n\n"
	var asked bytes.Buffer
	told := runFlags{given: map[string]string{"ambient": "24C"}}
	one, err := told.enter(env, a, known, newAsker(strings.NewReader(answers), &asked))
	if err != nil {
		t.Fatalf("%v\n%s", err, asked.String())
	}
	for column, want := range map[string]string{
		"car": "heron", "pinion_teeth": "16", "spur_teeth": "68", "internal_ratio": "2.5", "tire_diameter_mm": "118",
		"run_minutes": "12.5", "esc_peak_c": "", "battery_peak_c": "40", "cells": "4", "note": "",
	} {
		f, _ := entry.ByColumn(column)
		if got := one.Draft.Text(f); got != want {
			t.Errorf("%s is %q, want %q", column, got, want)
		}
	}
	for _, want := range []string{"which car [heron]: ", "teeth of the pinion [17]: ", `"seventeen": `, `"165": no unit`,
		`"2.8in" is a rim size: measure across the rubber. Take it all the same? yes or no [no]: `} {
		if !strings.Contains(asked.String(), want) {
			t.Errorf("asked\n%s\nwithout %q", asked.String(), want)
		}
	}
	short := runFlags{given: map[string]string{}}
	if _, err := short.enter(env, a, known, newAsker(strings.NewReader("\n"), &asked)); err == nil {
		t.Error("no error though the answers ended")
	}
}

// A car file that can't be read is told of once, before anything is asked.
func TestBrokenCarFileIsNotAskedAbout(t *testing.T) {
	folder, _ := newBookFolder(t)
	keep(t, folder, "cars.toml", "[cars.heron]\ninternal = many\n")
	t.Setenv(carsVariable, filepath.Join(folder, "cars.toml"))
	env := &environment{getenv: os.Getenv, errOut: new(bytes.Buffer), now: time.Now}
	a, known := onBook(t, env)
	var asked bytes.Buffer
	told := runFlags{given: map[string]string{}}
	if _, err := told.enter(env, a, known, newAsker(strings.NewReader("heron\n"), &asked)); !errors.As(err, new(*app.CarFileError)) || asked.Len() > 0 {
		t.Errorf("asked %q, then %v", asked.String(), err)
	}
}

// What is doubtful is asked about on a terminal: no ends it, yes goes on, and a run that heat
// ended is marked. Where nobody can be asked, what was said counts.
func TestDoubtsAreAskedAbout(t *testing.T) {
	newBookFolder(t)
	for _, c := range []struct {
		answers string
		alone   bool // nobody can be asked
		stopped bool
		logged  bool
	}{{"yes\nyes\n", false, true, true}, {"no\nYES\n", false, false, true}, {"yes\nno\n", false, true, false}, {"\n\n", false, false, false}, {"", true, false, true}} {
		var out bytes.Buffer
		env := &environment{errOut: &out, getenv: os.Getenv, now: fixedNow}
		a, known := onBook(t, env)
		told := runFlags{given: map[string]string{"date": "2026-05-18", "car": "heron", "pinion": "16", "spur": "68", "internal-ratio": "2.5",
			"tire": "118mm", "minutes": "12", "ambient": "24C", "motor-peak": "266F", "note": "thermal shutdown"}}
		run, err := told.enter(env, a, known, nil)
		if err != nil {
			t.Fatal(err)
		}
		asking := newAsker(strings.NewReader(c.answers), &out)
		if c.alone {
			asking = nil
		}
		one, err := told.check(env, run, asking)
		if (err == nil) != c.logged || one == nil || one.Runs[0].StoppedByHeat != c.stopped {
			t.Errorf("%q: %v, %v", c.answers, one, err)
		}
		want := []string{`--motor-peak: "266F": is very hot, check the reading and the unit`}
		if c.alone {
			want = append(want, `--note: "thermal shutdown": reads like a heat stop, if heat ended this run, add --stopped-by-heat`)
		}
		for _, w := range want {
			if strings.Count(out.String(), w) != 1 {
				t.Errorf("%q: told %s\nwant %s", c.answers, out.String(), w)
			}
		}
	}
}

// Progress is shown once reading takes a second, and is gone afterwards.
func TestProgress(t *testing.T) {
	inTopFolder(t)
	file, err := os.Open(weekend)
	if err != nil {
		t.Fatal(err)
	}
	shown, err := os.CreateTemp(t.TempDir(), "")
	if err != nil {
		t.Fatal(err)
	}
	defer shown.Close()
	p := &progress{File: file, stop: make(chan struct{}), stopped: make(chan struct{})}
	go p.show(shown, 1000)
	p.read.Store(250)
	time.Sleep(time.Second + refresh)
	if err := p.Close(); err != nil {
		t.Error(err)
	}
	if got := read(t, shown.Name()); !strings.Contains(got, "reading "+weekend+": 25 %") || !strings.HasSuffix(got, clearLine) {
		t.Errorf("showed %q", got)
	}
}

// goldenBook is the log book of one golden case, in a folder of its own. Files that the
// program writes there, other than the book's lock and backup, are goldens too, under
// their names with -after.
type goldenBook struct{ dir, folder string }

const bookFolder = "BOOK-FOLDER"

func newGoldenBook(t *testing.T, dir string) goldenBook {
	t.Helper()
	b := goldenBook{dir, filepath.ToSlash(t.TempDir())}
	if text := golden(t, dir, "book.csv"); text != "" {
		keep(t, b.folder, "book.csv", text)
	}
	t.Setenv(bookVariable, b.folder+"/book.csv")
	return b
}

// show puts the folder's path where its name stands.
func (b goldenBook) show(text string) string { return strings.ReplaceAll(text, bookFolder, b.folder) }

// hide is the inverse of show.
func (b goldenBook) hide(r result) result {
	r.stdout, r.stderr = b.hidden(r.stdout), b.hidden(r.stderr)
	return r
}

func (b goldenBook) hidden(text string) string {
	if runtime.GOOS == "windows" { // its own words for a missing folder, and for where the book lies
		text = strings.ReplaceAll(text, syscall.Errno(3).Error(), "no such file or directory")
		text = strings.ReplaceAll(text, filepath.FromSlash(b.folder+"/"), bookFolder+"/")
	}
	return strings.ReplaceAll(text, b.folder+"/", bookFolder+"/")
}

// written returns the texts of the files in the folder, by their names with -after. A book
// that is as it was is not among them.
func (b goldenBook) written(t *testing.T) map[string]string {
	t.Helper()
	entries, err := os.ReadDir(b.folder)
	if err != nil {
		t.Fatal(err)
	}
	texts := map[string]string{}
	for _, e := range entries {
		ending := filepath.Ext(e.Name())
		if e.IsDir() { // the history, which tests of its own look into
			continue
		}
		text := b.hidden(golden(t, b.folder, e.Name()))
		if ending == ".html" {
			text = wordsOf(text)
		}
		if ending == ".lock" || ending == ".keys" || text == golden(t, b.dir, e.Name()) {
			continue
		}
		texts[strings.TrimSuffix(e.Name(), ending)+"-after"+ending] = text
	}
	return texts
}

// wordsOf leaves out of a page how it looks: its style and its drawings.
func wordsOf(page string) string {
	page = regexp.MustCompile(`(?s)<style>.*?</style>`).ReplaceAllString(page, "<style>…</style>")
	return regexp.MustCompile(`(?s)(<svg.*?</desc>).*?</svg>`).ReplaceAllString(page, "$1…</svg>")
}

func (b goldenBook) keep(t *testing.T) {
	t.Helper()
	for _, old := range b.goldens(t) {
		keep(t, b.dir, old, "")
	}
	for name, text := range b.written(t) {
		keep(t, b.dir, name, text)
	}
}

func (b goldenBook) compare(t *testing.T) {
	t.Helper()
	written := b.written(t)
	for _, name := range b.goldens(t) {
		if _, ok := written[name]; !ok {
			t.Errorf("%s: the program did not write it", name)
		}
	}
	for name, text := range written {
		compare(t, name, text, golden(t, b.dir, name))
	}
}

func (b goldenBook) goldens(t *testing.T) []string {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(b.dir, "*-after.*"))
	if err != nil {
		t.Fatal(err)
	}
	for i := range paths {
		paths[i] = filepath.Base(paths[i])
	}
	return paths
}
