package logbook

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// ErrChanged reports that the book changed between being read and being replaced.
var ErrChanged = errors.New("was changed by another program meanwhile and was not written over: try again")

const (
	besideSuffix = ".part"
	backupDate   = "2006-01-02"
	backupSuffix = ".bak"
)

// replace puts a text in the place of the book, which must be as it was loaded. The
// new book is on the disk before it takes the name, so that at every moment the name
// stands for a whole book.
func (b Book) replace(old *loaded, text []byte) error {
	mode := os.FileMode(0o644)
	if info, err := os.Stat(b.Path); err == nil {
		mode = info.Mode().Perm()
	}
	if old.exists {
		// Renaming needs no permission on the file that it replaces.
		if mode&0o200 == 0 {
			return unwritable(b.Path, errors.New("it is write-protected"))
		}
		if err := b.backUp(old, mode); err != nil {
			return err
		}
	}
	beside, err := b.writeBeside(text, mode)
	if err != nil {
		return err
	}
	if err := b.unchanged(old); err != nil {
		os.Remove(beside)
		return err
	}
	return b.rename(beside, b.Path)
}

// backUp keeps the book as it was before the first change of this day, and no older one.
func (b Book) backUp(old *loaded, mode os.FileMode) error {
	backup := b.Path + "." + time.Now().Format(backupDate) + backupSuffix
	if _, err := os.Lstat(backup); err == nil {
		return nil
	}
	beside, err := b.writeBeside(old.text, mode)
	if err != nil {
		return err
	}
	if err := b.rename(beside, backup); err != nil {
		return err
	}
	for _, other := range b.besides("????-??-??" + backupSuffix) {
		if other != backup {
			os.Remove(other)
		}
	}
	return nil
}

// writeBeside writes a file beside the book, down to the disk, and returns its path.
func (b Book) writeBeside(text []byte, mode os.FileMode) (string, error) {
	folder, name := filepath.Split(b.Path)
	if folder == "" {
		folder = "."
	}
	file, err := os.CreateTemp(folder, name+".*"+besideSuffix)
	if err != nil {
		return "", unwritable(b.Path, err)
	}
	_, err = file.Write(text)
	if err == nil {
		err = file.Sync()
	}
	if err = errors.Join(err, file.Chmod(mode), file.Close()); err != nil {
		os.Remove(file.Name())
		return "", unwritable(b.Path, err)
	}
	return file.Name(), nil
}

// unchanged makes sure that the book is what was loaded.
func (b Book) unchanged(old *loaded) error {
	text, err := os.ReadFile(b.Path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && !old.exists:
		return nil
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return err
	case old.exists && sha256.Sum256(text) == old.sum:
		return nil
	}
	return fmt.Errorf("%s: %w", b.Path, ErrChanged)
}

// rename gives a file beside the book its name, down to the disk.
func (b Book) rename(from, to string) error {
	err := renameOver(from, to)
	if err != nil {
		os.Remove(from)
		return unwritable(to, err)
	}
	return syncFolder(filepath.Dir(to))
}

// sweep removes what an import that was killed has left.
func (b Book) sweep() {
	for _, left := range b.besides("*" + besideSuffix) {
		os.Remove(left)
	}
}

// besides returns the files beside the book whose name is the book's, a point, and
// something of a pattern.
func (b Book) besides(pattern string) []string {
	folder, name := filepath.Split(b.Path)
	if folder == "" {
		folder = "."
	}
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
