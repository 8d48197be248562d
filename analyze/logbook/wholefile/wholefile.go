// Package wholefile writes files that appear whole or not at all: at every moment a path
// stands for what the file was before or for all of what it becomes.
package wholefile

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"time"
)

// Suffix ends the name of a file that is being written. The name begins with that of the
// file it will replace.
const Suffix = ".part"

// File is a file that is being written beside the one that it will replace.
type File struct {
	// Mode is the file's permissions: those of the file that it replaces, or 0644.
	Mode os.FileMode

	path   string
	name   string // in messages
	beside *os.File
}

// Follow returns the path of the file that a link leads to, and other paths as they are. It
// fails where no file can be replaced. name is what messages call the path.
func Follow(path, name string) (string, error) {
	target, err := filepath.EvalSymlinks(path)
	if err != nil {
		if _, err := os.Lstat(path); err == nil {
			return "", fmt.Errorf("%s: is a link that leads nowhere: mend it, or name another file", name)
		}
		return path, nil
	}
	switch info, err := os.Stat(target); {
	case err == nil && info.IsDir():
		return "", fmt.Errorf("%s: is a folder, not a file", name)
	case err == nil && !info.Mode().IsRegular():
		// A device or a pipe would be gone for all who use it.
		return "", fmt.Errorf("%s: is no file that could be replaced: name another", name)
	}
	return target, nil
}

// Open makes sure that a file can be written, before the work of making its content. A link
// stays a link: the file that it leads to is replaced. name is what messages call the path.
func Open(path, name string) (*File, error) {
	path, err := Follow(path, name)
	if err != nil {
		return nil, err
	}
	f := &File{Mode: 0o644, path: path, name: name}
	if info, err := os.Stat(path); err == nil {
		f.Mode = info.Mode().Perm()
	}
	f.beside, err = os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*"+Suffix)
	if err != nil {
		return nil, Unwritable(name, err)
	}
	return f, nil
}

// Fill writes the content down to the disk.
func (f *File) Fill(content func(io.Writer) error) error {
	out := bufio.NewWriter(f.beside)
	err := errors.Join(content(out), out.Flush(), f.beside.Chmod(f.Mode), f.beside.Sync(), f.beside.Close())
	if err != nil {
		return Unwritable(f.name, err)
	}
	return nil
}

// Rename gives a file that was filled its name. Where it has the name but may lose it in a
// power cut, the error is no [Error].
func (f *File) Rename() error {
	if err := renameOver(f.beside.Name(), f.path); err != nil {
		return Unwritable(f.name, err)
	}
	f.beside = nil
	return syncFolder(filepath.Dir(f.path))
}

// Discard removes a file that was not renamed. A nil file needs nothing.
func (f *File) Discard() {
	if f != nil && f.beside != nil {
		f.beside.Close()
		os.Remove(f.beside.Name())
	}
}

// Write replaces a file by one that holds text.
func Write(path, name string, text []byte) error {
	f, err := Open(path, name)
	if err != nil {
		return err
	}
	defer f.Discard()
	if err := f.Fill(Text(text)); err != nil {
		return err
	}
	return f.Rename()
}

// Text returns a content for [File.Fill].
func Text(text []byte) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	}
}

// renameOver replaces a file. On Windows, virus scanners and indexers hold a new file for a
// moment, a spreadsheet as long as it shows it: then the error is one of the two below, by
// their names and numbers in the Windows API.
func renameOver(from, to string) error {
	const errorAccessDenied, errorSharingViolation = syscall.Errno(5), syscall.Errno(32)
	const patience, pause = time.Second, 50 * time.Millisecond
	for start := time.Now(); ; time.Sleep(pause) {
		err := os.Rename(from, to)
		switch {
		case runtime.GOOS != "windows" || !errors.Is(err, errorAccessDenied) && !errors.Is(err, errorSharingViolation):
			return err
		case time.Since(start) > patience:
			return fmt.Errorf("another program has it open (%w): close the spreadsheet that shows it, then try again", err)
		}
	}
}

// syncFolder makes a rename last through a power cut.
func syncFolder(path string) error {
	if runtime.GOOS == "windows" {
		return nil // it keeps no folder in memory that could be written
	}
	folder, err := os.Open(path)
	if err != nil {
		return err
	}
	err = folder.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP) {
		err = nil // some file systems can't do this
	}
	return errors.Join(err, folder.Close())
}

// Error says why a file can't be written. The file that it would replace is as it was.
type Error struct {
	name  string
	cause error
}

func (e *Error) Error() string { return fmt.Sprintf("%s: can't be written: %v", e.name, e.cause) }
func (e *Error) Unwrap() error { return e.cause }

// Unwritable returns an [Error] of the file that messages call name. It leaves out the path
// of the file beside, which tells nobody anything.
func Unwritable(name string, err error) error {
	var path *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &path):
		err = path.Err
	case errors.As(err, &link):
		err = link.Err
	}
	return &Error{name, err}
}
