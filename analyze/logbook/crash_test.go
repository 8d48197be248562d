//go:build unix

package logbook

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// childVariable makes the test's program import into the book that it names.
const childVariable = "REGEAR_TEST_IMPORT"

// TestMain lets the test's program be the import that is killed: started with
// childVariable it adds runs one by one, from the first to the last that it is told,
// and says after each that it is in the book.
func TestMain(m *testing.M) {
	path := os.Getenv(childVariable)
	if path == "" {
		os.Exit(m.Run())
	}
	if err := importRuns(Book{Path: path}, os.Args[1:]); err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
}

// importRuns reads its orders: the first and the last run, the size in bytes beyond which
// files can't grow, the user to become, and how to mend the book instead, which is 0 for
// not at all, and else one more than the place in mends, or above them for all in turn; the
// first order is then where in turn to begin.
func importRuns(b Book, args []string) error {
	var orders [5]int
	for i := range orders {
		var err error
		if orders[i], err = strconv.Atoi(args[i]); err != nil {
			return err
		}
	}
	first, last, limit, user, mend := orders[0], orders[1], orders[2], orders[3], orders[4]
	if limit > 0 {
		// A write beyond the limit then fails as one on a full disk does.
		signal.Ignore(syscall.SIGXFSZ)
		size := &syscall.Rlimit{Cur: uint64(limit), Max: uint64(limit)}
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, size); err != nil {
			return err
		}
	}
	if user > 0 {
		if err := syscall.Setuid(user); err != nil {
			return err
		}
	}
	fmt.Println("ready")
	for n := first; mend > 0 && n <= last; n++ {
		if mend <= len(mends) {
			n = mend - 1
		}
		if err := mends[n%len(mends)](b, n); err != nil {
			return err
		}
		seen, err := b.Snapshot(runlog.Options{})
		if err != nil {
			return err
		}
		fmt.Println("now", seen.Mark)
		if mend <= len(mends) {
			return nil
		}
	}
	if mend > 0 {
		return nil
	}
	for n := first; n <= last; n++ {
		_, err := b.Add([]Contents{of(numbered(n))}, Undecided)
		for errors.Is(err, errLocked) { // as a slow machine with others at work may make it; it says to try again
			_, err = b.Add([]Contents{of(numbered(n))}, Undecided)
		}
		if err != nil {
			return err
		}
		fmt.Println("added", n)
	}
	return nil
}

// mends are the ways to change a book of some runs.
var mends = []func(b Book, n int) error{
	func(b Book, n int) error {
		_, err := b.Add([]Contents{of(numbered(n), numbered(n+1_000_000))}, Undecided)
		return err
	},
	func(b Book, n int) error {
		runs, err := b.Snapshot(runlog.Options{})
		if err != nil {
			return err
		}
		from := runs.Log.Runs[n%len(runs.Log.Runs)]
		to := from
		to.Minutes = units.Minutes(float64(n%50)/4 + 1)
		_, err = b.Edit(from, to)
		return err
	},
	func(b Book, n int) error { _, err := b.Undo(nil); return err },
	func(b Book, n int) error {
		runs, err := b.Snapshot(runlog.Options{})
		if err != nil {
			return err
		}
		return b.Delete(runs.Log.Runs[n%len(runs.Log.Runs)])
	},
}

// numbered returns an invented run that its moment tells from all others.
func numbered(n int) Entry {
	e := aRun(0)
	e.When = e.When.Add(time.Duration(n) * time.Minute)
	e.Note = fmt.Sprintf("run %d, \"quoted\"\nand on two lines", n)
	return e
}

func child(b Book, orders ...int) *exec.Cmd {
	args := make([]string, 5)
	for i := range args {
		args[i] = "0"
		if i < len(orders) {
			args[i] = strconv.Itoa(orders[i])
		}
	}
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = append(os.Environ(), childVariable+"="+b.Path)
	return cmd
}

// holds checks that every line of the book is whole and that it holds every one of
// some runs, and returns how many it holds.
func holds(t *testing.T, b Book, added map[int]bool) int {
	t.Helper()
	book, err := b.Preview(nil, Undecided)
	if err != nil {
		t.Fatal("torn: ", err)
	}
	here := map[string]bool{}
	for _, line := range rows(book.Contents) {
		here[line] = true
	}
	for n := range added {
		if want := rows(of(numbered(n)))[0]; !here[want] {
			t.Fatalf("run %d was added and is lost", n)
		}
	}
	return len(book.Entries)
}

// killed runs a child, kills it after a while, and hands over each line that it wrote.
func killed(t *testing.T, cmd *exec.Cmd, after time.Duration, told func(line string)) {
	t.Helper()
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	if !lines.Scan() || lines.Text() != "ready" {
		t.Fatalf("it did not start: %s", lines.Text())
	}
	timer := time.AfterFunc(after, func() { cmd.Process.Kill() })
	for lines.Scan() {
		told(lines.Text())
	}
	cmd.Wait()
	timer.Stop()
}

// The issue asks for 500 kills, 0 lost, 0 torn.
func TestKilledImportsLoseNothing(t *testing.T) {
	kills := 500
	if testing.Short() {
		kills = 50
	}
	b := newBook(t)
	rng := rand.New(rand.NewPCG(1, 2))
	added := map[int]bool{}
	next, done := 0, 0
	// The window of time in which an import is killed follows how long imports take here,
	// so that about as many kills come before the end of the first as behind it.
	const wider = 1.1
	window := 40 * time.Millisecond
	for done < kills {
		before := len(added)
		killed(t, child(b, next, next+1_000_000), time.Duration(rng.Int64N(int64(window))), func(line string) {
			n, err := strconv.Atoi(strings.TrimPrefix(line, "added "))
			if err != nil {
				t.Fatalf("an import failed: %s", line)
			}
			added[n] = true
			next = n + 1
		})
		if len(added) == before {
			window = time.Duration(float64(window) * wider)
		} else {
			window = time.Duration(float64(window) / wider)
		}
		next++ // one may be in the book without having been reported
		done++
		holds(t, b, nil)
	}
	runs := holds(t, b, added)
	if extra := runs - len(added); extra > done {
		t.Errorf("%d runs are in the book that nobody reported, of %d kills", extra, done)
	}
	add(t, b, of(numbered(next)))
	nothingBeside(t, b)
	t.Logf("%d kills, %d runs reported and in the book, 0 lost, 0 torn, %d in it unreported", done, len(added), runs-len(added))
	if len(added) < kills/10 {
		t.Errorf("only %d imports ended: the kills come too early to show anything", len(added))
	}
}

// Killed anywhere among imports, edits, undos and deletes, the book is as it was before the change
// or as it is after it, and each change can be undone. The issue asks for 120 kills.
func TestKilledMends(t *testing.T) {
	kills := 120
	if testing.Short() {
		kills = 30
	}
	b := newBook(t, numbered(-1), numbered(-2), numbered(-3))
	rng := rand.New(rand.NewPCG(3, 4))
	states := []string{snapshot(t, b).Mark} // that were reported, and those that were seen after a kill
	next, reported := 0, 0
	for range kills {
		cmd := child(b, next, next+1_000_000, 0, 0, len(mends)+1)
		killed(t, cmd, time.Duration(rng.Int64N(int64(60*time.Millisecond))), func(line string) {
			mark, ok := strings.CutPrefix(line, "now ")
			if !ok {
				t.Fatalf("failed: %s", line)
			}
			states = append(states, mark)
			next, reported = next+1, reported+1
		})
		next++
		now, last := snapshot(t, b), states[len(states)-1]
		if len(now.Log.Problems) > 0 {
			t.Fatal("torn: ", now.Log.Problems)
		}
		changes, err := b.History()
		if err != nil {
			t.Fatal(err)
		}
		// What was not reported was either not done, done whole, or an undo done whole.
		doneWhole := len(changes) > 0 && changes[0].Before == last
		if now.Mark != last && !doneWhole && !slices.Contains(states, now.Mark) {
			t.Fatalf("the book is in no state that it was put into, after %d kills", kills)
		}
		if now.Mark != last {
			states = append(states, now.Mark)
		}
		numbers := map[int]bool{}
		for _, r := range now.Log.Runs {
			if numbers[r.Number] {
				t.Fatalf("run %d is there twice", r.Number)
			}
			numbers[r.Number] = true
		}
	}
	for range fewestChanges {
		changes, err := b.History()
		if err != nil {
			t.Fatal(err)
		}
		if len(changes) == 0 { // undos were as many as the other changes
			break
		}
		if undo(t, b); snapshot(t, b).Mark != changes[0].Before {
			t.Fatalf("undoing %q gave another book", changes[0].What)
		}
	}
	nothingBeside(t, b)
	t.Logf("%d kills, %d changes reported", kills, reported)
	if reported < kills/2 {
		t.Errorf("only %d changes ended: the kills come too early to show anything", reported)
	}
}

// A disk that fills up anywhere in an import, an edit, an undo or a delete leaves the book as it was.
func TestNoRoomToMend(t *testing.T) {
	var entries []Entry
	for n := range 20 {
		entries = append(entries, numbered(100+n))
	}
	b := newBook(t, entries...)
	add(t, b, of(numbered(90)))
	size := len(read(t, b.Path))
	tried := 0
	for mend := range mends {
		for limit := 1; limit < size; limit += size / 25 {
			failing(t, b, syscall.EFBIG.Error(), 0, 0, limit, 0, mend+1)
			tried++
		}
	}
	for mend := range mends {
		if out, err := child(b, 0, 0, 3*size, 0, mend+1).Output(); err != nil {
			t.Errorf("with room: %v: %s", err, out)
		}
	}
	t.Logf("%d full disks", tried)
}

// Several imports at once lose nothing either.
func TestImportsAtOnce(t *testing.T) {
	const imports, each = 4, 25
	b := newBook(t)
	var running []*exec.Cmd
	added := map[int]bool{}
	for i := range imports {
		cmd := child(b, i*1000+1, i*1000+each)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		running = append(running, cmd)
		for n := range each {
			added[i*1000+1+n] = true
		}
	}
	for _, cmd := range running {
		if err := cmd.Wait(); err != nil {
			t.Errorf("an import failed: %v", err)
		}
	}
	if runs := holds(t, b, added); runs != len(added) {
		t.Errorf("%d runs, want %d", runs, len(added))
	}
}

// failing runs an import that must fail, and checks that the book and its folder are
// as they were.
func failing(t *testing.T, b Book, why string, orders ...int) {
	t.Helper()
	before := read(t, b.Path)
	out, err := child(b, orders...).Output()
	if err == nil || !strings.Contains(string(out), why) {
		t.Errorf("%v: said %q, want %q", err, out, why)
	}
	if read(t, b.Path) != before {
		t.Error("the book was changed")
	}
	nothingBeside(t, b)
}

// Files that can't grow stand for a full disk: wherever the writing stops, the book is
// as it was. The book is above 2000 bytes, so that a small limit stops the backup and a
// large one the book itself.
func TestNoRoom(t *testing.T) {
	var entries []Entry
	for n := range 30 {
		entries = append(entries, numbered(n))
	}
	b := newBook(t, entries...)
	size := len(read(t, b.Path))
	for limit := 1; limit <= size; limit += size/20 + 1 {
		failing(t, b, syscall.EFBIG.Error(), 100, 100, limit)
	}
	failing(t, b, syscall.EFBIG.Error(), 100, 100, size)
	if out, err := child(b, 100, 100, 2*size).Output(); err != nil {
		t.Errorf("with room: %v: %s", err, out)
	}
}

// A disk that is really full, where the test may make one.
func TestFullDisk(t *testing.T) {
	folder := t.TempDir()
	unmount, err := mountSmall(folder, 64<<10)
	if err != nil {
		t.Skipf("no right to mount a small disk (%v); TestNoRoom stands in for it", err)
	}
	defer unmount()
	b := Book{Path: filepath.Join(folder, "book.csv")}
	var entries []Entry
	for n := range 30 {
		entries = append(entries, numbered(n))
	}
	add(t, b, of(entries...))
	filler, err := os.Create(filepath.Join(folder, "filler"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(filler, neverending{}); !errors.Is(err, syscall.ENOSPC) {
		t.Fatalf("the disk did not fill up: %v", err)
	}
	filler.Close()
	failing(t, b, syscall.ENOSPC.Error(), 100, 100)
	if err := os.Remove(filler.Name()); err != nil {
		t.Fatal(err)
	}
	add(t, b, of(numbered(100)))
}

type neverending struct{}

func (neverending) Read(p []byte) (int, error) { return len(p), nil }

// A folder that can't be written, for one who is bound by permissions.
func TestReadOnlyFolder(t *testing.T) {
	b := newBook(t, numbered(1))
	os.Remove(b.Path + ".lock")
	folder := filepath.Dir(b.Path)
	if err := os.Chmod(folder, 0o555); err != nil {
		t.Fatal(err)
	}
	defer os.Chmod(folder, 0o755)
	user := 0
	if os.Getuid() == 0 {
		user = 65534
		open(t, folder)
	}
	failing(t, b, fs.ErrPermission.Error(), 2, 2, 0, user)
}

// open lets everyone look into the folders of a test.
func open(t *testing.T, folder string) {
	t.Helper()
	for up := filepath.Dir(folder); strings.HasPrefix(up, filepath.Clean(os.TempDir())+string(filepath.Separator)); up = filepath.Dir(up) {
		if err := os.Chmod(up, 0o755); err != nil {
			t.Fatal(err)
		}
	}
}
