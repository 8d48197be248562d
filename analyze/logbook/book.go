package logbook

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"regear/analyze/run"
	"regear/analyze/runlog"
)

// Book is the file of a log book. It need not exist yet.
type Book struct {
	Path string
	// Name is what messages and the positions of runs call the book, "" for its path. On a
	// page, where the file lies says nothing.
	Name string

	patience time.Duration // with another import; 0 stands for lockPatience
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
	// Mark tells this state of the book from every other, "" being that of no book.
	Mark string
}

// Snapshot reads the book and says which state of it was read, for [Book.AddTo]. A book
// that does not exist or is blank is an empty log.
func (b Book) Snapshot() (Snapshot, error) {
	text, err := b.open()
	if err != nil {
		return Snapshot{}, err
	}
	log := &runlog.Log{Name: b.String()}
	if !isBlank(text) {
		log, err = runlog.Read(b.String(), bytes.NewReader(text), runlog.Options{})
	}
	return Snapshot{log, markOf(text)}, err
}

// open reads the book's text, nil for a book that does not exist. Its errors call the book
// by its name.
func (b Book) open() ([]byte, error) {
	text, err := os.ReadFile(b.Path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if path := new(fs.PathError); errors.As(err, &path) {
		err = &fs.PathError{Op: path.Op, Path: b.String(), Err: path.Err}
	}
	return text, err
}

func isBlank(text []byte) bool { return len(bytes.TrimSpace(text)) == 0 }

// markOf returns enough of a sum of a book's text to tell the states of one book apart.
func markOf(text []byte) string {
	if text == nil {
		return ""
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}

// Preview tells what Add would do, and writes nothing.
func (b Book) Preview(logs []Contents, decide Decision) (Merged, error) {
	text, err := b.open()
	if err != nil {
		return Merged{}, err
	}
	return b.merge(text, logs, decide)
}

// Add merges logs into the book. When it returns without an error and without
// conflicts, every run of them is in the book, on the disk. In every other case the
// book is as it was, whatever happens meanwhile.
func (b Book) Add(logs []Contents, decide Decision) (Merged, error) { return b.add(nil, logs, decide) }

// ErrStale reports that the book is no longer in the state that was shown.
var ErrStale = errors.New("the log book has changed since this was shown: look at it as it is now, then add again")

// AddTo does what Add does, but only to the book in the state whose mark a [Snapshot] has. It
// fails with [ErrStale] if the book is in another by now.
func (b Book) AddTo(mark string, logs []Contents, decide Decision) (Merged, error) {
	return b.add(&mark, logs, decide)
}

// add merges logs into the book, in the state of a mark if there is one.
func (b Book) add(mark *string, logs []Contents, decide Decision) (merged Merged, err error) {
	err = b.locked(func(real Book) error {
		old, err := real.open()
		if err != nil {
			return err
		}
		if mark != nil && *mark != markOf(old) {
			return ErrStale
		}
		merged, err = real.merge(old, logs, decide)
		if err != nil || !merged.Changed {
			return err
		}
		text, err := real.compose(&merged.Contents)
		if err != nil {
			return err
		}
		return real.replace(old, text)
	})
	return merged, err
}

// merge merges logs with what the book's text holds.
func (b Book) merge(text []byte, logs []Contents, decide Decision) (Merged, error) {
	var book Contents
	if !isBlank(text) {
		var err error
		if book, err = b.parse(text); err != nil {
			return Merged{}, err
		}
	}
	merged := Merge(book, logs, decide)
	merged.Mark = markOf(text)
	return merged, nil
}

// RowsError lists the rows of a book that can't be used. The book is not written until they
// are mended, as they would be lost.
type RowsError struct{ Problems []run.Problem }

func (e *RowsError) Error() string {
	return "the log book has rows that can't be used: mend or delete them first; the book was left as it is"
}

// parse reads the text of a book all of whose rows can be used.
func (b Book) parse(text []byte) (Contents, error) {
	log, err := runlog.Read(b.String(), bytes.NewReader(text), runlog.Options{KeepCells: true})
	if err != nil {
		return Contents{}, err
	}
	c := contentsOf(log, func(int) bool { return true })
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
	if !sameEntries(back.Entries, c.Entries) {
		return nil, errors.New("the log book would read back as something else, so it was left as it is: please report this as a fault of regear")
	}
	return text, nil
}
