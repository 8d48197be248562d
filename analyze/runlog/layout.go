package runlog

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"regear/analyze/nearest"
	"regear/analyze/run"
	"regear/analyze/units"
)

// HeaderError says why no line of a log serves as its header.
type HeaderError struct {
	run.Position          // of the line that looks most like a header
	Found        []string // the headers on it
	Missing      []string // the columns that are needed and missing, each line a choice
	Others       []string // what else is wrong with the headers

	Lacking  []string   // the first column of each choice in Missing
	Headings []Heading  // what each of Found was read as, which need not be right
	Rows     [][]string // the first ones below
	// Unitless is what Others says of headers that lack nothing but a unit, by the header.
	Unitless map[string]string
	// Try is what would read the log, to be added to the options that it was read with; the
	// values of its constants are examples. It is nil where nothing would.
	Try *Options
}

// Error lists all that was found, all that is missing, and what to do, one a line.
func (e *HeaderError) Error() string {
	return e.Worded(func(*Options) string { return "rename the columns in the log" })
}

// Worded is Error with what to try, nil for nothing, in the words of whoever shows it.
func (e *HeaderError) Worded(words func(*Options) string) string {
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
	if do := words(e.Try); do != "" {
		text += "\n" + do
	}
	return text
}

// try returns what is to be tried, which holds nothing at first.
func (e *HeaderError) try() *Options {
	if e.Try == nil {
		e.Try = new(Options)
	}
	return e.Try
}

func (e *HeaderError) tryColumn(header, column string) {
	try := e.try()
	if try.Columns == nil {
		try.Columns = map[string]string{}
	}
	try.Columns[header] = column
}

// layout is a header understood.
type layout struct {
	run.Position
	wording   wording
	header    []string      // as the log wrote it
	units     []string      // the row of units below it, nil if there is none
	headings  []Heading     // as many as the header has
	known     []knownColumn // the columns that are read, in the order of the table
	date      int           // the place of the date in a row
	clock     int           // the place of its time of day, -1 if there is none
	constants []Assumed     // what is taken where the log says nothing
	notices   []run.Problem // what to tell of the header
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
func findHeader(name string, rows []rawRow, w wording, opts *Options) (*layout, int, error) {
	at := likeliestHeader(rows, w)
	l := &layout{Position: run.Position{File: name, Line: rows[at].line}, wording: w, header: trimmed(rows[at].cells)}
	used := at + 1
	if used < len(rows) && isUnitsRow(rows[used].cells) {
		l.units = trimmed(rows[used].cells)
		used++
	}
	return l, used, l.understand(rows[used:], opts)
}

func trimmed(cells []string) []string {
	trimmed := make([]string, len(cells))
	for i, cell := range cells {
		trimmed[i] = trim(cell)
	}
	return trimmed
}

// likeliestHeader returns the first of the rows with the most known columns.
func likeliestHeader(first []rawRow, w wording) int {
	best, bestKnown := 0, 0
	for i, r := range first[:min(len(first), headerRows)] {
		if known := w.count(r.cells); known > bestKnown {
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

// understand fills the rest of l from its header and what the rows below show of it, or returns
// a *HeaderError.
func (l *layout) understand(rows []rawRow, opts *Options) error {
	fail := &HeaderError{Position: l.Position, Found: l.header}
	m := l.findMeanings(rows, fail)
	l.clock = -1
	var clashes []string
	claimed := map[string]bool{} // the groups of the columns that are known or have a problem
	for i := range m.heads {
		h := &m.heads[i]
		unitFrom := m.findUnit(h, opts)
		heading := Heading{Header: h.header, Name: h.name(), Unit: shownUnit(h.cellUnit()), From: h.from, UnitFrom: unitFrom}
		if h.clock {
			l.clock, heading.Name = i, "date"
		}
		l.headings = append(l.headings, heading)
		fail.Headings = l.headings
		if !h.known() {
			continue
		}
		claimed[h.column.group] = true
		switch other := l.column(h.column.quantity); {
		case h.otherUnit != "" || h.needsUnit():
			fail.Others = append(fail.Others, h.unitProblem(h.header))
			m.tryUnit(h)
		case other != nil:
			clashes = append(clashes, fmt.Sprintf("%q and %q both hold %s: keep one, and rename the other", other.header, h.header, h.column.quantity))
		default:
			l.known = append(l.known, knownColumn{h.column, h.header, h.cellUnit(), i})
		}
	}
	fail.Others = append(fail.Others, clashes...)
	m.hopeless = m.hopeless || len(clashes) > 0
	l.assume(opts, claimed)
	m.findMissing(claimed)
	if date := m.holder("date"); date != nil && l.wording.names != nil && m.yearFirst(date.place) {
		fail.Others = append(fail.Others, fmt.Sprintf("the dates of %q seem to have a year of two digits first: write them as 2026-05-16", date.header))
		m.hopeless, fail.Try = true, nil
	}
	if len(fail.Missing)+len(fail.Others) > 0 {
		fail.Others = append(fail.Others, l.notHere(opts.Columns)...)
		const mostRows = 20
		for _, r := range rows[:min(len(rows), mostRows)] {
			fail.Rows = append(fail.Rows, r.cells)
		}
		m.tryDateOrder(opts)
		return fail
	}
	l.date = l.column("date").place
	slices.SortFunc(l.known, func(a, b knownColumn) int { return a.order - b.order })
	return nil
}

// findUnit finds the unit of a header that names none: that which its cells carry, or else what
// was said of all of them. A column without a filled cell needs none.
func (m *meanings) findUnit(h *head, opts *Options) UnitFrom {
	if !h.needsUnit() || h.otherUnit != "" || m.wording.names == nil {
		return InHeader
	}
	e := m.see(h.place)
	h.match = h.match.withUnit(e.oneUnit())
	switch {
	case h.otherUnit != "" || len(e.units) > 1:
		return InHeader
	case !h.needsUnit():
		return InCells
	case opts.FileUnits != nil:
		h.unit = unitOf(h.column, *opts.FileUnits)
		return UnitAsSaid
	case e.filled == 0 && len(m.rows) > 0:
		h.unit = h.column.units[0]
	}
	return InHeader
}

// tryUnit proposes the unit of a header that has none, or that contradicts itself.
func (m *meanings) tryUnit(h *head) {
	if h.otherUnit == "" && len(m.see(h.place).units) < 2 && m.wording.names != nil {
		likely := m.likelySystem()
		m.fail.try().FileUnits = &likely
		if m.fail.Unitless == nil {
			m.fail.Unitless = map[string]string{}
		}
		m.fail.Unitless[h.header] = h.unitProblem(h.header)
		return
	}
	// A header, or cells, that contradict themselves have to be mended in the log.
	m.hopeless = true
}

// tryDateOrder proposes an order for dates that can be two days, so that one more attempt is enough.
func (m *meanings) tryDateOrder(opts *Options) {
	date := m.holder("date")
	if m.fail.Try == nil || date == nil || opts.DateOrder != OrderOfLog {
		return
	}
	var alone fit
	open := false
	for _, r := range m.rows {
		if date.place < len(r.cells) {
			switch when, _, fits, _ := parseWhen(clean(r.cells[date.place]), OrderOfLog); fits {
			case fitsDay, fitsMonth:
				alone |= fits
			case fitsBoth:
				alone |= opts.past(when)
				open = true
			}
		}
	}
	if open && alone != fitsDay && alone != fitsMonth {
		m.fail.Try.DateOrder = [...]DateOrder{units.Metric: DayFirst, units.US: MonthFirst}[m.likelySystem()]
	}
}

// notHere names the headers that were said to stand for columns and that the log does not have.
func (l *layout) notHere(columns map[string]string) []string {
	var all []string
	for _, header := range slices.Sorted(maps.Keys(columns)) {
		if !slices.ContainsFunc(l.header, func(h string) bool { return SameHeader(h, header) }) {
			all = append(all, noSuchHeader(header, l.header))
		}
	}
	return all
}

func noSuchHeader(header string, of []string) string {
	text := fmt.Sprintf("there is no header %q", header)
	if near := nearest.By(fold, header, of, 1+len(header)/3); near != "" {
		text += fmt.Sprintf(": did you mean %q?", near)
	}
	return text
}

// Unread returns why headers that were said to stand for columns stand for none in logs that were
// read: none of them has such a header. It returns nil if all of them are there.
func Unread(columns map[string]string, logs []*Log) error {
	var headers []string
	for _, log := range logs {
		for _, h := range log.Columns {
			headers = append(headers, h.Header)
		}
	}
	for _, header := range slices.Sorted(maps.Keys(columns)) {
		if !slices.ContainsFunc(headers, func(h string) bool { return SameHeader(h, header) }) && len(logs) > 0 {
			return fileProblem(logs[0].Name, noSuchHeader(header, headers), "")
		}
	}
	return nil
}

// examples are values for what a log may lack and can be one value throughout, by group.
var examples = map[string][2]string{
	"pinion": {"pinion_teeth=16", "pinion_teeth=16"}, "spur": {"spur_teeth=68", "spur_teeth=68"},
	"tire": {"tire_diameter=118mm", "tire_diameter=4.6in"}, "air": {"ambient=25C", "ambient=77F"},
	"minutes": {"run_minutes=10", "run_minutes=10"},
}

// findMissing finds the groups of columns that the header lacks altogether.
func (m *meanings) findMissing(claimed map[string]bool) {
	fail := m.fail
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
		at := slices.IndexFunc(m.heads, func(h head) bool {
			if h.known() || h.clock || h.aside() || len(h.header) > maxExcerpt {
				return false
			}
			_, tried := fail.Try.columns()[h.header]
			return !tried && hintAt(h.header, names) != ""
		})
		example, canBeOne := examples[c.group]
		switch {
		case slices.ContainsFunc(m.heads, func(h head) bool { // it was asked for
			column, tried := fail.Try.columns()[h.header]
			return tried && slices.Contains(names, column)
		}):
			continue
		case at >= 0:
			h := m.heads[at]
			choice += fmt.Sprintf(" (%q could be it)", h.header)
			of := matchHeader(hintAt(h.header, names)).column
			fail.tryColumn(h.header, m.named(of.quantity, m.hear(&h).unit))
		case canBeOne && m.unreadNumbers() >= 0:
			h := m.heads[m.unreadNumbers()]
			fail.tryColumn(h.header, m.named(c.quantity, m.hear(&h).unit))
		case canBeOne:
			fail.try().Constants = append(fail.try().Constants, mustConstant(example[m.likelySystem()]))
		default:
			m.hopeless = true
		}
		fail.Missing, fail.Lacking = append(fail.Missing, choice), append(fail.Lacking, c.Name())
	}
	if m.hopeless {
		fail.Try = nil
	}
}

// unreadNumbers returns the place of the first header over numbers whose words mean nothing that is
// known, -1 if there is none.
func (m *meanings) unreadNumbers() int {
	return slices.IndexFunc(m.heads, func(h head) bool {
		_, tried := m.fail.Try.columns()[h.header]
		e := m.see(h.place)
		return !tried && !h.known() && !h.clock && !h.aside() && fold(h.header) != "" && len(h.header) <= maxExcerpt && e.numbers*2 > e.filled &&
			len(m.hear(&h).sets) == 0 && len(couldMean(h.header)) == 0
	})
}

// columns returns the mappings of o, none if o is nil.
func (o *Options) columns() map[string]string {
	if o == nil {
		return nil
	}
	return o.Columns
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
		if h.Name != "" || h.From != ByName {
			continue
		}
		near := misspelt(h.Header, free)
		if near == "" && !slices.ContainsFunc(l.headings, Heading.IsRatio) && len(h.Header) <= maxExcerpt && l.wording.names != nil {
			// Without a ratio every run has that of spur and pinion alone, which misleads.
			near = hintAt(h.Header, []string{"internal_ratio", "final_drive_ratio"})
		}
		if near != "" {
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
		if fold(cell) == fold(h.Header) {
			return true
		}
		m, _ := l.wording.understand(trim(cell))
		if m.needsUnit() {
			return m.column == matchHeader(h.Name).column
		}
		return m.known() && m.name() == h.Name
	})
}
