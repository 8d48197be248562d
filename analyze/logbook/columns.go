package logbook

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"regear/analyze/logbook/wholefile"
	"regear/analyze/runlog"
)

// columnsName is the file beside the book that remembers headers of the user's own,
// each line a mapping as [runlog.ParseColumn] reads it.
const columnsName = "columns.txt"

const columnsHead = "# Headers of your own, one a line, and the columns as which regear import reads them.\n"

// Columns returns the headers of the user's own that the book's folder remembers, with
// the columns as which they are read.
func (b Book) Columns() (map[string]string, error) {
	path := b.columnsPath()
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return map[string]string{}, nil
	}
	if err != nil {
		return nil, err
	}
	columns := map[string]string{}
	number := 0
	for line := range strings.Lines(strings.TrimPrefix(string(text), "\uFEFF")) {
		number++
		if line = strings.TrimSpace(line); line == "" || line[0] == '#' {
			continue
		}
		header, column, err := runlog.ParseColumn(line)
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", path, number, err)
		}
		columns = WithColumns(columns, map[string]string{header: column})
	}
	return columns, nil
}

func (b Book) columnsPath() string { return filepath.Join(filepath.Dir(b.Path), columnsName) }

// WithColumns returns mappings of headers to columns with others added, which count
// where both have a header.
func WithColumns(columns, others map[string]string) map[string]string {
	all := maps.Clone(columns)
	maps.DeleteFunc(all, func(header, _ string) bool {
		for other := range others {
			if runlog.SameHeader(header, other) {
				return true
			}
		}
		return false
	})
	maps.Copy(all, others)
	return all
}

// Remember keeps mappings in the book's folder, and leaves what it has there of other
// headers.
func (b Book) Remember(columns map[string]string) error {
	if err := b.makeFolder(); err != nil {
		return err
	}
	return b.locked(func(real Book) error {
		known, err := real.Columns()
		if err != nil {
			return err
		}
		all := WithColumns(known, columns)
		if maps.Equal(all, known) {
			return nil
		}
		var text strings.Builder
		text.WriteString(columnsHead)
		for _, header := range slices.Sorted(maps.Keys(all)) {
			text.WriteString(header + "=" + all[header] + "\n")
		}
		return leftAsItIs(wholefile.Write(real.columnsPath(), []byte(text.String())))
	})
}
