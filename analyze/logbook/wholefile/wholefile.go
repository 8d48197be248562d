// Package wholefile writes files that appear whole or not at all: whatever happens
// meanwhile, a path stands for what the file was before or for all of what it becomes.
package wholefile

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// Suffix ends the name of a file that is being written. It begins with the name that the
// file is to have.
const Suffix = ".part"

// File is a file that is being written beside the one that it will replace.
type File struct {
	// Mode are the permissions that the file gets: those of the one that it replaces, or 0644.
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

// Open makes sure that a file can be written, which is best known before there is
// anything to write. A link stays a link: what it leads to is replaced. name is what messages
// call the path.
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

// Write writes the content and gives the file its name.
func (f *File) Write(content func(io.Writer) error) error {
	if err := f.Fill(content); err != nil {
		return err
	}
	return f.Rename()
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

// Rename gives a file that was filled its name, down to the disk. Where the disk can't say
// that it has the name, the error is no [Error].
func (f *File) Rename() error {
	if err := renameOver(f.beside.Name(), f.path); err != nil {
		return Unwritable(f.name, err)
	}
	f.beside = nil
	return syncFolder(filepath.Dir(f.path))
}

// Discard removes what was not given its name. There is nothing to do for no file.
func (f *File) Discard() {
	if f != nil && f.beside != nil {
		f.beside.Close()
		os.Remove(f.beside.Name())
	}
}

// Write replaces a file by one that holds text.
func Write(path string, text []byte) error {
	f, err := Open(path, path)
	if err != nil {
		return err
	}
	defer f.Discard()
	return f.Write(Text(text))
}

// Text returns a content for [File.Write].
func Text(text []byte) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	}
}

// Error says why a file can't be written. What it would replace is as it was.
type Error struct {
	Name  string // as messages call the file
	Cause error
}

func (e *Error) Error() string { return fmt.Sprintf("%s: can't be written: %v", e.Name, e.Cause) }
func (e *Error) Unwrap() error { return e.Cause }

// Unwritable returns an [Error] that leaves out the file beside, which is of no interest.
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
