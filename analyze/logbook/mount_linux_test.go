package logbook

import (
	"fmt"
	"syscall"
)

// mountSmall mounts a small disk in memory on a folder.
func mountSmall(folder string, size int) (unmount func(), err error) {
	err = syscall.Mount("tmpfs", folder, "tmpfs", 0, fmt.Sprintf("size=%d", size))
	return func() { syscall.Unmount(folder, 0) }, err
}
