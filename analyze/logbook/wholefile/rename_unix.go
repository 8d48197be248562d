//go:build !windows

package wholefile

import (
	"errors"
	"os"
	"syscall"
)

func renameOver(from, to string) error { return os.Rename(from, to) }

// syncFolder makes a rename last through a power cut.
func syncFolder(path string) error {
	folder, err := os.Open(path)
	if err != nil {
		return err
	}
	err = folder.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP) {
		err = nil // some file systems have no such thing
	}
	return errors.Join(err, folder.Close())
}
