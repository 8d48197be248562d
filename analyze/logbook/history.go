package logbook

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
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
	// Run is the number of the run that alone was added, changed or deleted.
	Run int `json:"run,omitempty"`
	// Forms asked for the change and, where it was undone, for that.
	Forms []Form `json:"forms,omitempty"`

	name string // in the store
	size int64
}

// Form is what asks for a change. Its name tells it from every other, so that one that is sent again
// is known: see [Book.Made].
type Form struct {
	Name string `json:"name"`
	Sent string `json:"sent"` // a sum of what it said
}

// The history is bounded: the oldest changes go first. The last few stay whatever their size.
const (
	mostChanges   = 50
	fewestChanges = 20
	mostKept      = 64 << 20 // bytes
)

// HistoryPlace returns where the history lies. It need not exist yet.
func (b Book) HistoryPlace() string { return b.store().Place(historyName) }

// kept returns all that the history keeps, oldest first. What it did not write is passed over.
func (b Book) kept() ([]Change, error) {
	heads, err := b.store().History()
	var all []Change
	for _, head := range heads {
		change := Change{name: head.Name, size: head.Size}
		if json.Unmarshal([]byte(strings.TrimPrefix(head.Line, "#")), &change) == nil {
			all = append(all, change)
		}
	}
	return all, err
}

// before returns the book as it was before a change.
func (b Book) before(c Change) ([]byte, error) {
	all, err := b.store().Read(c.name)
	if err != nil {
		return nil, err
	}
	_, text, _ := bytes.Cut(all, []byte{'\n'})
	if markOf(text) != c.Before {
		return nil, fmt.Errorf("%s: is not as it was written, so it was left alone: mend or delete it", b.store().Place(c.name))
	}
	return text, nil
}

// beside returns the name of another text that was kept with the change.
func (c *Change) beside(name string) string { return strings.TrimSuffix(c.name, ".csv") + "." + name }

// texts returns the names of all that the history keeps of the change.
func (c *Change) texts() []string {
	all := []string{c.name}
	for _, name := range c.Beside {
		all = append(all, c.beside(name))
	}
	return all
}

// replace puts a text in the place of the book, which must hold what was read, nil for no
// book, and keeps that in the history. Other texts are written in the same change.
func (b Book) replace(old, text []byte, change Change, with ...Text) error {
	all, err := b.kept()
	if err == nil {
		_, err = b.replaceWith(all, old, text, change, with)
	}
	return err
}

// replaceWith does the same. It returns the change as the history keeps it, behind all that it has.
func (b Book) replaceWith(all []Change, old, text []byte, change Change, with []Text) (Change, error) {
	n := 0
	if len(all) > 0 {
		_, _ = fmt.Sscanf(all[len(all)-1].name, historyName+"%d", &n) // a name of another kind counts as 0
	}
	change.At, change.Before = b.now().UTC().Truncate(time.Second), markOf(old)
	if b.Form.Name != "" {
		change.Forms = append(slices.Clone(change.Forms), b.Form)
	}
	change.name = fmt.Sprintf(historyName+"%06d.csv", n+1)
	head, err := json.Marshal(change)
	if err != nil {
		return change, err
	}
	var texts []Text
	for _, name := range change.Beside {
		was, err := b.store().Read(name)
		if err != nil {
			return change, err
		}
		if was != nil {
			texts = append(texts, Text{change.beside(name), was})
		}
	}
	whole := slices.Concat([]byte("# "), head, []byte{'\n'}, old)
	change.size = int64(len(whole))
	texts = append(texts, Text{change.name, whole}, Text{bookName, text})
	texts = append(texts, with...)
	for _, c := range tooOld(append(all, change)) {
		for _, name := range c.texts() {
			texts = append(texts, Text{Name: name})
		}
	}
	return change, b.store().Write(texts, old)
}

// tooOld returns what the history need not keep of all that it has, oldest first.
func tooOld(all []Change) []Change {
	var count [2]int // of changes, and of what was undone
	size := int64(0)
	var old []Change
	for _, c := range slices.Backward(all) {
		of := &count[0]
		if c.Undone {
			of = &count[1]
		}
		*of, size = *of+1, size+c.size
		if *of > mostChanges || *of > fewestChanges && size > mostKept {
			old = append(old, c)
		}
	}
	return old
}

// History returns the changes that can be undone, newest first.
func (b Book) History() ([]Change, error) {
	text, err := b.open()
	if err != nil {
		return nil, err
	}
	all, err := b.kept()
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

// Made returns the change that a form asked for, undone by now or not, and the form as it was sent;
// nil if the history has none.
func (b Book) Made(form string) (*Change, Form, error) {
	all, err := b.kept()
	for i := range all {
		for _, f := range all[i].Forms {
			if f.Name == form {
				return &all[i], f, err
			}
		}
	}
	return nil, Form{}, err
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
	err = b.store().Alone(func() error {
		now, err := b.open()
		if err != nil {
			return err
		}
		if mark != nil && *mark != markOf(now) {
			return ErrStale
		}
		all, err := b.kept()
		if err != nil {
			return err
		}
		changes := undoable(all, markOf(now))
		if len(changes) == 0 {
			return ErrNothingToUndo
		}
		undone.Change = changes[0]
		before, err := b.before(undone.Change)
		if err != nil {
			return err
		}
		if undone.Kept, err = b.putBack(all, now, before, undone.Change); err != nil {
			return err
		}
		book, err := b.parse(before)
		undone.Runs = len(book.Entries)
		if rows := new(RowsError); errors.As(err, &rows) {
			err = nil // the book was like that
		}
		return err
	})
	return undone, err
}

// putBack replaces the book by the text before a change, keeps it as undone, and removes the change
// from all that the history has.
func (b Book) putBack(all []Change, now, before []byte, change Change) (kept string, err error) {
	as := Change{What: change.What, Run: change.Run, Forms: change.Forms, Undone: true}
	var with []Text
	if book, err := b.parse(now); err == nil {
		as.LastRun = book.lastRun()
		// Taking back is a change too, but of what was taken over from a copy, which is there still.
		if back, err := b.parse(before); err == nil && !slices.Contains(change.Beside, keysName) {
			k, err := b.keys(book)
			if err != nil {
				return "", err
			}
			k.follow(back.Entries, b.now())
			with = append(with, Text{keysName, k.text()})
		}
	}
	for _, name := range change.Beside {
		text, err := b.store().Read(change.beside(name))
		if err != nil {
			return "", err
		}
		with = append(with, Text{name, text})
	}
	for _, c := range slices.Backward(all) { // with what was cut off since
		if c.name < change.name {
			break
		}
		if !c.Undone {
			for _, name := range c.texts() {
				with = append(with, Text{Name: name})
			}
		}
	}
	as, err = b.replaceWith(all, now, before, as, with)
	return b.store().Place(as.name), err
}

// lastRun returns the highest number of a run.
func (c *Contents) lastRun() int {
	if len(c.Entries) == 0 {
		return 0
	}
	return slices.MaxFunc(c.Entries, func(a, b Entry) int { return cmp.Compare(a.Number, b.Number) }).Number
}
