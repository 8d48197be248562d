package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// wholeFile is a file that appears whole or not at all: it is written into one beside it,
// which then takes its name.
type wholeFile struct {
	path   string
	beside *os.File
}

// openWhole makes sure that a file can be written, which is best known before there is
// anything to write. A link stays a link: what it points to is replaced.
func openWhole(path string) (*wholeFile, error) {
	f := &wholeFile{path: path}
	if target, err := filepath.EvalSymlinks(path); err == nil {
		f.path = target
	} else if _, err := os.Lstat(path); err == nil {
		return nil, fmt.Errorf("%s: is a link that leads nowhere: mend it, or name another file", path)
	}
	switch info, err := os.Stat(f.path); {
	case err == nil && info.IsDir():
		return nil, fmt.Errorf("%s: is a folder, not a file", f.path)
	case err == nil && !info.Mode().IsRegular():
		// A device or a pipe would be gone for all who use it.
		return nil, fmt.Errorf("%s: is no file that could be replaced: name another", f.path)
	}
	var err error
	f.beside, err = os.CreateTemp(filepath.Dir(f.path), "."+filepath.Base(f.path)+".*")
	if err != nil {
		return nil, f.failed(err)
	}
	return f, nil
}

// write writes the content and gives the file its name.
func (f *wholeFile) write(content func(io.Writer) error) error {
	out := bufio.NewWriter(f.beside)
	err := errors.Join(content(out), out.Flush(), f.beside.Chmod(f.mode()), f.beside.Sync(), f.beside.Close())
	if err == nil {
		err = os.Rename(f.beside.Name(), f.path)
	}
	if err != nil {
		return f.failed(err)
	}
	f.beside = nil
	return nil
}

// failed words an error of the file beside as one of the file.
func (f *wholeFile) failed(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		err = path.Err
	}
	return fmt.Errorf("%s: can't be written: %w", f.path, err)
}

// mode returns the permissions of the file that is replaced, or those of a new one.
func (f *wholeFile) mode() os.FileMode {
	if info, err := os.Stat(f.path); err == nil {
		return info.Mode().Perm()
	}
	return 0o644
}

// discard removes what was opened and not written. There is nothing to do for no file.
func (f *wholeFile) discard() {
	if f != nil && f.beside != nil {
		f.beside.Close()
		os.Remove(f.beside.Name())
	}
}

// writeWhole replaces a file by one that holds text, whole or not at all.
func writeWhole(path string, text []byte) error {
	f, err := openWhole(path)
	if err != nil {
		return err
	}
	defer f.discard()
	return f.write(func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	})
}
