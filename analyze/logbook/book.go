package logbook

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/gofrs/flock"

	"regear/analyze/logbook/wholefile"
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
	folder, needs := "", "HOME"
	switch system {
	case "windows":
		folder, needs = getenv("AppData"), "AppData"
	case "darwin":
		if home := getenv("HOME"); home != "" {
			folder = filepath.Join(home, "Library", "Application Support")
		}
	default:
		// A path that is not absolute is to be ignored, says the specification.
		if folder = getenv("XDG_DATA_HOME"); !filepath.IsAbs(folder) {
			folder = ""
			if home := getenv("HOME"); home != "" {
				folder = filepath.Join(home, ".local", "share")
			}
		}
	}
	if folder == "" {
		return "", fmt.Errorf("%s is not set, so there is no folder for the log book: name the book with --book FILE or REGEAR_BOOK", needs)
	}
	return filepath.Join(folder, "regear", "book.csv"), nil
}

// Read reads the book as a log, rows that can't be used and all. The error of a book
// that does not exist is [fs.ErrNotExist].
func (b Book) Read() (*runlog.Log, error) {
	file, err := os.Open(b.Path)
	if err != nil {
		return nil, b.unreadable(err)
	}
	defer file.Close()
	return runlog.Read(b.String(), file, runlog.Options{KeepCells: true})
}

// Snapshot is the book as it was at one moment.
type Snapshot struct {
	Log *runlog.Log // as [Book.Read] reads it, without the cells
	// Mark tells this state of the book from every other, "" being that of no book.
	Mark string
}

// Snapshot reads the book and says which state of it was read, for [Book.AddTo]. A book
// that does not exist or is blank is an empty log.
func (b Book) Snapshot() (Snapshot, error) {
	file, err := b.open()
	if err != nil {
		return Snapshot{}, err
	}
	if file.isBlank() {
		return Snapshot{&runlog.Log{Name: b.String()}, file.mark()}, nil
	}
	log, err := runlog.Read(b.String(), bytes.NewReader(file.text), runlog.Options{})
	if err != nil {
		return Snapshot{}, err
	}
	return Snapshot{log, file.mark()}, nil
}

// ErrUnreadable reports that the book has rows that can't be used. It is not written
// until they are mended, as they would be lost.
var ErrUnreadable = errors.New("the log book has rows that can't be used: mend or delete them first; the book was left as it is")

// Preview tells what Add would do, and writes nothing.
func (b Book) Preview(logs []Contents, decide Decision) (Merged, error) {
	file, err := b.open()
	if err != nil {
		return Merged{}, err
	}
	return file.merge(b.String(), logs, decide)
}

// Add merges logs into the book. When it returns without an error and without
// conflicts, every run of them is in the book, on the disk. In every other case the
// book is as it was, whatever happens meanwhile.
func (b Book) Add(logs []Contents, decide Decision) (Merged, error) {
	return b.add(logs, decide, func(*loaded) error { return nil })
}

// ErrStale reports that the book is no longer in the state that was shown.
var ErrStale = errors.New("the log book has changed since this was shown: look at it as it is now, then add again")

// AddTo does what Add does, but only to the book in the state whose mark a [Snapshot] has. It
// fails with [ErrStale] if the book is in another by now.
func (b Book) AddTo(mark string, logs []Contents, decide Decision) (Merged, error) {
	return b.add(logs, decide, func(now *loaded) error {
		if now.mark() != mark {
			return ErrStale
		}
		return nil
	})
}

// add merges logs into the book if it is in a state to do so.
func (b Book) add(logs []Contents, decide Decision, may func(*loaded) error) (Merged, error) {
	if err := b.makeFolder(); err != nil {
		return Merged{}, err
	}
	var merged Merged
	err := b.locked(func(real Book) error {
		file, err := real.open()
		if err != nil {
			return err
		}
		if err := may(file); err != nil {
			return err
		}
		merged, err = file.merge(real.String(), logs, decide)
		if err != nil || !merged.Changed {
			return err
		}
		text, err := real.compose(&merged.Contents)
		if err != nil {
			return err
		}
		return real.replace(file, text)
	})
	return merged, err
}

// loaded is a book as it was read.
type loaded struct {
	exists bool
	text   []byte
}

// open reads the book's text. A book that does not exist is an empty one.
func (b Book) open() (*loaded, error) {
	text, err := os.ReadFile(b.Path)
	if errors.Is(err, fs.ErrNotExist) {
		return &loaded{}, nil
	}
	if err != nil {
		return nil, b.unreadable(err)
	}
	return &loaded{true, text}, nil
}

func (l *loaded) isBlank() bool { return len(bytes.TrimSpace(l.text)) == 0 }

// mark returns enough of a sum of the text to tell the states of one book apart.
func (l *loaded) mark() string {
	if !l.exists {
		return ""
	}
	sum := sha256.Sum256(l.text)
	return hex.EncodeToString(sum[:8])
}

// merge merges logs with what the book holds, which is called name in messages.
func (l *loaded) merge(name string, logs []Contents, decide Decision) (Merged, error) {
	var book Contents
	if !l.isBlank() {
		var err error
		if book, err = parse(name, l.text); err != nil {
			return Merged{}, err
		}
	}
	merged := Merge(book, logs, decide)
	merged.Mark = l.mark()
	return merged, nil
}

// parse reads a book all of whose rows can be used.
func parse(name string, text []byte) (Contents, error) {
	log, err := runlog.Read(name, bytes.NewReader(text), runlog.Options{KeepCells: !isPlain(text)})
	if err != nil {
		return Contents{}, err
	}
	c := contentsOf(log, func(int) bool { return true })
	problems := slices.Concat(log.Problems, nameless(log.Runs))
	if len(problems) > 0 {
		return Contents{}, &RowsError{Problems: problems}
	}
	c.Comments = commentLines(text, log)
	return c, nil
}

// isPlain reports whether a book has no columns and no comments beyond what runlog reads,
// as most have. Its cells need not be kept, which are larger than its runs.
func isPlain(text []byte) bool {
	header := strings.Join(runlog.WrittenColumns(), ",") + "\n"
	return bytes.HasPrefix(text, []byte(header)) && !bytes.Contains(text, []byte("\n#"))
}

// RowsError lists the rows of a book that can't be used. It is [ErrUnreadable].
type RowsError struct{ Problems []run.Problem }

func (e *RowsError) Error() string { return ErrUnreadable.Error() }
func (e *RowsError) Unwrap() error { return ErrUnreadable }

// nameless returns the runs of a book that name no car. The next car's runs would be
// taken for theirs.
func nameless(runs []run.Run) []run.Problem {
	var problems []run.Problem
	for _, r := range runs {
		if r.Car == "" {
			problems = append(problems, run.Problem{Position: r.Position, What: "names no car",
				Do: "write the car's name into the column car, as every run of a log book needs it"})
		}
	}
	return problems
}

// compose writes contents as a book, reads it back, and fails if that is not the same:
// nothing that can't be read back may take a book's place.
func (b Book) compose(c *Contents) ([]byte, error) {
	var text bytes.Buffer
	if err := c.write(&text); err != nil {
		return nil, err
	}
	back, err := parse(b.String(), text.Bytes())
	if rows := new(RowsError); errors.As(err, &rows) {
		err = rows.Problems[0]
	}
	if err != nil {
		return nil, fmt.Errorf("the log book could not be read back once written, so it was left as it is: %w", err)
	}
	if !sameEntries(back.Entries, c.Entries) {
		return nil, errors.New("the log book would read back as something else, so it was left as it is: please report this as a fault of regear")
	}
	return text.Bytes(), nil
}

const lockPatience = 5 * time.Second

// ErrLocked reports that another program of this kind holds the book.
var ErrLocked = errors.New("another program is adding to the log book: wait until it has ended, then try again")

// locked does something with the file that the path leads to, links followed, while no
// other import can. The lock is on a file of its own: the book itself is replaced.
func (b Book) locked(do func(real Book) error) error {
	path, err := wholefile.Follow(b.Path, b.String())
	if err != nil {
		return err
	}
	real := Book{Path: path, Name: b.Name}
	lock := flock.New(path + ".lock")
	ctx, cancel := context.WithTimeout(context.Background(), cmp.Or(b.patience, lockPatience))
	defer cancel()
	held, err := lock.TryLockContext(ctx, 20*time.Millisecond)
	switch {
	case err != nil && !errors.Is(err, context.DeadlineExceeded):
		return real.unwritable(err)
	case !held:
		return fmt.Errorf("%s.lock: %w", real, ErrLocked)
	}
	defer lock.Unlock()
	if open := real.openElsewhere(); open != "" {
		return fmt.Errorf("%s: is open in a spreadsheet, which would write over what is added (it left %s): close it there, then try again", real, open)
	}
	real.sweep()
	return do(real)
}

// openElsewhere returns the file that a spreadsheet leaves beside one that it has open,
// "" if there is none. The two forms are common knowledge, from memory.
func (b Book) openElsewhere() string {
	folder, name := filepath.Split(b.Path)
	for _, mark := range []string{".~lock." + name + "#", "~$" + name} {
		if _, err := os.Lstat(folder + mark); err == nil {
			return mark
		}
	}
	return ""
}

func (b Book) makeFolder() error {
	if err := os.MkdirAll(filepath.Dir(b.Path), 0o755); err != nil {
		return b.unwritable(err)
	}
	return nil
}

// unwritable says why the book can't be written.
func (b Book) unwritable(err error) error {
	return leftAsItIs(wholefile.Unwritable(b.String(), err))
}

// leftAsItIs adds to an error of a file that it changed nothing.
func leftAsItIs(err error) error {
	if errors.As(err, new(*wholefile.Error)) {
		return fmt.Errorf("%w; the log book was left as it is", err)
	}
	return err
}

// unreadable says why the book can't be read, by the book's name.
func (b Book) unreadable(err error) error {
	if path := new(fs.PathError); errors.As(err, &path) {
		return &fs.PathError{Op: path.Op, Path: b.String(), Err: path.Err}
	}
	return err
}
