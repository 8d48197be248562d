package logbook

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gofrs/flock"

	"regear/analyze/logbook/wholefile"
	"regear/analyze/runlog"
)

// newBook returns a book in a folder of its own that holds some runs.
func newBook(t *testing.T, entries ...Entry) Book {
	t.Helper()
	b := Book{Path: filepath.Join(t.TempDir(), "data", "book.csv")}
	if len(entries) > 0 {
		add(t, b, of(entries...))
	}
	return b
}

func add(t *testing.T, b Book, c Contents) Merged {
	t.Helper()
	merged, err := b.Add([]Contents{c}, Undecided)
	if err != nil || len(merged.Conflicts) > 0 {
		t.Fatal(err, merged.Conflicts)
	}
	return merged
}

func read(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// write writes a file and the folder that it is to lie in.
func write(t *testing.T, path, text string) {
	t.Helper()
	if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), os.WriteFile(path, []byte(text), 0o644)); err != nil {
		t.Fatal(err)
	}
}

// contents reads a log text as an import does.
func contents(t *testing.T, text string) Contents {
	t.Helper()
	logs, err := ReadLogs("log.csv", strings.NewReader(text), runlog.Options{KeepCells: true}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return FromLog(logs[0])
}

const ownColumns = `date,car,pinion_teeth,spur_teeth,tire_diameter_in,ambient_f,run_minutes,motor_peak_f,wind,,wind,empty,refused_because
2026-05-16T10:50,heron,17,68,4.65,75,12:30,180,"light, gusts",x,=1+1,,old reason
2026-05-16,heron,16,68,4.65,75,12,170,"two
lines #1
# lines",,-3,,
`

// The book is in the contract's columns and units, and keeps the columns that it lacks.
// 4.65 in are 118.11 mm, 180 °F 82.2222 °C, 170 °F 76.6667 °C and 75 °F 23.8889 °C by
// the units' definitions, and 12:30 is 12.5 minutes.
func TestBookText(t *testing.T) {
	b := newBook(t)
	add(t, b, contents(t, ownColumns))
	want := `date,car,pinion_teeth,spur_teeth,internal_ratio,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c,esc_peak_c,battery_peak_c,motor_start_c,esc_start_c,battery_start_c,stopped_by_heat,cells,motor,surface,cooling,skip,note,run_in_book,wind,column 10,wind column 11
2026-05-16,heron,16,68,1,118.11,23.8889,12,76.6667,,,,,,,,,,,,,1,"two
lines #1
# lines",,-3
2026-05-16T10:50,heron,17,68,1,118.11,23.8889,12.5,82.2222,,,,,,,,,,,,,2,"light, gusts",x,'=1+1
`
	if got := read(t, b.Path); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// Importing again writes nothing at all.
func TestAgainChangesNotOneByte(t *testing.T) {
	b := newBook(t)
	log := contents(t, ownColumns)
	add(t, b, log)
	before, err := os.Stat(b.Path)
	if err != nil {
		t.Fatal(err)
	}
	text := read(t, b.Path)
	if merged := add(t, b, log); merged.Changed || merged.Tallies[0].Known != 2 {
		t.Errorf("%+v", merged.Tallies)
	}
	// What the book itself says is known too.
	if merged := add(t, b, contents(t, text)); merged.Changed {
		t.Error("the book imported into itself changes it")
	}
	after, err := os.Stat(b.Path)
	if err != nil || !os.SameFile(before, after) || !after.ModTime().Equal(before.ModTime()) || read(t, b.Path) != text {
		t.Errorf("the book was written (%v)", err)
	}
}

// A book that a person has saved in another form stays as it is until something is added.
func TestBookAsSavedBySpreadsheet(t *testing.T) {
	b := newBook(t, aRun(0), aRun(30))
	saved := strings.ReplaceAll(strings.ReplaceAll(read(t, b.Path), ",", ";"), "2.5;", "2,5;")
	lines := strings.SplitAfter(saved, "\n")
	saved = "\uFEFF# my runs\n" + lines[0] + "# the second day\n" + lines[2] + lines[1]
	saved = strings.ReplaceAll(saved, "\n", "\r\n")
	write(t, b.Path, saved)
	if merged := add(t, b, of(aRun(0))); merged.Changed || read(t, b.Path) != saved {
		t.Error("changed, though the run was known")
	}
	add(t, b, of(aRun(40)))
	text := read(t, b.Path)
	if !strings.HasPrefix(text, "# my runs\n# the second day\ndate,car,") || strings.Count(text, "\n") != 6 {
		t.Errorf("got\n%s", text)
	}
	if got := add(t, b, of(aRun(0), aRun(30), aRun(40))); got.Changed || len(got.Entries) != 3 {
		t.Errorf("holds %d runs", len(got.Entries))
	}
}

// A conflict leaves the book alone; either decision settles it for good.
func TestConflictInTheFile(t *testing.T) {
	for decide, wantRuns := range map[Decision]int{Replace: 1, KeepBoth: 2} {
		b := newBook(t, aRun(0))
		text := read(t, b.Path)
		merged, err := b.Add([]Contents{of(hotter(aRun(0)), aRun(30))}, Undecided)
		if err != nil || len(merged.Conflicts) != 1 || read(t, b.Path) != text {
			t.Fatalf("%v: %d conflicts", err, len(merged.Conflicts))
		}
		merged, err = b.Add([]Contents{of(hotter(aRun(0)))}, decide)
		if err != nil || len(merged.Entries) != wantRuns {
			t.Errorf("decision %d: %v: %d runs", decide, err, len(merged.Entries))
		}
		if again := add(t, b, of(hotter(aRun(0)))); again.Changed {
			t.Errorf("decision %d: changed once more", decide)
		}
	}
}

func TestPreviewWritesNothing(t *testing.T) {
	b := newBook(t)
	merged, err := b.Preview([]Contents{of(aRun(0))}, Undecided)
	if err != nil || !merged.Changed || merged.Tallies[0].Added != 1 {
		t.Errorf("%v %+v", err, merged.Tallies)
	}
	if _, err := os.Stat(filepath.Dir(b.Path)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the folder is there: %v", err)
	}
}

func TestBookChangedMeanwhile(t *testing.T) {
	b := newBook(t, aRun(0))
	old, err := b.open()
	if err != nil {
		t.Fatal(err)
	}
	edited := read(t, b.Path) + "# a note\n"
	for what, change := range map[string]func(){
		"edited":  func() { write(t, b.Path, edited) },
		"removed": func() { os.Remove(b.Path) },
	} {
		change()
		if err := b.replace(old, []byte("new"), Change{}); !errors.Is(err, ErrChanged) {
			t.Errorf("%s: %v", what, err)
		}
		if text, err := os.ReadFile(b.Path); err == nil && string(text) != edited {
			t.Errorf("%s: written over", what)
		}
		nothingBeside(t, b)
	}
	write(t, b.Path, edited)
	if err := b.replace(nil, []byte("new"), Change{}); !errors.Is(err, ErrChanged) || read(t, b.Path) != edited {
		t.Errorf("appeared: %v", err)
	}
}

// snapshot reads a book that must be readable.
func snapshot(t *testing.T, b Book) Snapshot {
	t.Helper()
	s, err := b.Snapshot(runlog.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Of several who saw the same state one adds to it, and the others are told; nobody's
// addition is lost and nobody writes over another's.
func TestAddToWhatWasSeen(t *testing.T) {
	for name, before := range map[string][]Entry{"no book": nil, "a book": {aRun(0)}} {
		b := newBook(t, before...)
		seen := snapshot(t, b)
		if len(seen.Log.Runs) != len(before) || (seen.Mark == "") != (before == nil) {
			t.Errorf("%s: %d runs, mark %q", name, len(seen.Log.Runs), seen.Mark)
		}
		if again := snapshot(t, b); again.Mark != seen.Mark {
			t.Errorf("%s: two marks of one state", name)
		}
		if _, err := b.AddTo("0123456789abcdef", []Contents{of(aRun(10))}, Undecided); !errors.Is(err, ErrStale) {
			t.Errorf("%s: a mark of no state: %v", name, err)
		}
		if merged, err := b.AddTo(seen.Mark, []Contents{of(aRun(10))}, Undecided); err != nil || merged.Tallies[0].Added != 1 {
			t.Fatalf("%s: %v %+v", name, err, merged.Tallies)
		}
		text := read(t, b.Path)
		for _, stale := range []Contents{of(aRun(20)), of(aRun(10)), of()} {
			merged, err := b.AddTo(seen.Mark, []Contents{stale}, KeepBoth)
			if !errors.Is(err, ErrStale) || merged.Changed || read(t, b.Path) != text {
				t.Errorf("%s: stale: %v", name, err)
			}
		}
		now := snapshot(t, b)
		if now.Mark == seen.Mark || len(now.Log.Runs) != len(before)+1 {
			t.Errorf("%s: the state after is that before", name)
		}
		if _, err := b.AddTo(now.Mark, []Contents{of(aRun(20))}, Undecided); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		// A book that came back to a state is in that state.
		write(t, b.Path, text)
		if back := snapshot(t, b); back.Mark != now.Mark {
			t.Errorf("%s: the same bytes have another mark", name)
		}
		nothingBeside(t, b)
	}
}

// Many at once, each trying again from the newest state when told so, lose nothing.
func TestManyAddToAtOnce(t *testing.T) {
	const writers = 8
	b := newBook(t)
	b.patience = time.Minute // a slow disk is no reason to fail
	var all sync.WaitGroup
	for i := range writers {
		all.Go(func() {
			for {
				seen, err := b.Snapshot(runlog.Options{})
				if err == nil {
					_, err = b.AddTo(seen.Mark, []Contents{of(aRun(i))}, Undecided)
				}
				if err == nil {
					return
				}
				if !errors.Is(err, ErrStale) {
					t.Error(err)
					return
				}
			}
		})
	}
	all.Wait()
	if got := snapshot(t, b); len(got.Log.Runs) != writers {
		t.Errorf("%d runs of %d are in the book", len(got.Log.Runs), writers)
	}
}

func TestSnapshotOfOddBooks(t *testing.T) {
	b := newBook(t)
	write(t, b.Path, " \n\n")
	blank := snapshot(t, b)
	if len(blank.Log.Runs) != 0 || blank.Mark == "" {
		t.Errorf("a blank book: %+v", blank)
	}
	if _, err := b.AddTo(blank.Mark, []Contents{of(aRun(0))}, Undecided); err != nil {
		t.Error(err)
	}
	if _, err := (Book{Path: filepath.Dir(b.Path)}).Snapshot(runlog.Options{}); err == nil {
		t.Error("a folder is a book")
	}
	write(t, b.Path, "no header at all\n")
	if _, err := b.Snapshot(runlog.Options{}); err == nil {
		t.Error("a text without a header is a book")
	}
}

// nothingBeside checks that no half-written file is left.
func nothingBeside(t *testing.T, b Book) {
	t.Helper()
	for _, beside := range []string{".*", ".history/*"} {
		if left, err := filepath.Glob(b.Path + beside + wholefile.Suffix); err != nil || len(left) > 0 {
			t.Errorf("left behind: %v (%v)", left, err)
		}
	}
}

func TestBookOpenInSpreadsheet(t *testing.T) {
	b := newBook(t, aRun(0))
	text := read(t, b.Path)
	for _, mark := range []string{".~lock.book.csv#", "~$book.csv"} {
		path := filepath.Join(filepath.Dir(b.Path), mark)
		write(t, path, "")
		_, err := b.Add([]Contents{of(aRun(30))}, Undecided)
		if err == nil || !strings.Contains(err.Error(), "close it") || read(t, b.Path) != text {
			t.Errorf("%s: %v", mark, err)
		}
		os.Remove(path)
	}
}

func TestBookLocked(t *testing.T) {
	b := newBook(t, aRun(0))
	b.patience = 30 * time.Millisecond
	lock := flock.New(b.Path + ".lock")
	if held, err := lock.TryLock(); !held || err != nil {
		t.Fatal(held, err)
	}
	if _, err := b.Add([]Contents{of(aRun(30))}, Undecided); !errors.Is(err, errLocked) {
		t.Errorf("%v", err)
	}
	if err := lock.Unlock(); err != nil {
		t.Fatal(err)
	}
	add(t, b, of(aRun(30)))
}

// Rows that can't be used would be lost by writing the book anew.
func TestBookWithBadRows(t *testing.T) {
	for name, bad := range map[string]string{
		"bad cell": "2026-05-16T12:00,heron,sixteen,68,1,118,24,12,78\n",
		"no car":   "2026-05-16T12:00,,16,68,1,118,24,12,78\n",
	} {
		b := newBook(t)
		text := "date,car,pinion_teeth,spur_teeth,internal_ratio,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c\n" + bad
		write(t, b.Path, text)
		var rows *RowsError
		_, err := b.Add([]Contents{of(aRun(0))}, Undecided)
		if !errors.As(err, &rows) || rows.Problems[0].Line != 2 || read(t, b.Path) != text {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestBookThroughLink(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("links need a right there that few users have")
	}
	b := newBook(t, aRun(0))
	if err := os.Chmod(b.Path, 0o600); err != nil {
		t.Fatal(err)
	}
	link := Book{Path: filepath.Join(t.TempDir(), "link.csv")}
	if err := os.Symlink(b.Path, link.Path); err != nil {
		t.Fatal(err)
	}
	add(t, link, of(aRun(30)))
	if info, err := os.Lstat(link.Path); err != nil || info.Mode()&fs.ModeSymlink == 0 {
		t.Errorf("the link was replaced: %v %v", info, err)
	}
	if info, err := os.Stat(b.Path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("permissions: %v %v", info.Mode(), err)
	}
	if got := add(t, b, of(aRun(30))); got.Changed {
		t.Error("what was added through the link is not in the book")
	}
	if err := os.Remove(b.Path); err != nil {
		t.Fatal(err)
	}
	if _, err := link.Add([]Contents{of(aRun(30))}, Undecided); err == nil || !strings.Contains(err.Error(), "leads nowhere") {
		t.Errorf("dangling: %v", err)
	}
}

// A book with a name is called by it, in the places of its runs and in errors.
func TestBookIsCalledByItsName(t *testing.T) {
	b := newBook(t, aRun(0))
	b.Name = "log book"
	merged, err := b.Preview([]Contents{of(hotter(aRun(0)))}, Undecided)
	if err != nil || merged.Conflicts[0].Kept.File != b.Name {
		t.Errorf("%v %+v", err, merged.Conflicts)
	}
	seen, err := b.Snapshot(runlog.Options{})
	if err != nil || seen.Log.Name != b.Name || seen.Log.Runs[0].File != b.Name {
		t.Errorf("%v %+v", err, seen.Log)
	}
	for what, spoil := range map[string]func(path string) error{
		"open in a spreadsheet": func(path string) error {
			return os.WriteFile(filepath.Join(filepath.Dir(path), "~$book.csv"), nil, 0o644)
		},
		"no header":       func(path string) error { return os.WriteFile(path, []byte("no header\n"), 0o644) },
		"write-protected": func(path string) error { return os.Chmod(path, 0o444) },
		"a folder":        func(path string) error { return errors.Join(os.Remove(path), os.Mkdir(path, 0o755)) },
		"no folder": func(path string) error {
			return errors.Join(os.RemoveAll(filepath.Dir(path)), os.WriteFile(filepath.Dir(path), nil, 0o644))
		},
	} {
		b.Path = newBook(t, aRun(0)).Path
		if err := spoil(b.Path); err != nil {
			t.Fatal(err)
		}
		_, seenErr := b.Snapshot(runlog.Options{})
		_, addErr := b.Add([]Contents{of(aRun(30))}, Undecided)
		err := errors.Join(seenErr, addErr)
		if addErr == nil || !strings.Contains(addErr.Error(), b.Name) || strings.Contains(err.Error(), filepath.Dir(b.Path)) {
			t.Errorf("%s: %v", what, err)
		}
	}
}

func TestBookIsNoFile(t *testing.T) {
	b := Book{Path: t.TempDir()}
	if _, err := b.Add([]Contents{of(aRun(0))}, Undecided); err == nil {
		t.Error("added to a folder")
	}
}

// On Linux the path is that of user data in file-hierarchy(7) (systemd's manual, read), on
// the others the one that the documentation of [os.UserConfigDir] names.
func TestDefaultPath(t *testing.T) {
	abs := t.TempDir()
	for _, c := range []struct {
		system string
		env    map[string]string
		want   string
	}{
		{"linux", map[string]string{"XDG_DATA_HOME": abs, "HOME": "/home/x"}, filepath.Join(abs, "regear", "book.csv")},
		{"linux", map[string]string{"XDG_DATA_HOME": "data", "HOME": "/home/x"}, filepath.FromSlash("/home/x/.local/share/regear/book.csv")},
		{"linux", map[string]string{"HOME": "/home/x"}, filepath.FromSlash("/home/x/.local/share/regear/book.csv")},
		{"darwin", map[string]string{"HOME": "/Users/x"}, filepath.FromSlash("/Users/x/Library/Application Support/regear/book.csv")},
		{"windows", map[string]string{"AppData": abs}, filepath.Join(abs, "regear", "book.csv")},
		{"linux", nil, ""}, {"darwin", nil, ""}, {"windows", nil, ""},
	} {
		got, err := defaultPath(c.system, func(name string) string { return c.env[name] })
		if got != c.want || (err == nil) != (c.want != "") {
			t.Errorf("%s %v: %q, %v", c.system, c.env, got, err)
		}
	}
}

func TestColumnsAreRemembered(t *testing.T) {
	b := newBook(t)
	if err := b.Remember(Remembered{Columns: map[string]string{"Temp mot": "motor_peak_f", "Luft": "ambient_c"}}); err != nil {
		t.Fatal(err)
	}
	if err := b.Remember(Remembered{Columns: map[string]string{"temp-MOT": "motor_peak_c"}}); err != nil {
		t.Fatal(err)
	}
	got, err := b.Remembered()
	if columns := got.Columns; err != nil || len(columns) != 2 || columns["temp-MOT"] != "motor_peak_c" || columns["Luft"] != "ambient_c" {
		t.Errorf("%v %v", got, err)
	}
	nothing := map[string]string{"Kilometer": ""} // a header that is not read
	err = b.Remember(Remembered{Columns: nothing})
	if got, _ := b.Remembered(); err != nil || len(got.Columns) != 3 || got.Columns["Kilometer"] != "" {
		t.Errorf("%v %v", got, err)
	}
	if err := b.Forget("Kilometer="); err != nil {
		t.Error(err)
	}
	path := b.ColumnsPlace()
	write(t, path, read(t, path)+"nonsense\n")
	if _, err := b.Remembered(); err == nil || !strings.HasPrefix(err.Error(), path+":4: ") {
		t.Errorf("%v", err)
	}
	b.Name = "log book" // whoever calls the book by a name is not to read where it lies
	if _, err := b.Remembered(); err == nil || !strings.HasPrefix(err.Error(), "columns.txt:4: ") {
		t.Errorf("%v", err)
	}
	if err := errors.Join(os.Remove(path), os.Mkdir(path, 0o755)); err != nil {
		t.Fatal(err)
	}
	_, err = b.Remembered()
	rememberErr := b.Remember(Remembered{Columns: map[string]string{"Luft": "ambient_f"}})
	if err == nil || rememberErr == nil || strings.Contains(errors.Join(err, rememberErr).Error(), filepath.Dir(b.Path)) {
		t.Errorf("%v, %v", err, rememberErr)
	}
}

// FuzzBook checks that whatever an import reads comes back from the book as it went in,
// columns that are not read and all.
func FuzzBook(f *testing.F) {
	f.Add([]byte(ownColumns))
	f.Add([]byte("\uFEFFdate,car,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c,wi\xffnd\n" +
		"2026-05-16T10:50,heron,17,68,118,24,12,80,calm\n"))
	for _, pattern := range []string{"logs/*.?sv", "demo/*.csv"} {
		files, err := filepath.Glob(filepath.Join("..", "..", "testdata", pattern))
		if err != nil || len(files) == 0 {
			f.Fatal("no seeds", err)
		}
		for _, name := range files {
			text, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(text)
		}
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		logs, err := ReadLogs("log.csv", bytes.NewReader(text), runlog.Options{DateOrder: runlog.DayFirst, KeepCells: true}, nil)
		if err != nil {
			return
		}
		log := logs[0]
		for i := range log.Runs {
			if log.Runs[i].Car == "" {
				log.Runs[i].Car = "heron"
			}
		}
		c := FromLog(log)
		c = Merge(Contents{}, []Contents{c}, KeepBoth).Contents
		for i, e := range c.Entries {
			e.Number = i + 1
		}
		if _, err := (Book{Path: "book.csv"}).compose(&c); err != nil {
			t.Fatalf("%v", err)
		}
	})
}
