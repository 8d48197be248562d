package logbook

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"regear/analyze/nearest"
	"regear/analyze/run"
	"regear/analyze/runlog"
)

// The text columns.txt remembers what logs needed. A line is a mapping of a header of the driver's
// own, as [runlog.ParseColumn] reads it, or what logs with one header lack, as
// [runlog.ParseConstant] reads it, between bars: | ambient=25C | the header |.

// ColumnsPlace returns where it is remembered what logs needed. It need not exist.
func (b Book) ColumnsPlace() string { return b.store().Place(columnsName) }

// columnsCalled returns what messages call it. Where the book has a name, they don't say where it
// lies either.
func (b Book) columnsCalled() string {
	if b.Name != "" {
		return columnsName
	}
	return b.ColumnsPlace()
}

// Remembered is what the book's folder remembers of logs.
type Remembered struct {
	Columns   map[string]string // as [runlog.Options.Columns]
	Constants []Constant
}

// Constant is a value that logs with one header lack.
type Constant struct {
	runlog.Constant
	Header string // of the logs, in one line
}

// For returns m as a log is read with it.
func (m Remembered) For() runlog.Remembered {
	all := runlog.Remembered{Columns: m.Columns, Constants: map[string][]runlog.Constant{}}
	for _, c := range m.Constants {
		key := runlog.HeaderKey([]string{c.Header})
		all.Constants[key] = append(all.Constants[key], c.Constant)
	}
	return all
}

// with returns m with others added, which count where both have a header.
func (m Remembered) with(others Remembered) Remembered {
	all := Remembered{Columns: withColumns(m.Columns, others.Columns), Constants: slices.Clone(m.Constants)}
	for _, other := range others.Constants {
		all.Constants = slices.DeleteFunc(all.Constants, func(c Constant) bool {
			return runlog.SameHeader(c.Header, other.Header) && c.SameColumn(other.Constant)
		})
		all.Constants = append(all.Constants, other)
	}
	return all
}

// lines returns m as the lines of its file.
func (m Remembered) lines() []string {
	var all []string
	for _, header := range slices.Sorted(maps.Keys(m.Columns)) {
		all = append(all, header+"="+m.Columns[header])
	}
	for _, c := range m.Constants {
		all = append(all, fmt.Sprintf("| %s | %s |", c.Constant, c.Header))
	}
	return all
}

// Remembered returns what the book's folder remembers of logs.
func (b Book) Remembered() (Remembered, error) {
	text, err := b.store().Read(columnsName)
	if err != nil {
		return Remembered{}, err
	}
	all := Remembered{Columns: map[string]string{}}
	for i, line := range strings.Split(strings.TrimPrefix(string(text), "\uFEFF"), "\n") {
		if line = strings.TrimSpace(line); line == "" || line[0] == '#' {
			continue
		}
		one, err := parseRemembered(line)
		if err != nil {
			return Remembered{}, fmt.Errorf("%s:%d: %w", b.columnsCalled(), i+1, err)
		}
		all = all.with(one)
	}
	return all, nil
}

func parseRemembered(line string) (Remembered, error) {
	inBars, isConstant := strings.CutPrefix(line, "|")
	if header, isAside := strings.CutSuffix(line, "="); isAside && !isConstant {
		return Remembered{Columns: map[string]string{strings.TrimSpace(header): ""}}, nil
	}
	if !isConstant {
		header, column, err := runlog.ParseColumn(line)
		return Remembered{Columns: map[string]string{header: column}}, err
	}
	constant, header, _ := strings.Cut(strings.TrimSuffix(inBars, "|"), "|")
	c, err := runlog.ParseConstant(strings.TrimSpace(constant))
	return Remembered{Constants: []Constant{{c, strings.TrimSpace(header)}}}, err
}

// withColumns returns mappings of headers to columns with others added, which count
// where both have a header.
func withColumns(columns, others map[string]string) map[string]string {
	all := maps.Clone(columns)
	if all == nil {
		all = map[string]string{}
	}
	for other := range others {
		maps.DeleteFunc(all, func(header, _ string) bool { return runlog.SameHeader(header, other) })
	}
	maps.Copy(all, others)
	return all
}

// Remember keeps what logs needed in the book's folder, and leaves what it has there of other
// headers.
func (b Book) Remember(more Remembered) error {
	return b.changeRemembered(func(known Remembered) (Remembered, error) { return known.with(more), nil })
}

// Forget forgets a header of the driver's own, or a constant by its column or as it is written.
// It fails with a [run.Problem] where nothing of the kind is remembered.
func (b Book) Forget(what string) error {
	return b.changeRemembered(func(known Remembered) (Remembered, error) {
		left := Remembered{Columns: maps.Clone(known.Columns)}
		maps.DeleteFunc(left.Columns, func(header, column string) bool {
			return runlog.SameHeader(header, what) || strings.TrimSpace(what) == header+"="+column
		})
		names := slices.Collect(maps.Keys(known.Columns))
		for _, c := range known.Constants {
			if strings.TrimSpace(what) != c.String() && strings.TrimSpace(what) != c.Column {
				left.Constants = append(left.Constants, c)
			}
			names = append(names, c.String())
		}
		if len(left.lines()) == len(known.lines()) {
			return known, run.Problem{Position: run.Position{File: b.columnsCalled()}, Value: what,
				What: "is not remembered" + nearest.DidYouMean(what, names)}
		}
		return left, nil
	})
}

func (b Book) changeRemembered(change func(Remembered) (Remembered, error)) error {
	return b.store().Alone(func() error {
		known, err := b.Remembered()
		if err != nil {
			return err
		}
		all, err := change(known)
		if err != nil || slices.Equal(all.lines(), known.lines()) {
			return err
		}
		text := "# Headers of your own, one a line, and the columns as which regear import reads them; between bars, what files lack.\n"
		for _, line := range all.lines() {
			text += line + "\n"
		}
		return b.store().Write([]Text{{columnsName, []byte(text)}}, nil)
	})
}
