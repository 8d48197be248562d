package wholefile

import (
	"errors"
	"fmt"
	"os"
	"syscall"
	"time"
)

// errorSharingViolation is ERROR_SHARING_VIOLATION of the Windows API: another program
// has the file open and shares it with nobody.
const errorSharingViolation = syscall.Errno(32)

// renameOver replaces a file. Virus scanners and indexers hold a new file for a moment,
// a spreadsheet as long as it shows it.
func renameOver(from, to string) error {
	const patience, pause = time.Second, 50 * time.Millisecond
	for start := time.Now(); ; time.Sleep(pause) {
		err := os.Rename(from, to)
		held := errors.Is(err, errorSharingViolation) || errors.Is(err, syscall.ERROR_ACCESS_DENIED)
		switch {
		case !held:
			return err
		case time.Since(start) > patience:
			return fmt.Errorf("another program has it open (%w): close the spreadsheet that shows it, then try again", err)
		}
	}
}

// syncFolder has nothing to do: Windows keeps no folder in memory that could be written.
func syncFolder(string) error { return nil }
