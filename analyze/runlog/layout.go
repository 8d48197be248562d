package runlog

import (
	"fmt"
	"slices"
	"strings"

	"regear/analyze/run"
)

// HeaderError says why no line of a log serves as its header.
type HeaderError struct {
	run.Position          // of the line that looks most like a header
	Found        []string // the headers on it

	Missing []MissingColumn
	Units   []UnitProblem
	Clashes []Clash
}

// MissingColumn is a column that a log needs and lacks.
type MissingColumn struct {
	Names []string // any of these will do
	Near  string   // the found header that resembles one of them, "" if none does
}

// UnitProblem is a header that names no unit where there are two to choose from, or
// one that does not fit.
type UnitProblem struct {
	Header string
	Kind   string   // "temperature", "length" or ""
	Units  []string // those that the header names: none, a wrong one, or two
	Names  []string // the columns that it may stand for
}

// Clash is a column that two headers claim to be, without its unit.
type Clash struct {
	Column  string
	Headers [2]string
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
			c.Headers[0], c.Headers[1], c.Column))
	}
	if len(e.Missing)+len(e.Units) > 0 {
		lines = append(lines, words(e.remedy()))
	}
	return strings.Join(lines, "\n")
}

// String says what is wrong with the unit, and which columns would do.
func (u UnitProblem) String() string {
	choice := orList(u.Names)
	switch len(u.Units) {
	case 0:
		return fmt.Sprintf("%q: a %s column needs its unit: %s", u.Header, u.Kind, choice)
	case 1:
		return fmt.Sprintf("%q is in %s, which is not read here: make it %s", u.Header, u.Units[0], choice)
	}
	return fmt.Sprintf("%q is said to be in %s and in %s: make it %s", u.Header, u.Units[0], u.Units[1], choice)
}

// remedy is to map the columns, with a mapping that would mend one of the problems as its
// example. It claims no unit.
func (e *HeaderError) remedy() run.Remedy {
	for _, m := range e.Missing {
		if m.Near != "" && len(m.Names) == 1 {
			return run.Remedy{Kind: run.MapColumns, Header: m.Near, Column: m.Names[0]}
		}
	}
	for _, u := range e.Units {
		return run.Remedy{Kind: run.MapColumns, Header: u.Header, Column: u.Names[0], Unit: matchHeader(u.Names[0]).shownUnit()}
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
	own      ownColumns
	header   []string      // as the log wrote it
	units    []string      // the row of units below it, nil if there is none
	headings []Heading     // as many as the header has
	known    []knownColumn // the columns that are read, in the order of the table
	date     int           // the place of the date in a row
}

// knownColumn is a column of a log that is read.
type knownColumn struct {
	*Column
	header string
	unit   string // of its cells: "c", "f", "mm", "in", "teeth", "min" or ""
	shown  string // the unit as messages name it
	place  int    // in a row
}

// headerRows is how many rows may come before the end of the header: a title, a
// line of groups, the header itself, a line of units.
const headerRows = 20

// findHeader finds the header among the first rows of a log, and returns how
// many of them are used up by it and by what stands above it.
func findHeader(name string, first []rawRow, own ownColumns) (*layout, int, error) {
	at := likeliestHeader(first, own)
	l := &layout{Position: run.Position{File: name, Line: first[at].line}, own: own, header: trimmed(first[at].cells)}
	used := at + 1
	if used < len(first) && isUnitsRow(first[used].cells) {
		l.units = trimmed(first[used].cells)
		used++
	}
	return l, used, l.understand()
}

func trimmed(cells []string) []string {
	trimmed := make([]string, len(cells))
	for i, cell := range cells {
		trimmed[i] = trim(cell)
	}
	return trimmed
}

// likeliestHeader returns the first of the rows with the most known columns.
func likeliestHeader(first []rawRow, own ownColumns) int {
	best, bestKnown := 0, 0
	for i, r := range first[:min(len(first), headerRows)] {
		if known := own.known(r.cells); known > bestKnown {
			best, bestKnown = i, known
		}
	}
	return best
}

// isUnitsRow reports whether a row holds nothing but units, at least one.
func isUnitsRow(cells []string) bool {
	found := false
	for _, cell := range trimmed(cells) {
		switch {
		case cell == "" || cell == "-":
		case unitIn(cell) != "":
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
func (l *layout) understand() error {
	fail := &HeaderError{Position: l.Position, Found: l.header}
	claimed := map[string]bool{} // the groups of the columns that are known or have a problem
	for i, header := range l.header {
		m := l.own.understand(header)
		if i < len(l.units) {
			m = m.withUnit(unitIn(l.units[i]))
		}
		l.headings = append(l.headings, Heading{Header: header, Name: m.name(), Unit: m.shownUnit()})
		if !m.known() {
			continue
		}
		claimed[m.column.group] = true
		switch other := l.column(m.column.quantity); {
		case m.otherUnit != "" || m.needsUnit():
			fail.Units = append(fail.Units, m.unitProblem(header))
		case other != nil:
			fail.Clashes = append(fail.Clashes, Clash{m.column.quantity, [2]string{other.header, header}})
		default:
			l.known = append(l.known, knownColumn{m.column, header, m.ownUnit(), m.shownUnit(), i})
		}
	}
	for _, c := range columns {
		if c.group != "" && !claimed[c.group] {
			claimed[c.group] = true
			fail.Missing = append(fail.Missing, l.missing(c.group))
		}
	}
	if len(fail.Missing)+len(fail.Units)+len(fail.Clashes) > 0 {
		return fail
	}
	l.date = l.column("date").place
	slices.SortFunc(l.known, func(a, b knownColumn) int { return a.order - b.order })
	return nil
}

// column returns what is known of a column, by its name without unit, or nil.
func (l *layout) column(quantity string) *knownColumn {
	for i := range l.known {
		if k := &l.known[i]; k.quantity == quantity {
			return k
		}
	}
	return nil
}

// unitProblem describes what is wrong with the unit of a header.
func (m match) unitProblem(header string) UnitProblem {
	u := UnitProblem{Header: header, Names: m.column.Names}
	if m.column.units != nil {
		u.Kind = unitKinds[m.column.units[0]]
	}
	for _, unit := range []string{m.ownUnit(), m.otherUnit} {
		if unit != "" {
			u.Units = append(u.Units, unitNames[unit])
		}
	}
	return u
}

// missing describes a group of columns of which the header lacks all.
func (l *layout) missing(group string) MissingColumn {
	var m MissingColumn
	for _, c := range columns {
		if c.group == group {
			m.Names = append(m.Names, c.Names...)
		}
	}
	for _, h := range l.headings {
		if h.Name == "" && hintAt(h.Header, m.Names) != "" {
			m.Near = h.Header
			break
		}
	}
	return m
}

// hints warns of columns that are not read though they look as if they should be.
func (l *layout) hints() []run.Problem {
	var free []string
	for _, c := range columns {
		if l.column(c.quantity) == nil {
			free = append(free, c.Names...)
		}
	}
	var hints []run.Problem
	for _, h := range l.headings {
		if h.Name != "" {
			continue
		}
		if near := misspelt(h.Header, free); near != "" {
			hints = append(hints, run.Problem{
				Position: l.Position, Value: excerpt(h.Header), What: "is not a column that is read",
				Do:     fmt.Sprintf("if it is %s, rename it", near),
				Remedy: run.Remedy{Kind: run.MapColumn, Header: h.Header, Column: near},
			})
		}
	}
	return hints
}

// passedOver warns of rows above the header.
func (l *layout) passedOver(used []rawRow) []run.Problem {
	var warnings []run.Problem
	for _, r := range used {
		if r.line < l.Line {
			text := strings.Join(strings.Fields(strings.Join(r.cells, " ")), " ")
			warnings = append(warnings, run.Problem{Position: run.Position{File: l.File, Line: r.line}, Value: excerpt(text),
				What: "stands above the header and was passed over"})
		}
	}
	return warnings
}

// repeats reports whether a row repeats the header, in whatever spelling, or the
// row of units.
func (l *layout) repeats(cells []string) bool {
	if l.units != nil && slices.EqualFunc(cells, l.units, func(a, b string) bool { return trim(a) == b }) {
		return true
	}
	return slices.EqualFunc(cells, l.headings, func(cell string, h Heading) bool {
		m := l.own.understand(trim(cell))
		if m.needsUnit() {
			return m.column == matchHeader(h.Name).column
		}
		return m.name() == h.Name && (m.known() || fold(cell) == fold(h.Header))
	})
}
