package runlog

import (
	"fmt"
	"regear/analyze/run"
	"slices"
	"strings"
)

// HeaderError says why no line of a log serves as its header.
type HeaderError struct {
	run.Position          // of the line that looks most like a header
	Found        []string // the headers on it

	Missing []MissingColumn
	Units   []UnitFault
	Clashes []Clash
}

// MissingColumn is a column that a log needs and lacks.
type MissingColumn struct {
	Names []string // any of these will do
	Near  string   // the found header that resembles one of them, "" if none does
}

// UnitFault is a header that names no unit where there are two to choose from, or
// one that does not fit.
type UnitFault struct {
	Header string
	Kind   string   // "temperature", "length" or ""
	Units  []string // those that the header names: none, a wrong one, or two
	Names  []string // the columns that it may stand for
}

// Clash is a quantity that two columns claim to hold.
type Clash struct {
	Quantity string
	Headers  [2]string
}

// Error lists all that was found, all that is missing, and what to do, one a line.
func (e *HeaderError) Error() string {
	return e.Worded(func(run.Remedy) string { return "rename the columns in the log" })
}

// Worded is Error with the remedy in the words of whoever shows it: see [run.Problem.Worded].
func (e *HeaderError) Worded(words func(run.Remedy) string) string {
	lines := []string{e.Position.String() + ": no usable header line", "  found: " + foundList(e.Found)}
	for _, m := range e.Missing {
		line := "  missing: " + orList(m.Names)
		if m.Near != "" {
			line += fmt.Sprintf(" (%q could be it)", m.Near)
		}
		lines = append(lines, line)
	}
	for _, u := range e.Units {
		lines = append(lines, "  "+u.String())
	}
	for _, c := range e.Clashes {
		lines = append(lines, fmt.Sprintf("  %q and %q both hold %s: keep one, and rename the other",
			c.Headers[0], c.Headers[1], c.Quantity))
	}
	if len(e.Missing)+len(e.Units) > 0 {
		lines = append(lines, words(e.remedy()))
	}
	return strings.Join(lines, "\n")
}

// String says what is wrong with the unit, and which columns would do.
func (u UnitFault) String() string {
	choice := orList(u.Names)
	switch len(u.Units) {
	case 0:
		return fmt.Sprintf("%q: a %s column needs its unit: %s", u.Header, u.Kind, choice)
	case 1:
		return fmt.Sprintf("%q is in %s, which is not read here: make it %s", u.Header, u.Units[0], choice)
	}
	return fmt.Sprintf("%q is said to be in %s and in %s: make it %s", u.Header, u.Units[0], u.Units[1], choice)
}

// remedy is to map the columns, with a mapping that would mend one of the faults as its
// example. It claims no unit.
func (e *HeaderError) remedy() run.Remedy {
	for _, m := range e.Missing {
		if m.Near != "" && len(m.Names) == 1 {
			return run.Remedy{Kind: run.MapColumns, Header: m.Near, Column: m.Names[0]}
		}
	}
	for _, u := range e.Units {
		column, _ := columnNamed(u.Names[0])
		return run.Remedy{Kind: run.MapColumns, Header: u.Header, Column: u.Names[0], Unit: column.shownUnit()}
	}
	return run.Remedy{Kind: run.MapColumns, Header: "Temp mot", Column: "motor_peak_f"}
}

const maxFoundShown = 40

func foundList(found []string) string {
	shown := found[:min(len(found), maxFoundShown)]
	quoted := make([]string, len(shown))
	for i, h := range shown {
		quoted[i] = fmt.Sprintf("%q", excerpt(h))
	}
	list := strings.Join(quoted, ", ")
	if more := len(found) - len(shown); more > 0 {
		list += fmt.Sprintf(" and %d more", more)
	}
	return list
}

// layout is a header understood.
type layout struct {
	run.Position
	header  []string // as the log wrote it
	units   []string // the row of units below it, nil if there is none
	columns []Column // as many as the header has

	// The known columns: their place in a row and the contract's name.
	at      []int
	names   []string
	numbers []int // the places of numbers
	date    int   // the place of the date

	byQuantity map[string]Column // the known ones
}

// headerRows is how many rows may come before the end of the header: a title, a
// line of groups, the header itself, a line of units.
const headerRows = 20

// findHeader finds the header among the first rows of a log, and returns how
// many of them are used up by it and by what stands above it.
func findHeader(name string, first []row, own map[string]match) (*layout, int, error) {
	at := likeliestHeader(first, own)
	head := first[at]
	l := &layout{Position: run.Position{File: name, Line: head.line}}
	for _, cell := range head.cells {
		l.header = append(l.header, strings.Clone(trim(cell)))
	}
	used := at + 1
	if used < len(first) && isUnitsRow(first[used].cells) {
		for _, cell := range first[used].cells {
			l.units = append(l.units, strings.Clone(trim(cell)))
		}
		used++
	}
	if err := l.understand(own); err != nil {
		return nil, 0, err
	}
	return l, used, nil
}

// likeliestHeader returns the first of the rows with the most known columns.
func likeliestHeader(first []row, own map[string]match) int {
	best, bestKnown := 0, 0
	for i, r := range first[:min(len(first), headerRows)] {
		if known := knownHeaders(r.cells, own); known > bestKnown {
			best, bestKnown = i, known
		}
	}
	return best
}

// knownHeaders counts the cells that name a column.
func knownHeaders(cells []string, own map[string]match) int {
	known := 0
	for _, cell := range cells {
		if understand(trim(cell), own).known() {
			known++
		}
	}
	return known
}

// understand matches a header, by the user's own names first.
func understand(header string, own map[string]match) match {
	if m, ok := own[fold(header)]; ok {
		return m
	}
	if len(header) > maxExcerpt {
		return match{}
	}
	return matchHeader(header)
}

// isUnitsRow reports whether a row holds nothing but units, at least one.
func isUnitsRow(cells []string) bool {
	found := false
	for _, cell := range cells {
		switch cell = trim(cell); {
		case cell == "" || cell == "-":
		case unitWords[fold(cell)] != "" || unitIn(cell) != "":
			found = true
		case !slices.Contains(unitRowWords, fold(cell)):
			return false
		}
	}
	return found
}

// unitRowWords may stand in a row of units above the columns that have none.
var unitRowWords = []string{"text", "iso8601", "yyyymmdd", "count", "ratio", "yesno", "number", "name"}

// understand fills the rest of l from its header, or returns a *HeaderError.
func (l *layout) understand(own map[string]match) error {
	fail := &HeaderError{Position: l.Position, Found: l.header}
	l.byQuantity = map[string]Column{}
	claimed := map[string]bool{} // as byQuantity, and those with a fault
	for i, header := range l.header {
		m := understand(header, own)
		if i < len(l.units) {
			m = m.withUnit(unitIn(l.units[i]))
		}
		column := Column{Header: header, Name: m.column(), Unit: m.shownUnit()}
		q := m.quantity.name
		other, twice := l.byQuantity[q]
		switch {
		case !m.known():
		case m.otherUnit != "" || m.needsUnit():
			fail.Units = append(fail.Units, m.unitFault(header))
		case twice:
			fail.Clashes = append(fail.Clashes, Clash{q, [2]string{other.Header, header}})
		default:
			l.byQuantity[q] = column
			l.at = append(l.at, i)
			l.names = append(l.names, column.Name)
			if m.quantity.number {
				l.numbers = append(l.numbers, i)
			}
		}
		claimed[q] = true
		l.columns = append(l.columns, column)
	}
	for _, group := range needed {
		if !slices.ContainsFunc(group, func(q string) bool { return claimed[q] }) {
			fail.Missing = append(fail.Missing, l.missing(group))
		}
	}
	if len(fail.Missing)+len(fail.Units)+len(fail.Clashes) > 0 {
		return fail
	}
	l.date = slices.IndexFunc(l.columns, func(c Column) bool { return c.Name == "date" })
	return nil
}

// shownUnit returns the unit of m's column as [Column.Unit] gives it.
func (m match) shownUnit() string {
	switch {
	case m.quantity.units == nil:
		return m.quantity.unit
	case slices.Equal(m.quantity.units, temperatureUnits):
		return unitNames[m.unit]
	}
	return m.unit
}

// unitFault describes what is wrong with the unit of a header.
func (m match) unitFault(header string) UnitFault {
	u := UnitFault{Header: header, Names: m.quantity.columns()}
	switch {
	case slices.Equal(m.quantity.units, temperatureUnits):
		u.Kind = "temperature"
	case slices.Equal(m.quantity.units, lengthUnits):
		u.Kind = "length"
	}
	for _, unit := range []string{m.unit, m.quantity.unit, m.otherUnit} {
		if unit != "" {
			u.Units = append(u.Units, unitNames[unit])
		}
	}
	return u
}

// missing describes a group of needed quantities that the header lacks.
func (l *layout) missing(group []string) MissingColumn {
	var m MissingColumn
	for _, q := range group {
		m.Names = append(m.Names, quantityNamed(q).columns()...)
	}
	for _, c := range l.columns {
		if c.Name == "" && hintAt(c.Header, m.Names) != "" {
			m.Near = c.Header
			break
		}
	}
	return m
}

// hints warns of columns that are not read though they look as if they should be.
func (l *layout) hints() []run.Problem {
	var free []string
	for _, q := range quantities {
		if _, ok := l.byQuantity[q.name]; !ok {
			free = append(free, q.columns()...)
		}
	}
	var hints []run.Problem
	for _, c := range l.columns {
		if c.Name != "" {
			continue
		}
		if near := misspelt(c.Header, free); near != "" {
			hints = append(hints, run.Problem{
				Position: l.Position, Value: excerpt(c.Header), What: "is not a column that is read",
				Do:     fmt.Sprintf("if it is %s, rename it", near),
				Remedy: run.Remedy{Kind: run.MapColumn, Header: c.Header, Column: near},
			})
		}
	}
	return hints
}

// repeats reports whether a row repeats the header, in whatever spelling, or the
// row of units.
func (l *layout) repeats(cells []string, own map[string]match) bool {
	if at := l.date; at < len(cells) && startsWithDigit(cells[at]) {
		return false // a run, as nearly every row is
	}
	if l.units != nil && slices.EqualFunc(cells, l.units, func(a, b string) bool { return trim(a) == b }) {
		return true
	}
	return slices.EqualFunc(cells, l.columns, func(cell string, c Column) bool {
		cell = trim(cell)
		m := understand(cell, own)
		if m.known() && m.unit == "" {
			_, ok := l.byQuantity[m.quantity.name]
			return ok && l.byQuantity[m.quantity.name] == c
		}
		return m.column() == c.Name && (m.known() || fold(cell) == fold(c.Header))
	})
}

func startsWithDigit(cell string) bool { return cell != "" && cell[0]-'0' <= 9 }
