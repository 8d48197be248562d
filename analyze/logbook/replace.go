package logbook

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"regear/analyze/logbook/wholefile"
)

// ErrChanged reports that the book changed between being read and being replaced.
var ErrChanged = errors.New("was changed by another program meanwhile and was not written over: try again")

const (
	backupDate   = "2006-01-02"
	backupSuffix = ".bak"
)

// replace puts a text in the place of the book, which must be as it was loaded. The
// new book is on the disk before it takes the name, so that at every moment the name
// stands for a whole book.
func (b Book) replace(old *loaded, text []byte) error {
	file, err := wholefile.Open(b.Path, b.String())
	if err != nil {
		return leftAsItIs(err)
	}
	defer file.Discard()
	if old.exists {
		// Renaming needs no permission on the file that it replaces.
		if file.Mode&0o200 == 0 {
			return b.unwritable(errors.New("it is write-protected"))
		}
		if err := b.backUp(old, file.Mode); err != nil {
			return leftAsItIs(err)
		}
	}
	if err := file.Fill(wholefile.Text(text)); err != nil {
		return leftAsItIs(err)
	}
	if err := b.unchanged(old); err != nil {
		return err
	}
	return leftAsItIs(file.Rename())
}

// backUp keeps the book as it was before the first change of this day, and no older one.
func (b Book) backUp(old *loaded, mode os.FileMode) error {
	backup := b.Path + "." + time.Now().Format(backupDate) + backupSuffix
	if _, err := os.Lstat(backup); err == nil {
		return nil
	}
	file, err := wholefile.Open(backup, b.String())
	if err != nil {
		return err
	}
	defer file.Discard()
	file.Mode = mode
	if err := file.Write(wholefile.Text(old.text)); err != nil {
		return err
	}
	for _, other := range besides(b.Path, "????-??-??"+backupSuffix) {
		if other != backup {
			os.Remove(other)
		}
	}
	return nil
}

// unchanged makes sure that the book is what was loaded.
func (b Book) unchanged(old *loaded) error {
	now, err := b.open()
	if err == nil && (now.exists != old.exists || !bytes.Equal(now.text, old.text)) {
		err = fmt.Errorf("%s: %w", b, ErrChanged)
	}
	return err
}

// sweep removes what an import that was killed has left.
func (b Book) sweep() {
	for _, path := range []string{b.Path, b.columnsPath()} {
		for _, left := range besides(path, "*"+wholefile.Suffix) {
			os.Remove(left)
		}
	}
}

// besides returns the files beside one whose name is its name, a point, and something of a
// pattern.
func besides(path, pattern string) []string {
	folder, name := filepath.Dir(path), filepath.Base(path)
	entries, _ := os.ReadDir(folder)
	var paths []string
	for _, e := range entries {
		rest, ok := strings.CutPrefix(e.Name(), name+".")
		if match, err := filepath.Match(pattern, rest); ok && err == nil && match {
			paths = append(paths, filepath.Join(folder, e.Name()))
		}
	}
	return paths
}
