//go:build unix && !linux

package logbook

import "errors"

func mountSmall(string, int) (unmount func(), err error) { return nil, errors.ErrUnsupported }
