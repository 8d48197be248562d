package runlog

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"regear/analyze/nearest"
)

// unitWords are the ways to write a unit in a header, folded. Those that map to
// themselves and belong to no column are there to be recognised as wrong.
var unitWords = map[string]string{
	"c": "c", "degc": "c", "celsius": "c", "degreesc": "c",
	"f": "f", "degf": "f", "fahrenheit": "f", "degreesf": "f",
	"k": "k", "kelvin": "k",
	"mm": "mm", "millimeters": "mm", "millimetres": "mm", "cm": "cm",
	"in": "in", "inch": "in", "inches": "in",
	"min": "min", "mins": "min", "minutes": "min",
	"s": "s", "sec": "s", "seconds": "s", "h": "h", "hours": "h",
	"teeth": "teeth", "t": "teeth",
}

// unitNames are the units as messages name them.
var unitNames = map[string]string{
	"c": "°C", "f": "°F", "k": "kelvin", "mm": "mm", "cm": "cm", "in": "inches",
	"min": "minutes", "s": "seconds", "h": "hours", "teeth": "teeth",
}

// unitKinds are what the units measure.
var unitKinds = map[string]string{"c": "temperature", "f": "temperature", "k": "temperature", "mm": "length", "cm": "length", "in": "length",
	"min": "time", "s": "time", "h": "time"}

// shortUnits are units also among other words, where "in" or "s" may be none.
var shortUnits = []string{"c", "f", "mm", "cm"}

// match is what a header was understood as; the zero match is "not a column that is read".
type match struct {
	column    *Column
	unit      string // "c", "f", "mm" or "in"; "" for a column with one name
	otherUnit string // a second unit, which contradicts the first
}

func (m match) known() bool     { return m.column != nil }
func (m match) needsUnit() bool { return m.known() && m.column.units != nil && m.unit == "" }

// name returns the column's name in m's unit, "" if there is no column.
func (m match) name() string {
	switch {
	case !m.known():
		return ""
	case m.unit == "":
		return m.column.quantity
	}
	return m.column.quantity + "_" + m.unit
}

// cellUnit returns the unit that cells are in: that of the header, or of a column with one name.
func (m match) cellUnit() string {
	if m.known() && m.column.units == nil {
		return m.column.Unit
	}
	return m.unit
}

func shownUnit(unit string) string {
	if unitKinds[unit] == "temperature" {
		return unitNames[unit]
	}
	return unit
}

// SameHeader reports whether two headers are one to [Read]: letters, in either case, and digits count.
func SameHeader(a, b string) bool { return fold(a) == fold(b) }

// fold reduces a header to what is compared: small letters and digits. The
// British spelling of tire is taken for the other.
func fold(header string) string {
	kept := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, header)
	return strings.ReplaceAll(kept, "tyre", "tire")
}

// matchHeader finds the column that a header stands for. Case, spaces, hyphens, underscores and °
// do not count; the unit may stand behind the name or in brackets.
func matchHeader(header string) match {
	name, inBrackets := cutBrackets(header)
	key, bracketUnit := fold(name), unitIn(inBrackets)
	var found match
	for i := range columns {
		c := &columns[i]
		tail, ok := strings.CutPrefix(key, c.folded)
		switch {
		case ok && tail == "":
			found = match{column: c}
		case ok && slices.Contains(c.units, unitWords[tail]):
			found = match{column: c, unit: unitWords[tail]}
		case bracketUnit != "" && bracketUnit == c.Unit && key+fold(inBrackets) == c.folded:
			return match{column: c} // "Pinion (teeth)": the brackets hold the end of the name
		}
	}
	return found.withUnit(bracketUnit)
}

// withUnit adds the unit that stood in brackets or in a row of units.
func (m match) withUnit(unit string) match {
	known := m.cellUnit()
	switch {
	case unit == "" || unit == known || !m.known():
	case m.needsUnit() && slices.Contains(m.column.units, unit):
		m.unit = unit
	case known == "" && !m.needsUnit() && unitKinds[unit] != "temperature":
		// "Cells (S)": a word that is a unit elsewhere. But "Motor (°C)" is no label.
	default:
		m.otherUnit = unit
	}
	return m
}

// cutBrackets takes the last bracketed part out of a header.
func cutBrackets(header string) (name, inside string) {
	start := strings.LastIndexAny(header, "([")
	if start < 0 {
		return header, ""
	}
	inside, rest := header[start+1:], ""
	if end := strings.IndexAny(inside, ")]"); end >= 0 {
		inside, rest = inside[:end], inside[end+1:]
	}
	return header[:start] + rest, inside
}

// unitIn returns the unit that a few words name, such as "°F, in the shade".
func unitIn(text string) string {
	if strings.ContainsAny(text, `"″`) {
		return "in"
	}
	if unit, ok := unitWords[fold(text)]; ok {
		return unit
	}
	for word := range strings.FieldsFuncSeq(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) }) {
		if unit := unitWords[word]; unit != "" && (len(word) > 2 || slices.Contains(shortUnits, word)) {
			return unit
		}
	}
	return ""
}

// hintAt returns the one of names that a header may have meant, or "".
func hintAt(header string, names []string) string {
	if name := misspelt(header, names); name != "" {
		return name
	}
	for _, column := range couldMean(header) {
		for _, name := range names {
			if m := matchHeader(name); m.known() && m.column.quantity == column {
				return name
			}
		}
	}
	return ""
}

// couldMean returns the columns that a header brings to mind by some of its words.
func couldMean(header string) []string {
	return names().hear(header, false).columnsHeard(func(proof) bool { return true })
}

// misspelt returns the one of names that a header comes closest to by its
// letters, or "" if it takes more than one change in four.
func misspelt(header string, names []string) string {
	return nearest.By(fold, header, names, len(fold(header))/4)
}

// IsColumn reports whether a header is the name of a column that is read, in any spelling.
func IsColumn(header string) bool { return matchHeader(header).known() }

// ParseColumn reads a mapping "own header=column", as [Options.Columns] takes it. It fails where
// the column is not one of [Columns], and names the nearest of them.
func ParseColumn(mapping string) (header, column string, err error) {
	// A header can hold the sign, a column can't.
	at := strings.LastIndexByte(mapping, '=')
	if at <= 0 || fold(mapping[:at]) == "" {
		return "", "", fmt.Errorf("%q is no mapping: write 'own header=column', such as 'Temp mot=motor_peak_f'", mapping)
	}
	m, err := columnNamed(mapping[at+1:])
	if err != nil {
		return "", "", err
	}
	return strings.TrimSpace(mapping[:at]), m.name(), nil
}

// columnNamed finds the column that a user named in full.
func columnNamed(name string) (match, error) {
	m := matchHeader(name)
	if m.known() && !m.needsUnit() && m.otherUnit == "" {
		return m, nil
	}
	err := fmt.Errorf("there is no column %q", strings.TrimSpace(name))
	if m.needsUnit() {
		return match{}, fmt.Errorf("%w: it needs its unit, %s", err, orList(m.column.Names))
	}
	if near := hintAt(name, columnNames); near != "" {
		return match{}, fmt.Errorf("%w: did you mean %s?", err, near)
	}
	return match{}, fmt.Errorf("%w: the columns are %s", err, strings.Join(columnNames, ", "))
}

// wording is what is known of the headers of a log beyond the names of columns.
type wording struct {
	said, remembered map[string]match // headers of the driver's own, folded
	names            *vocabulary      // nil where the table of words is left aside
	known            map[string]bool  // whether a cell reads like a header, of the cells that were looked at
}

const mostRemembered = 1000 // cells, as notes all differ

func newWording(opts *Options) (w wording, err error) {
	w = wording{said: map[string]match{}, remembered: map[string]match{}, known: map[string]bool{}}
	if opts.Forgiving {
		w.names = names()
	}
	if err := addMappings(w.remembered, opts.Remembered.Columns); err != nil {
		return w, err
	}
	return w, addMappings(w.said, opts.Columns)
}

func addMappings(mapped map[string]match, mappings map[string]string) error {
	for header, column := range mappings {
		var m match
		if column != "" {
			var err error
			if m, err = columnNamed(column); err != nil {
				return err
			}
		}
		key := fold(header)
		if key == "" {
			return fmt.Errorf("%q is no header to map: it has no letter and no digit", header)
		}
		if other, twice := mapped[key]; twice && other != m {
			return fmt.Errorf("%q is mapped to both %s and %s", header, min(other.name(), m.name()), max(other.name(), m.name()))
		}
		mapped[key] = m
	}
	return nil
}

// understand returns what a header stands for by what was said or is remembered of it, or by
// its own name.
func (w wording) understand(header string) (match, Origin) {
	if len(header) > maxExcerpt {
		return match{}, ByName
	}
	own, key := matchHeader(header), fold(header)
	if m, ok := w.said[key]; ok {
		return m.withUnit(unitBeside(header)), AsSaid
	}
	// The names of columns, as the program writes them, always win over what is remembered.
	if m, ok := w.remembered[key]; ok && header != own.name() {
		return m.withUnit(unitBeside(header)), AsRemembered
	}
	return own, ByName
}

// unitBeside returns the unit that a header of the driver's own names in brackets or at its end.
func unitBeside(header string) string {
	name, inside := cutBrackets(header)
	if unit := unitIn(inside); unit != "" {
		return unit
	}
	if words := wordsOf(name); len(words) > 1 && slices.Contains(shortUnits, words[len(words)-1]) {
		return unitWords[words[len(words)-1]]
	}
	return ""
}

// reads reports whether a cell reads like a header.
func (w wording) reads(cell string) bool {
	if strings.IndexFunc(cell, unicode.IsLetter) < 0 && !strings.ContainsAny(cell, "Øø⌀") {
		return len(w.said)+len(w.remembered) > 0 && w.mapped(cell)
	}
	known, seen := w.known[cell]
	if !seen {
		m, _ := w.understand(cell)
		known = m.known() || w.names != nil &&
			len(w.names.hear(cell, true).columnsHeard(func(proof) bool { return true })) > 0
		if len(w.known) < mostRemembered {
			w.known[cell] = known
		}
	}
	return known
}

func (w wording) mapped(cell string) bool {
	m, from := w.understand(cell)
	return from != ByName && m.known()
}

// count counts the cells that read like headers.
func (w wording) count(cells []string) (known int) {
	for _, cell := range cells {
		if w.reads(trim(cell)) {
			known++
		}
	}
	return known
}

func orList(names []string) string {
	last := len(names) - 1
	if last == 0 {
		return names[0]
	}
	return strings.Join(names[:last], ", ") + " or " + names[last]
}
