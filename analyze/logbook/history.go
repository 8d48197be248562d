package logbook

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"regear/analyze/logbook/wholefile"
)

// Change is one change of the book. The history keeps it with the book as it was before.
//
// The history is a folder beside the book, one file a change: a line that begins with # and
// holds the Change as JSON, and below it the book as it was, to the byte. The files are
// numbered in the order of the changes. Undoing a change puts that text back and removes
// the file. The book that was undone is kept in the same way, marked as undone.
type Change struct {
	At   time.Time `json:"at"`
	What string    `json:"what"` // as in "deleted run 12"
	// LastRun is the highest number that a run of the book had before the change. No number
	// that stands in the history is given again.
	LastRun int    `json:"last_run"`
	Before  string `json:"before"` // the mark of the book as it was: see [Snapshot]
	// Beside are the other files that the change replaced, by their names in the history. One
	// that isn't there didn't exist.
	Beside []string `json:"beside,omitempty"`
	Undone bool     `json:"undone,omitempty"`

	path string
	size int64
}

// The history is bounded: the oldest changes go first. The last few stay whatever their size.
const (
	mostChanges   = 50
	fewestChanges = 20
	mostKept      = 64 << 20 // bytes
)

func (b Book) historyFolder() string { return b.Path + ".history" }

// HistoryFolder returns where the history lies. It need not exist yet.
func (b Book) HistoryFolder() (string, error) {
	real, err := b.followed()
	return real.historyFolder(), err
}

// kept returns all that the history keeps, oldest first. What it did not write is passed over.
func (b Book) kept() ([]Change, error) {
	folder := b.historyFolder()
	entries, err := os.ReadDir(folder) // in the order of names
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: its history can't be read: %w", b, err)
	}
	var all []Change
	for _, e := range entries {
		if filepath.Ext(e.Name()) != ".csv" {
			continue
		}
		change := Change{path: filepath.Join(folder, e.Name())}
		if change.readHead() == nil {
			all = append(all, change)
		}
	}
	return all, nil
}

func (c *Change) readHead() error {
	file, err := os.Open(c.path)
	if err != nil {
		return err
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return err
	}
	c.size = info.Size()
	head, err := bufio.NewReader(file).ReadString('\n')
	if err != nil {
		return err
	}
	return json.Unmarshal([]byte(strings.TrimPrefix(head, "#")), c)
}

// text returns the book as it was before the change.
func (c *Change) text() ([]byte, error) {
	all, err := os.ReadFile(c.path)
	if err != nil {
		return nil, err
	}
	_, text, _ := bytes.Cut(all, []byte{'\n'})
	if markOf(text) != c.Before {
		return nil, fmt.Errorf("%s: is not as it was written, so it was left alone: mend or delete it", c.path)
	}
	return text, nil
}

// beside returns the path of another file that was kept with the change.
func (c *Change) beside(name string) string { return strings.TrimSuffix(c.path, ".csv") + "." + name }

// keep puts the book as it was behind all that the history keeps, and returns the change as it
// stands there.
func (b Book) keep(all []Change, c Change, text []byte, mode os.FileMode) (Change, error) {
	n := 0
	if len(all) > 0 {
		_, _ = fmt.Sscanf(filepath.Base(all[len(all)-1].path), "%d", &n) // a name of another kind counts as 0
	}
	now := time.Now
	if b.Now != nil {
		now = b.Now
	}
	c.At, c.Before = now().UTC().Truncate(time.Second), markOf(text)
	c.path = filepath.Join(b.historyFolder(), fmt.Sprintf("%06d.csv", n+1))
	head, err := json.Marshal(c)
	if err != nil {
		return c, err
	}
	name := b.String() + ": its history"
	if err := os.MkdirAll(b.historyFolder(), 0o755); err != nil {
		return c, wholefile.Unwritable(name, err)
	}
	for _, beside := range c.Beside {
		old, err := os.ReadFile(b.besides()[beside])
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err == nil {
			err = wholefile.Write(c.beside(beside), name, old)
		}
		if err != nil {
			return c, err
		}
	}
	file, err := wholefile.Open(c.path, name)
	if err != nil {
		return c, err
	}
	defer file.Discard()
	file.Mode = mode
	whole := slices.Concat([]byte("# "), head, []byte{'\n'}, text)
	c.size = int64(len(whole))
	if err := file.Fill(wholefile.Text(whole)); err != nil {
		return c, err
	}
	return c, file.Rename()
}

// forgetOld removes what the history need not keep of all that it has, oldest first. What can't be
// removed now is next time.
func forgetOld(all []Change) {
	var count [2]int // of changes, and of what was undone
	size := int64(0)
	for _, c := range slices.Backward(all) {
		of := &count[0]
		if c.Undone {
			of = &count[1]
		}
		*of, size = *of+1, size+c.size
		if *of > mostChanges || *of > fewestChanges && size > mostKept {
			c.remove()
		}
	}
}

func (c *Change) remove() {
	os.Remove(c.path)
	for _, beside := range c.Beside {
		os.Remove(c.beside(beside))
	}
}

// History returns the changes that can be undone, newest first.
func (b Book) History() ([]Change, error) {
	real, err := b.followed()
	if err != nil {
		return nil, err
	}
	text, err := real.open()
	if err != nil {
		return nil, err
	}
	all, err := real.kept()
	return undoable(all, markOf(text)), err
}

// undoable returns the changes that were made and not undone, newest first. One that a kill or
// a full disk cut off changed nothing: the book was the same after it.
func undoable(all []Change, now string) []Change {
	var changes []Change
	for _, c := range slices.Backward(all) {
		if !c.Undone && (c.Before != now || len(c.Beside) > 0) {
			changes, now = append(changes, c), c.Before
		}
	}
	return changes
}

// Undone is a change that was undone.
type Undone struct {
	Change
	// Kept is where the book lies as it was before it was undone, for [Book.Restore].
	Kept string
	Runs int // that the book holds now
}

// ErrNothingToUndo reports that the history holds no change.
var ErrNothingToUndo = errors.New("there is no change to undo")

// Undo takes the last change of the book back, and the one before it when it is called again.
// Where there is a mark, the book must be in its state: else it fails with [ErrStale].
func (b Book) Undo(mark *string) (undone Undone, err error) {
	err = b.locked(func(real Book) error {
		now, err := real.open()
		if err != nil {
			return err
		}
		if mark != nil && *mark != markOf(now) {
			return ErrStale
		}
		all, err := real.kept()
		if err != nil {
			return err
		}
		changes := undoable(all, markOf(now))
		if len(changes) == 0 {
			return ErrNothingToUndo
		}
		undone.Change = changes[0]
		before, err := undone.text()
		if err != nil {
			return err
		}
		if undone.Kept, err = real.putBack(now, before, undone.Change); err != nil {
			return err
		}
		for _, c := range slices.Backward(all) { // with what was cut off since
			if c.path < undone.path {
				break
			}
			if !c.Undone {
				c.remove()
			}
		}
		book, err := real.parse(before)
		undone.Runs = len(book.Entries)
		if rows := new(RowsError); errors.As(err, &rows) {
			err = nil // the book was like that
		}
		return err
	})
	return undone, err
}

// putBack replaces the book by an earlier text, and keeps it as undone.
func (b Book) putBack(now, before []byte, change Change) (kept string, err error) {
	as := Change{What: change.What, Undone: true}
	if book, err := b.parse(now); err == nil {
		as.LastRun = book.lastRun()
	}
	for _, name := range change.Beside {
		text, err := os.ReadFile(change.beside(name))
		switch path := b.besides()[name]; {
		case path == "": // the car file, if it is not known here
			err = nil
		case errors.Is(err, fs.ErrNotExist):
			err = os.Remove(path)
			if errors.Is(err, fs.ErrNotExist) {
				err = nil
			}
		case err == nil:
			err = wholefile.Write(path, path, text)
		}
		if err != nil {
			return "", err
		}
	}
	as, err = b.replace(now, before, as)
	return as.path, err
}

// lastRun returns the highest number of a run.
func (c *Contents) lastRun() int {
	if len(c.Entries) == 0 {
		return 0
	}
	return slices.MaxFunc(c.Entries, func(a, b Entry) int { return cmp.Compare(a.Number, b.Number) }).Number
}
