package logbook

import (
	"fmt"
	"maps"
	"path/filepath"
	"regear/analyze/logbook/wholefile"
	"regear/analyze/runlog"
	"slices"
	"strings"
)

// columnsFile returns the file beside the book that remembers headers of the driver's own,
// each line a mapping as [runlog.ParseColumn] reads it. Where the book has a name, messages
// don't say where the file lies either.
func (b Book) columnsFile() Book {
	const name = "columns.txt"
	file := Book{Path: filepath.Join(filepath.Dir(b.Path), name)}
	if b.Name != "" {
		file.Name = name
	}
	return file
}

// ColumnsPath returns where headers of the driver's own are remembered. The file need not exist.
func (b Book) ColumnsPath() string { return b.columnsFile().Path }

// Columns returns the headers of the driver's own that the book's folder remembers, with
// the columns as which they are read.
func (b Book) Columns() (map[string]string, error) {
	file := b.columnsFile()
	text, err := file.open()
	if err != nil {
		return nil, err
	}
	columns := map[string]string{}
	for i, line := range strings.Split(strings.TrimPrefix(string(text), "\uFEFF"), "\n") {
		if line = strings.TrimSpace(line); line == "" || line[0] == '#' {
			continue
		}
		header, column, err := runlog.ParseColumn(line)
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", file, i+1, err)
		}
		columns = WithColumns(columns, map[string]string{header: column})
	}
	return columns, nil
}

// WithColumns returns mappings of headers to columns with others added, which count
// where both have a header.
func WithColumns(columns, others map[string]string) map[string]string {
	all := maps.Clone(columns)
	for other := range others {
		maps.DeleteFunc(all, func(header, _ string) bool { return runlog.SameHeader(header, other) })
	}
	maps.Copy(all, others)
	return all
}

// Remember keeps mappings in the book's folder, and leaves what it has there of other
// headers.
func (b Book) Remember(columns map[string]string) error {
	return b.locked(func(real Book) error {
		known, err := real.Columns()
		if err != nil {
			return err
		}
		all := WithColumns(known, columns)
		if maps.Equal(all, known) {
			return nil
		}
		text := "# Headers of your own, one a line, and the columns as which regear import reads them.\n"
		for _, header := range slices.Sorted(maps.Keys(all)) {
			text += header + "=" + all[header] + "\n"
		}
		file := real.columnsFile()
		return wholefile.Write(file.Path, file.String(), []byte(text))
	})
}
