package runlog

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"regear/analyze/run"
	"regear/analyze/units"
)

// Origin is where it is known from what a header stands for.
type Origin uint8

// The origins.
const (
	ByName       Origin = iota // it is the name of a column
	AsSaid                     // [Options.Columns] has it
	AsRemembered               // [Options.Remembered] has it
	ByWords                    // its words stand in the table of words
)

// head is a header on the way to what it stands for.
type head struct {
	match
	header string
	place  int
	from   Origin
	could  []string // the columns that its words may mean, where there are several
	clock  bool     // it holds the times of day to the dates of another
}

// aside reports whether a header is said to stand for no column.
func (h *head) aside() bool { return !h.known() && (h.from == AsSaid || h.from == AsRemembered) }

// meanings finds out what every header of a log stands for, by the names of columns, by what was
// said or is remembered, and last by the table of words. What the words leave open is asked for:
// it joins fail.
type meanings struct {
	*layout
	rows    []rawRow
	heads   []head
	fail    *HeaderError
	evident map[int]*evidence
	// hopeless is true where no options would read the log.
	hopeless bool
}

func (l *layout) findMeanings(rows []rawRow, fail *HeaderError) *meanings {
	m := &meanings{layout: l, rows: rows, fail: fail, evident: map[int]*evidence{}}
	for i, header := range l.header {
		h := head{header: header, place: i}
		h.match, h.from = l.wording.understand(header)
		if i < len(l.units) {
			h.match = h.match.withUnit(unitIn(l.units[i]))
		}
		m.heads = append(m.heads, h)
	}
	m.yieldToNames()
	if l.wording.names != nil {
		m.byWords()
	}
	m.findClock()
	return m
}

// yieldToNames lets what is remembered of a header go where another has the very name of the column.
func (m *meanings) yieldToNames() {
	for i := range m.heads {
		if h := &m.heads[i]; h.known() && h.from == AsRemembered && slices.ContainsFunc(m.heads, func(other head) bool {
			return other.from == ByName && other.column == h.column
		}) {
			h.match, h.from = matchHeader(h.header), ByName
		}
	}
}

func (m *meanings) holder(quantity string) *head {
	at := slices.IndexFunc(m.heads, func(h head) bool { return h.known() && h.column.quantity == quantity })
	if at < 0 {
		return nil
	}
	return &m.heads[at]
}

// byWords takes a header for the one column that its words can mean. First come those whose words
// say enough, then those of which the cells must show what they are.
func (m *meanings) byWords() {
	unproven := func(proof) bool { return false }
	type bare struct {
		*head
		words heard
		could []string
	}
	var few []bare
	for i := range m.heads {
		h := &m.heads[i]
		isLabel := h.from == ByName && h.known() && h.column.quantity == "motor"
		if h.known() && (!isLabel || m.claimed("motor_peak")) || h.aside() || len(h.header) > maxExcerpt {
			continue
		}
		words := m.hear(h)
		switch could := words.columnsHeard(unproven); {
		case isLabel || len(could) == 0:
			few = append(few, bare{head: h, words: words})
		default:
			m.take(h, words, could)
		}
	}
	for i := range few {
		b := &few[i]
		b.could = b.words.columnsHeard(func(p proof) bool { return m.proven(b.head, b.words, p) })
		b.could = slices.DeleteFunc(b.could, m.claimed)
	}
	for _, b := range few {
		if b.known() { // a header "Motor" is the label, unless its cells are readings
			if !slices.Contains(b.could, "motor_peak") {
				continue
			}
			b.could, b.match = []string{"motor_peak"}, match{}
		}
		m.take(b.head, b.words, b.could)
	}
	m.settle()
}

func (m *meanings) hear(h *head) heard {
	words := names().hear(h.header, true)
	if h.place < len(m.units) {
		words.take(unitIn(m.units[h.place]))
	}
	return words
}

// claimed reports whether a column has its header already, or the dates their times of day.
func (m *meanings) claimed(column string) bool {
	if column != clock {
		return m.holder(column) != nil
	}
	if slices.ContainsFunc(m.heads, func(h head) bool { return h.clock }) {
		return true
	}
	date := m.holder("date")
	return date != nil && m.see(date.place).colons > 0
}

func (m *meanings) take(h *head, words heard, could []string) {
	switch {
	case len(could) == 0:
	case len(could) > 1:
		h.could, h.unit = could, words.unit
	case could[0] == clock:
		h.clock, h.from = true, ByWords
	default:
		c := columnOfQuantity[could[0]]
		h.match, h.from = match{column: c}, ByWords
		if words.unit == "teeth" || c.units == nil && c.Unit == "" { // as in Cells (S)
			return
		}
		h.match = h.match.withUnit(words.unit)
		if h.otherUnit == "" {
			h.otherUnit = words.other
		}
	}
}

// settle deals with what is left open: a column that several headers may hold, and a header that
// may stand for several columns.
func (m *meanings) settle() {
	for i := range m.heads {
		h := &m.heads[i]
		if h.from != ByWords || !h.known() {
			continue
		}
		for j := range m.heads {
			other := &m.heads[j]
			if j == i || other.column != h.column || other.from == ByWords && j > i {
				continue
			}
			isText := !h.column.number && h.column.quantity != "car" && h.column.group == "" // the rest is kept beside
			if other.from == ByWords && !isText {
				m.ask(other, fmt.Sprintf("%q and %q both read like %s: say which it is", other.header, h.header, h.column.quantity), h.column.quantity)
			}
			if other.from != ByWords || isText {
				m.notices = append(m.notices, run.Problem{Position: m.Position, Value: excerpt(h.header),
					What: fmt.Sprintf("was not read, as %q holds %s", other.header, h.column.quantity)})
			}
			h.match, h.from = match{}, ByName
			break
		}
	}
	for i := range m.heads {
		if h := &m.heads[i]; len(h.could) > 0 {
			m.settleOne(h)
		}
	}
}

func (m *meanings) settleOne(h *head) {
	open := slices.DeleteFunc(slices.Clone(h.could), m.claimed)
	isRatio := slices.Contains(h.could, "final_drive_ratio")
	if isRatio {
		if column, told := m.ratioBy(h); told {
			if column != "" && !m.claimed(column) {
				h.match, h.from = match{column: columnOfQuantity[column]}, ByWords
			}
			return
		}
	}
	if len(open) == 0 {
		return
	}
	told := slices.Clone(open)
	if at := slices.Index(told, clock); at >= 0 {
		told[at] = "the time of day"
	}
	could := orList(told)
	if isRatio || slices.ContainsFunc(open, func(column string) bool { return column != clock && m.lacks(columnOfQuantity[column].group) }) {
		m.ask(h, fmt.Sprintf("%q can be %s: say which it is", h.header, could), open[len(open)-1])
		return
	}
	m.notices = append(m.notices, run.Problem{Position: m.Position, Value: excerpt(h.header), What: "can be " + could + " and was not read",
		Remedy: run.Remedy{Kind: run.MapColumn, Header: h.header, Column: m.named(open[0], h.unit)}})
}

// lacks reports whether a group of columns of which a log needs one has no header yet.
func (m *meanings) lacks(group string) bool {
	return group != "" && !slices.ContainsFunc(m.heads, func(h head) bool { return h.known() && h.column.group == group })
}

// ratioBy tells what a column of gear ratios holds from the law that final = spur / pinion × internal:
// spur / pinion itself, which no column is for; the final drive ratio, which is in one proportion to it;
// or the internal ratio, which stays as it is. It needs two gearings to tell.
func (m *meanings) ratioBy(h *head) (column string, told bool) {
	pinion, spur := m.holder("pinion_teeth"), m.holder("spur_teeth")
	if pinion == nil || spur == nil {
		return "", false
	}
	var ratios, outer []float64
	for _, r := range m.rows {
		var v [3]float64
		for i, place := range []int{h.place, pinion.place, spur.place} {
			if place < len(r.cells) {
				number, _ := cutUnit(strings.TrimSuffix(clean(r.cells[place]), ":1"))
				v[i], _ = units.ParseNumber(number)
			}
		}
		if v[0] > 0 && v[1] > 0 && v[2] > 0 {
			ratios, outer = append(ratios, v[0]), append(outer, v[2]/v[1])
		}
	}
	if len(ratios) == 0 {
		return "", false
	}
	inOneProportion := func(of func(i int) float64) bool {
		for i := range ratios {
			if !near(of(i), of(0)) {
				return false
			}
		}
		return true
	}
	quotient := func(i int) float64 { return ratios[i] / outer[i] }
	final, internal := inOneProportion(quotient), inOneProportion(func(i int) float64 { return ratios[i] })
	switch {
	case final && math.Abs(quotient(0)-1) < 0.01:
		return "", true
	case final && !internal:
		return "final_drive_ratio", true
	case internal && !final:
		return "internal_ratio", true
	}
	return "", false
}

// ask says what has to be asked for, and proposes an answer.
func (m *meanings) ask(h *head, what, column string) {
	m.fail.Others = append(m.fail.Others, what)
	m.fail.tryColumn(h.header, m.named(column, h.unit))
}

// named returns the name of a column in a unit, or in the one that the log's others are in.
func (m *meanings) named(quantity, unit string) string {
	c := columnOfQuantity[quantity]
	switch {
	case quantity == clock:
		return "date"
	case c.units == nil:
		return c.Name()
	case !slices.Contains(c.units, unit):
		unit = unitOf(c, m.likelySystem())
	}
	return c.quantity + "_" + unit
}

func unitOf(c *Column, s units.System) string { return c.units[s] } // °C or mm, and then °F or inches

// likelySystem returns the system of units that a log is most likely in, for a proposal.
func (m *meanings) likelySystem() units.System {
	us := 0
	for _, h := range m.heads {
		switch h.unit {
		case "f", "in":
			us++
		case "c", "mm":
			us--
		}
	}
	if us == 0 {
		for _, h := range m.heads {
			const boiling, wide = 100, 15 // °C that hardly any part reads, and mm that no tire has
			switch e := m.see(h.place); {
			case !h.needsUnit() || e.numbers == 0:
			case unitKinds[h.column.units[0]] == "temperature" && e.largest > boiling, unitKinds[h.column.units[0]] == "length" && e.largest < wide:
				us++
			}
		}
	}
	if us > 0 {
		return units.US
	}
	return units.Metric
}

// findClock takes the second of two columns of dates for the times of day of the first.
func (m *meanings) findClock() {
	date := m.holder("date")
	for i := range m.heads {
		h := &m.heads[i]
		if date == nil || h == date || !h.known() || h.column != date.column || m.see(date.place).colons > 0 {
			continue
		}
		if e := m.see(h.place); e.colons*2 > e.filled {
			h.match, h.clock = match{}, true
		}
	}
}

// evidence is what the cells of one column show.
type evidence struct {
	filled, numbers, readings int
	colons, clocks, ofDay     int // cells with a colon, those that can be times of day, and those that can be nothing else
	minutes, series           int
	varied                    bool // not all numbers are the same
	largest                   float64
	units                     []string // of temperatures and lengths, each once
}

// see looks at the cells of a column, once.
func (m *meanings) see(place int) *evidence {
	if e := m.evident[place]; e != nil {
		return e
	}
	e := new(evidence)
	for _, r := range m.rows {
		if place < len(r.cells) {
			e.add(clean(r.cells[place]))
		}
	}
	m.evident[place] = e
	return e
}

// What numbers without a unit can be, in °C or °F: readings of parts, air, and the ratio of the gears
// behind the spur. Common practice, no source.
const (
	leastOfParts, mostOfParts = 30, 250
	hottestFahrenheit         = 130
	largestInternal           = 12
)

func (e *evidence) add(cell string) {
	if isUnmeasured(cell) {
		return
	}
	e.filled++
	if exact, ok := withoutAbout(cell); ok {
		cell = exact
	}
	if at := strings.IndexByte(cell, ':'); at > 0 && cell[at-1]-'0' <= 9 {
		e.colons++
		if _, isClock := clockIn(cell); isClock {
			e.clocks++
			if strings.IndexFunc(cell, unicode.IsLetter) >= 0 { // am, pm, Uhr
				e.ofDay++
			}
		}
	}
	number, unit := cutUnit(cell)
	value, err := units.ParseInches(number)
	if err != nil {
		return
	}
	unit = unitIs(unit)
	switch kind := unitKinds[unit]; {
	case kind == "temperature" || kind == "length":
		if !slices.Contains(e.units, unit) {
			e.units = append(e.units, unit)
		}
	case unit == "min":
		e.minutes++
	case unit == "s" && value == math.Trunc(value) && value <= mostCells:
		e.series++
		return
	case unit != "" && unit != "degree" && unit != "teeth":
		return
	}
	if value > leastDays && value < mostDays && value != math.Trunc(value) {
		e.colons++ // a day with a time, as sheets count them
	}
	e.varied = e.varied || e.numbers > 0 && value != e.largest
	e.numbers++
	e.largest = max(e.largest, value)
	if value >= leastOfParts && value <= mostOfParts {
		e.readings++
	}
}

// dates counts the cells of a column that are dates, or days as sheets count them.
func (m *meanings) dates(place int) (n int) {
	for _, r := range m.rows {
		if place >= len(r.cells) {
			continue
		}
		cell := clean(r.cells[place])
		days, err := units.ParseNumber(cell)
		if _, _, _, p := parseWhen(cell, OrderOfLog); p == nil || err == nil && days >= leastDays && days < mostDays {
			n++
		}
	}
	return n
}

// yearFirst reports whether dates of two digits each, such as 26-05-16, have the year first: it
// stays, while days go on.
func (m *meanings) yearFirst(place int) bool {
	var first string
	daysGoOn := false
	for _, r := range m.rows {
		if place >= len(r.cells) || len(r.cells[place]) != len("26-05-16") || strings.Count(r.cells[place], "-") != 2 {
			continue
		}
		switch cell := r.cells[place]; {
		case first == "":
			first = cell
		case cell[:3] != first[:3]:
			return false
		default:
			daysGoOn = daysGoOn || cell[5:] != first[5:]
		}
	}
	return daysGoOn
}

// oneUnit returns the unit that some of the cells carry and none contradicts, "" if there is none.
func (e *evidence) oneUnit() string {
	if len(e.units) == 1 {
		return e.units[0]
	}
	return ""
}

// proven reports whether the unit or the cells of a header of few words show what they must.
func (m *meanings) proven(h *head, words heard, p proof) bool {
	e := m.see(h.place)
	carries := func(kind string) bool {
		return unitKinds[words.unit] == kind || slices.ContainsFunc(e.units, func(unit string) bool { return unitKinds[unit] == kind })
	}
	switch p {
	case asReadings:
		return carries("temperature") || e.readings*2 > e.filled && e.varied && words.unit == ""
	case asAir:
		return carries("temperature") || e.numbers*2 > e.filled && e.largest <= hottestFahrenheit && words.unit == ""
	case asRatio:
		return e.numbers*2 > e.filled && e.largest <= largestInternal
	case asDates:
		return m.dates(h.place)*2 > e.filled
	case asLengths:
		return carries("length") || e.numbers*2 > e.filled && words.unit == ""
	case asMinutes:
		return true // columnsHeard asks for the unit
	case asDuration:
		return e.ofDay == 0
	case asClock:
		return e.clocks*2 > e.filled && e.minutes == 0
	case asSeries:
		return e.series*2 > e.filled
	}
	return e.filled > 0 && e.numbers*2 <= e.filled
}
