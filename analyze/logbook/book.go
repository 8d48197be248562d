package logbook

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"slices"
	"time"

	"regear/analyze/run"
	"regear/analyze/runlog"
)

// Book is a log book in a file, or in a store. It need not exist yet.
type Book struct {
	Path string
	// Name is what messages and the positions of runs call the book, "" for its path. On a
	// page, where the file lies says nothing.
	Name string
	// CarFile is the path of the car file, "" for none. It is saved and restored with the book.
	CarFile string
	// Store keeps the book and all that belongs to it, in the place of the files at the two paths;
	// nil stands for those.
	Store Store
	Form  Form             // asks for the changes that are made of this Book, and the history keeps it; may be none
	Now   func() time.Time // for the history; nil stands for time.Now

	patience time.Duration // with another import; 0 stands for lockPatience
}

func (b Book) store() Store {
	if b.Store != nil {
		return b.Store
	}
	return files{b.Path, b.Name, b.CarFile, b.patience}
}

// String returns what messages call the book.
func (b Book) String() string { return cmp.Or(b.Name, b.Path) }

// DefaultPath returns where the log book is if nobody says otherwise: book.csv in a
// folder regear of the system's folder for a user's data. That is XDG_DATA_HOME, or
// ~/.local/share (XDG Base Directory Specification), on macOS
// ~/Library/Application Support, and on Windows %AppData%.
func DefaultPath(getenv func(string) string) (string, error) {
	return defaultPath(runtime.GOOS, getenv)
}

func defaultPath(system string, getenv func(string) string) (string, error) {
	folder, home, needs := "", getenv("HOME"), "HOME"
	switch data := getenv("XDG_DATA_HOME"); {
	case system == "windows":
		folder, needs = getenv("AppData"), "AppData"
	case system != "darwin" && filepath.IsAbs(data): // the specification ignores a path that is not absolute
		folder = data
	case home == "":
	case system == "darwin":
		folder = filepath.Join(home, "Library", "Application Support")
	default:
		folder = filepath.Join(home, ".local", "share")
	}
	if folder == "" {
		return "", fmt.Errorf("%s is not set, so there is no folder for the log book: name the book with --book FILE or REGEAR_BOOK", needs)
	}
	return filepath.Join(folder, "regear", "book.csv"), nil
}

// Snapshot is the book as it was at one moment.
type Snapshot struct {
	Log *runlog.Log // without the cells; rows that can't be used are among its problems
	// Mark tells this state of the book from every other, "" being that of no book and of an empty one.
	Mark string
}

// Snapshot reads the book and says which state of it was read, for [Book.AddTo]. Every run
// has its number. A book that does not exist or is blank is an empty log.
func (b Book) Snapshot(opts runlog.Options) (Snapshot, error) {
	text, err := b.open()
	if err != nil {
		return Snapshot{}, err
	}
	log := &runlog.Log{Name: b.String()}
	if !isBlank(text) {
		if log, err = runlog.Read(b.String(), bytes.NewReader(text), opts); err == nil {
			_, err = b.number(len(log.Runs), func(i int) *run.Run { return &log.Runs[i] })
		}
	}
	return Snapshot{log, markOf(text)}, err
}

// number gives each of n runs that has no number, or that of a run before it, a number that no
// run has or had, and reports whether there was one.
func (b Book) number(n int, at func(i int) *run.Run) (any bool, err error) {
	taken := make(map[int]bool, n)
	var without []*run.Run
	last := 0
	for i := range n {
		r := at(i)
		if r.Number == 0 || taken[r.Number] {
			without = append(without, r)
			continue
		}
		taken[r.Number], last = true, max(last, r.Number)
	}
	if len(without) == 0 {
		return false, nil
	}
	keys, err := b.store().Read(keysName)
	if err != nil {
		return false, err
	}
	ever, err := b.lastEver(keys)
	if err != nil {
		return false, err
	}
	last = max(last, ever)
	for i, r := range without {
		r.Number = last + 1 + i
	}
	return true, nil
}

// open reads the book's text, nil for a book that does not exist.
func (b Book) open() ([]byte, error) { return b.store().Read(bookName) }

func isBlank(text []byte) bool { return len(bytes.TrimSpace(text)) == 0 }

// markOf returns enough of a sum of a book's text to tell the states of one book apart.
func markOf(text []byte) string {
	if len(text) == 0 {
		return ""
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}

// Preview tells what Add would do, and writes nothing.
func (b Book) Preview(logs []Contents, decide Decider) (Merged, error) {
	text, err := b.open()
	if err != nil {
		return Merged{}, err
	}
	book, err := b.parse(text)
	if err != nil {
		return Merged{}, err
	}
	return b.mergeInto(book, markOf(text), logs, decide)
}

// mergeInto merges logs with what the book holds in a state.
func (b Book) mergeInto(book Contents, state string, logs []Contents, decide Decider) (merged Merged, err error) {
	if slices.ContainsFunc(logs, func(c Contents) bool { return c.IsCopy() }) {
		if book.keys, err = b.keys(book); err != nil {
			return Merged{}, err
		}
	}
	merged = Merge(book, logs, decide)
	merged.Mark = state
	return merged, nil
}

// keys returns the keys of what the book holds, which a spreadsheet may have changed. Where there
// were none, nobody knows when a run last changed.
func (b Book) keys(book Contents) (*keys, error) {
	text, err := b.store().Read(keysName)
	if err != nil {
		return nil, err
	}
	k := readKeys(text)
	k.last, err = b.lastEver(text)
	at := b.now()
	if text == nil {
		at = time.Time{}
	}
	k.follow(book.Entries, at)
	return k, err
}

// lastEver returns the highest number that a run has or had by the history and by the text of keys.
func (b Book) lastEver(keys []byte) (last int, err error) {
	all, err := b.kept()
	last = lastIn(keys)
	for _, change := range all {
		last = max(last, change.LastRun)
	}
	return last, err
}

func (b Book) now() time.Time {
	if b.Now != nil {
		return b.Now()
	}
	return time.Now()
}

// Add merges logs into the book. When it returns without an error and without
// conflicts, every run of them is in the book, on the disk. In every other case the
// book is as it was, whatever happens meanwhile.
func (b Book) Add(logs []Contents, decide Decider) (Merged, error) { return b.add(nil, logs, decide) }

// ErrStale reports that the book is no longer in the state that was shown.
var ErrStale = errors.New("the log book has changed since this was shown: look at it as it is now, then add again")

// AddTo does what Add does, but only to the book in the state whose mark a [Snapshot] has. It
// fails with [ErrStale] if the book is in another by now.
func (b Book) AddTo(mark string, logs []Contents, decide Decider) (Merged, error) {
	return b.add(&mark, logs, decide)
}

// add merges logs into the book, in the state of a mark if there is one.
func (b Book) add(mark *string, logs []Contents, decide Decider) (merged Merged, err error) {
	err = b.change(mark, func(book Contents, state string) (*Contents, Change, error) {
		if merged, err = b.mergeInto(book, state, logs, decide); err != nil {
			return nil, Change{}, err
		}
		if !merged.Changed && merged.keys != nil && len(merged.Conflicts) == 0 {
			return b.onlyKeys(book, merged.keys)
		}
		if !merged.Changed {
			return nil, Change{}, nil
		}
		_, err := b.number(len(merged.Entries), func(i int) *run.Run { return merged.Entries[i].Run })
		return &merged.Contents, merged.change(), err
	})
	return merged, err
}

// change replaces the contents of the book by what do makes of them, nil for nothing to change.
// The book as it was goes into its history, with what the change says of itself. Where there is a
// mark, the book must be in its state. do is told the mark of the state that it gets.
func (b Book) change(mark *string, do func(book Contents, state string) (to *Contents, as Change, err error)) error {
	return b.store().Alone(func() error { return b.changeAlone(mark, do) })
}

// onlyKeys keeps the keys of a book that needs no change, or a small one: numbers have to stay with
// the keys that go with them.
func (b Book) onlyKeys(book Contents, k *keys) (*Contents, Change, error) {
	if !book.numbered {
		return nil, Change{}, b.store().Write([]Text{{keysName, k.text()}}, nil)
	}
	book.keys = k
	return &book, Change{What: "numbered rows that had no number"}, nil
}

// changeAlone does what change does, where no other can.
func (b Book) changeAlone(mark *string, do func(book Contents, state string) (to *Contents, as Change, err error)) error {
	old, err := b.open()
	if err != nil {
		return err
	}
	state := markOf(old)
	if mark != nil && *mark != state {
		return ErrStale
	}
	book, err := b.parse(old)
	if err != nil {
		return err
	}
	lastRun := book.lastRun() // before do, which may number runs
	to, as, err := do(book, state)
	if err != nil || to == nil {
		return err
	}
	text, err := b.compose(to)
	if err != nil {
		return err
	}
	as.LastRun = lastRun
	k := to.keys
	if k == nil {
		if k, err = b.keys(book); err != nil {
			return err
		}
	}
	k.follow(to.Entries, b.now())
	return b.replace(old, text, as, Text{keysName, k.text()})
}

// RowsError lists the rows of a book that can't be used. The book is not written until they
// are mended, as they would be lost.
type RowsError struct{ Problems []run.Problem }

func (e *RowsError) Error() string {
	return "the log book has rows that can't be used: mend or delete them first; the book was left as it is"
}

// parse reads the text of a book all of whose rows can be used, and numbers its runs.
func (b Book) parse(text []byte) (Contents, error) {
	if isBlank(text) {
		return Contents{}, nil
	}
	log, err := runlog.Read(b.String(), bytes.NewReader(text), runlog.Options{KeepCells: true})
	if err != nil {
		return Contents{}, err
	}
	numbered, err := b.number(len(log.Runs), func(i int) *run.Run { return &log.Runs[i] })
	if err != nil {
		return Contents{}, err
	}
	c := contentsOf(log, func(int) bool { return true })
	c.numbered = numbered
	problems := log.Problems
	for _, r := range log.Runs {
		if r.Car == "" { // the next car's runs would be taken for this one's
			problems = append(problems, run.Problem{Position: r.Position, What: "names no car",
				Do: "write the car's name into the column car, as every run of a log book needs it"})
		}
	}
	if len(problems) > 0 {
		return Contents{}, &RowsError{problems}
	}
	c.Comments = log.Comments
	return c, nil
}

// compose writes contents as a book, reads it back, and fails if that is not the same:
// nothing that can't be read back may take a book's place.
func (b Book) compose(c *Contents) ([]byte, error) {
	text := c.text()
	back, err := b.parse(text)
	if rows := new(RowsError); errors.As(err, &rows) {
		err = rows.Problems[0]
	}
	if err != nil {
		return nil, fmt.Errorf("the log book could not be read back once written, so it was left as it is: %w", err)
	}
	sameNumber := func(a, b Entry) bool { return a.Number == b.Number }
	if !sameEntries(back.Entries, c.Entries) || !slices.EqualFunc(back.Entries, c.Entries, sameNumber) {
		return nil, errors.New("the log book would read back as something else, so it was left as it is: please report this as a fault of regear")
	}
	return text, nil
}
