package logbook

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/gofrs/flock"

	"regear/analyze/logbook/wholefile"
)

const lockPatience = 5 * time.Second

// errLocked reports that another program of this kind holds the book.
var errLocked = errors.New("another program is adding to the log book: wait until it has ended, then try again")

// locked does something with the file that the path leads to, links followed, while no
// other import can. The lock is on a file of its own: the book itself is replaced. An error
// of a file that changed nothing says so.
func (b Book) locked(do func(real Book) error) (err error) {
	defer func() {
		if errors.As(err, new(*wholefile.Error)) {
			err = fmt.Errorf("%w; the log book was left as it is", err)
		}
	}()
	if err := os.MkdirAll(filepath.Dir(b.Path), 0o755); err != nil {
		return wholefile.Unwritable(b.String(), err)
	}
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
		return wholefile.Unwritable(real.String(), err)
	case !held:
		return fmt.Errorf("%s.lock: %w", real, errLocked)
	}
	defer lock.Unlock()
	// What spreadsheets leave beside a file that they have open. The two forms are common
	// knowledge, from memory.
	folder, name := filepath.Split(path)
	for _, mark := range []string{".~lock." + name + "#", "~$" + name} {
		if _, err := os.Lstat(folder + mark); err == nil {
			return fmt.Errorf("%s: is open in a spreadsheet, which would write over what is added (it left %s): close it there, then try again", real, mark)
		}
	}
	// What an import that was killed has left.
	for _, path := range []string{real.Path, real.columnsFile().Path} {
		removeBeside(path, "*"+wholefile.Suffix, "")
	}
	return do(real)
}

// errChanged reports that the book changed between being read and being replaced.
var errChanged = errors.New("was changed by another program meanwhile and was not written over: try again")

// replace puts a text in the place of the book, which must hold what was read, nil for no
// book. The new book is on the disk before it takes the name, so that at every moment the
// name stands for a whole book.
func (b Book) replace(old, text []byte) error {
	file, err := wholefile.Open(b.Path, b.String())
	if err != nil {
		return err
	}
	defer file.Discard()
	if old != nil {
		// Renaming needs no permission on the file that it replaces.
		if file.Mode&0o200 == 0 {
			return wholefile.Unwritable(b.String(), errors.New("it is write-protected"))
		}
		if err := b.backUp(old, file.Mode); err != nil {
			return err
		}
	}
	if err := file.Fill(wholefile.Text(text)); err != nil {
		return err
	}
	now, err := b.open()
	switch {
	case err != nil:
		return err
	case (now == nil) != (old == nil) || !bytes.Equal(now, old):
		return fmt.Errorf("%s: %w", b, errChanged)
	}
	return file.Rename()
}

// backUp keeps the book as it was before the first change of this day, and no older one.
func (b Book) backUp(old []byte, mode os.FileMode) error {
	const suffix = ".bak"
	backup := b.Path + "." + time.Now().Format(time.DateOnly) + suffix
	if _, err := os.Lstat(backup); err == nil {
		return nil
	}
	file, err := wholefile.Open(backup, b.String())
	if err != nil {
		return err
	}
	defer file.Discard()
	file.Mode = mode
	if err := file.Fill(wholefile.Text(old)); err != nil {
		return err
	}
	if err := file.Rename(); err != nil {
		return err
	}
	removeBeside(b.Path, "????-??-??"+suffix, backup)
	return nil
}

// removeBeside removes the files beside one whose name is its name, a point, and something
// that a pattern matches, but for one to keep.
func removeBeside(path, pattern, keep string) {
	folder, name := filepath.Split(path)
	entries, _ := os.ReadDir(filepath.Dir(path))
	for _, e := range entries {
		rest, ok := strings.CutPrefix(e.Name(), name+".")
		if match, err := filepath.Match(pattern, rest); ok && err == nil && match && folder+e.Name() != keep {
			os.Remove(folder + e.Name())
		}
	}
}
