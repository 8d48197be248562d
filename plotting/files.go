//go:build !minimal

package plotting

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"regear/plotting/internal/canvas"
)

// The formats of files. The tag minimal, which is gonum plot's own, leaves them out of a program that
// only shows pages: what draws pixels comes with all that gonum reads of pictures.
var (
	PNG = &Format{"png", canvas.PNG}
	PDF = &Format{"pdf", canvas.PDF}
)

// ErrFormat reports a file name whose ending names no format.
var ErrFormat = errors.New("a picture's file name must end in .png, .svg or .pdf")

// FormatOf returns the format that a file name asks for by its ending.
func FormatOf(path string) (*Format, error) {
	ending := strings.ToLower(strings.TrimPrefix(filepath.Ext(path), "."))
	for _, f := range []*Format{PNG, SVG, PDF} {
		if f.ending == ending {
			return f, nil
		}
	}
	return nil, fmt.Errorf("%q: %w", path, ErrFormat)
}
