package logbook

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"regear/analyze/logbook/wholefile"
)

const lockPatience = 5 * time.Second

// errLocked reports that another program of this kind holds the book.
var errLocked = errors.New("another program is adding to the log book: wait until it has ended, then try again")

// locked does something with the file that the path leads to, links followed, while no
// other import can. An error of a file that changed nothing says so.
func (b Book) locked(do func(real Book) error) (err error) {
	defer func() {
		if errors.As(err, new(*wholefile.Error)) {
			err = fmt.Errorf("%w; the log book was left as it is", err)
		}
	}()
	if err := os.MkdirAll(filepath.Dir(b.Path), 0o755); err != nil {
		return wholefile.Unwritable(b.String(), err)
	}
	real, err := b.followed()
	if err != nil {
		return err
	}
	path := real.Path
	unlock, held, err := wholefile.Lock(path, cmp.Or(b.patience, lockPatience))
	switch {
	case err != nil:
		return wholefile.Unwritable(real.String(), err)
	case !held:
		return fmt.Errorf("%s.lock: %w", real, errLocked)
	}
	defer unlock()
	// What spreadsheets leave beside a file that they have open. The two forms are common
	// knowledge, from memory.
	folder, name := filepath.Split(path)
	for _, mark := range []string{".~lock." + name + "#", "~$" + name} {
		if _, err := os.Lstat(folder + mark); err == nil {
			return fmt.Errorf("%s: is open in a spreadsheet, which would write over what is added (it left %s): close it there, then try again", real, mark)
		}
	}
	// What an import that was killed has left.
	for _, path := range []string{real.Path + ".", real.columnsFile().Path + ".", real.historyFolder() + string(filepath.Separator)} {
		removeParts(path)
	}
	return do(real)
}

// followed returns the book with the path of the file itself, where b's is a link to it.
func (b Book) followed() (Book, error) {
	path, err := wholefile.Follow(b.Path, b.String())
	b.Path = path
	return b, err
}

// errChanged reports that the book changed between being read and being replaced.
var errChanged = errors.New("was changed by another program meanwhile and was not written over: try again")

// replace puts a text in the place of the book, which must hold what was read, nil for no
// book, and keeps that in the history. The new book is on the disk before it takes the name, so
// that at every moment the name stands for a whole book, and the history before the book, so
// that no change can happen that can't be undone.
func (b Book) replace(old, text []byte, change Change) (kept Change, err error) {
	return b.replaceWith(old, text, change, func() error { return nil })
}

// replaceWith does the same. Between the two steps it writes what the change writes beside the book.
func (b Book) replaceWith(old, text []byte, change Change, beside func() error) (kept Change, err error) {
	file, err := wholefile.Open(b.Path, b.String())
	if err != nil {
		return kept, err
	}
	defer file.Discard()
	// Renaming needs no permission on the file that it replaces.
	if old != nil && file.Mode&0o200 == 0 {
		return kept, wholefile.Unwritable(b.String(), errors.New("it is write-protected"))
	}
	if err := file.Fill(wholefile.Text(text)); err != nil {
		return kept, err
	}
	all, err := b.kept()
	if err != nil {
		return kept, err
	}
	if kept, err = b.keep(all, change, old, file.Mode); err != nil {
		return kept, err
	}
	now, err := b.open()
	if err == nil && ((now == nil) != (old == nil) || !bytes.Equal(now, old)) {
		err = fmt.Errorf("%s: %w", b, errChanged)
	}
	if err != nil {
		kept.remove()
		return kept, err
	}
	if err := beside(); err != nil {
		return kept, err // some of it may be written: the history has what it was
	}
	if err = file.Rename(); errors.As(err, new(*wholefile.Error)) { // the book was left as it was
		kept.remove()
		return kept, err
	}
	forgetOld(append(all, kept))
	return kept, err
}

// removeParts removes what was left of writing files whose paths begin in a way.
func removeParts(path string) {
	folder, name := filepath.Split(path)
	entries, _ := os.ReadDir(folder)
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), name) && strings.HasSuffix(e.Name(), wholefile.Suffix) {
			os.Remove(folder + e.Name())
		}
	}
}
