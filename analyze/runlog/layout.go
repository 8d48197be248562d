package runlog

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"regear/analyze/run"
)

// HeaderError says why no line of a log serves as its header.
type HeaderError struct {
	run.Position          // of the line that looks most like a header
	Found        []string // the headers on it
	Missing      []string // the columns that are needed and missing, each line a choice
	Others       []string // what else is wrong with the headers
	Remedy       run.Remedy
}

// Error lists all that was found, all that is missing, and what to do, one a line.
func (e *HeaderError) Error() string {
	return e.Worded(func(run.Remedy) string { return "rename the columns in the log" })
}

// Worded is Error with the remedy in the words of whoever shows it: see [run.Problem.Worded].
func (e *HeaderError) Worded(words func(run.Remedy) string) string {
	const most = 40
	shown := e.Found[:min(len(e.Found), most)]
	quoted := make([]string, len(shown))
	for i, h := range shown {
		quoted[i] = strconv.Quote(excerpt(h))
	}
	text := e.Position.String() + ": no usable header line\n  found: " + strings.Join(quoted, ", ")
	if more := len(e.Found) - len(shown); more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	for _, choice := range e.Missing {
		text += "\n  missing: " + choice
	}
	for _, other := range e.Others {
		text += "\n  " + other
	}
	if e.Remedy != (run.Remedy{}) {
		text += "\n" + words(e.Remedy)
	}
	return text
}

// layout is a header understood.
type layout struct {
	run.Position
	mapped   mappedHeaders
	header   []string      // as the log wrote it
	units    []string      // the row of units below it, nil if there is none
	headings []Heading     // as many as the header has
	known    []knownColumn // the columns that are read, in the order of the table
	date     int           // the place of the date in a row
}

type knownColumn struct {
	*Column
	header string
	unit   string // of its cells: "c", "f", "mm", "in", "teeth", "min" or ""
	place  int    // in a row
}

// headerRows is how many rows may come before the end of the header: a title, a
// line of groups, the header itself, a line of units.
const headerRows = 20

// findHeader finds the header among the first rows of a log, and returns how
// many of them are used up by it and by what stands above it.
func findHeader(name string, first []rawRow, mapped mappedHeaders) (*layout, int, error) {
	at := likeliestHeader(first, mapped)
	l := &layout{Position: run.Position{File: name, Line: first[at].line}, mapped: mapped, header: trimmed(first[at].cells)}
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
func likeliestHeader(first []rawRow, mapped mappedHeaders) int {
	best, bestKnown := 0, 0
	for i, r := range first[:min(len(first), headerRows)] {
		if known := mapped.known(r.cells); known > bestKnown {
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
	var clashes []string
	claimed := map[string]bool{} // the groups of the columns that are known or have a problem
	for i, header := range l.header {
		m := l.mapped.understand(header)
		if i < len(l.units) {
			m = m.withUnit(unitIn(l.units[i]))
		}
		l.headings = append(l.headings, Heading{Header: header, Name: m.name(), Unit: shownUnit(m.cellUnit())})
		if !m.known() {
			continue
		}
		claimed[m.column.group] = true
		switch other := l.column(m.column.quantity); {
		case m.otherUnit != "" || m.needsUnit():
			fail.Others = append(fail.Others, m.unitProblem(header))
			fail.Remedy = cmp.Or(fail.Remedy, run.Remedy{Kind: run.MapColumns, Header: header,
				Column: m.column.Name(), Unit: shownUnit(matchHeader(m.column.Name()).cellUnit())}) // an example
		case other != nil:
			clashes = append(clashes, fmt.Sprintf("%q and %q both hold %s: keep one, and rename the other", other.header, header, m.column.quantity))
		default:
			l.known = append(l.known, knownColumn{m.column, header, m.cellUnit(), i})
		}
	}
	fail.Others = append(fail.Others, clashes...)
	l.findMissing(fail, claimed)
	if len(fail.Missing)+len(fail.Others) > 0 {
		return fail
	}
	l.date = l.column("date").place
	slices.SortFunc(l.known, func(a, b knownColumn) int { return a.order - b.order })
	return nil
}

// findMissing finds the groups of columns that the header lacks altogether.
func (l *layout) findMissing(fail *HeaderError, claimed map[string]bool) {
	example := run.Remedy{}
	for _, c := range columns {
		if c.group == "" || claimed[c.group] {
			continue
		}
		claimed[c.group] = true
		var names []string
		for _, other := range columns {
			if other.group == c.group {
				names = append(names, other.Names...)
			}
		}
		choice := orList(names)
		if at := slices.IndexFunc(l.headings, func(h Heading) bool { return h.Name == "" && hintAt(h.Header, names) != "" }); at >= 0 {
			choice += fmt.Sprintf(" (%q could be it)", l.header[at])
			if len(names) == 1 {
				example = cmp.Or(example, run.Remedy{Kind: run.MapColumns, Header: l.header[at], Column: names[0]})
			}
		}
		fail.Missing = append(fail.Missing, choice)
	}
	fail.Remedy = cmp.Or(example, fail.Remedy)
	if len(fail.Missing) > 0 {
		fail.Remedy = cmp.Or(fail.Remedy, run.Remedy{Kind: run.MapColumns, Header: "Temp mot", Column: "motor_peak_f"})
	}
}

// column returns what is known of a column, by its name without unit, or nil.
func (l *layout) column(quantity string) *knownColumn {
	if at := slices.IndexFunc(l.known, func(k knownColumn) bool { return k.quantity == quantity }); at >= 0 {
		return &l.known[at]
	}
	return nil
}

// unitProblem says what is wrong with the unit of a header, and which columns would do.
func (m match) unitProblem(header string) string {
	choice := orList(m.column.Names)
	unit, other := unitNames[m.cellUnit()], unitNames[m.otherUnit]
	switch {
	case unit != "" && other != "":
		return fmt.Sprintf("%q is said to be in %s and in %s: make it %s", header, unit, other, choice)
	case other != "":
		return fmt.Sprintf("%q is in %s, which is not read here: make it %s", header, other, choice)
	}
	return fmt.Sprintf("%q: a %s column needs its unit: %s", header, unitKinds[m.column.units[0]], choice)
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

// repeats reports whether a row repeats the header, in whatever spelling, or the row of units.
func (l *layout) repeats(cells []string) bool {
	if l.units != nil && slices.EqualFunc(cells, l.units, func(a, b string) bool { return trim(a) == b }) {
		return true
	}
	return slices.EqualFunc(cells, l.headings, func(cell string, h Heading) bool {
		m := l.mapped.understand(trim(cell))
		if m.needsUnit() {
			return m.column == matchHeader(h.Name).column
		}
		return m.name() == h.Name && (m.known() || fold(cell) == fold(h.Header))
	})
}
