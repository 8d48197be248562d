package wholefile

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/gofrs/flock"
)

// Lock holds a file for one writer among programs of this kind, until unlock is called. The
// lock is on a file of its own beside it, as the file itself is replaced. Held is false where
// another holds it and does not let go of it in time.
func Lock(path string, patience time.Duration) (unlock func(), held bool, err error) {
	lock := flock.New(path + ".lock")
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	held, err = lock.TryLockContext(ctx, 20*time.Millisecond)
	if errors.Is(err, context.DeadlineExceeded) {
		err = nil
	}
	return func() { _ = lock.Unlock() }, held, err // it ends with the program at the latest
}

// Change replaces the text of a file by what change makes of it, while no other Change can. There
// need be no file, and no folder of it; its text is then nil. If change fails or the text stays
// as it is, nothing is written. What other programs write meanwhile is not written over. name is
// what messages call the file.
func Change(path, name string, change func(before []byte) (after []byte, err error)) error {
	const patience = 5 * time.Second
	path, err := Follow(path, name)
	if err != nil {
		return err
	}
	before, err := textOf(path)
	if err != nil {
		return err
	}
	after, err := change(before)
	if err != nil || bytes.Equal(before, after) {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return Unwritable(name, err)
	}
	unlock, held, err := Lock(path, patience)
	switch {
	case err != nil:
		return Unwritable(name, err)
	case !held:
		return Unwritable(name, errors.New("another program is writing to it: wait until it has ended, then try again"))
	}
	defer unlock()
	if now, err := textOf(path); err != nil {
		return err
	} else if !bytes.Equal(now, before) {
		before = now
		if after, err = change(before); err != nil {
			return err
		}
	}
	file, err := Open(path, name)
	if err != nil {
		return err
	}
	defer file.Discard()
	// Renaming needs no permission on the file that it replaces.
	if before != nil && file.Mode&0o200 == 0 {
		return Unwritable(name, errors.New("it is write-protected"))
	}
	if err := file.Fill(Text(after)); err != nil {
		return err
	}
	if now, err := textOf(path); err != nil || !bytes.Equal(now, before) {
		return errors.Join(err, fmt.Errorf("%s: was changed by another program meanwhile and was not written over: try again", name))
	}
	return file.Rename()
}

// textOf returns the text of a file, nil for no file.
func textOf(path string) ([]byte, error) {
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if text == nil && err == nil {
		text = []byte{}
	}
	return text, err
}
