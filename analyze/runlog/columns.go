package runlog

import (
	"fmt"
	"regear/analyze/nearest"
	"slices"
	"strings"
	"unicode"
)

// quantity is what a column holds, whatever its unit: motor_peak is one quantity
// in two columns, motor_peak_c and motor_peak_f. A log has it once.
type quantity struct {
	name   string
	units  []string // suffixes that tell its columns apart; nil if it has just one column
	unit   string   // of that one column, "" for a text, a ratio or a yes/no
	number bool
}

var (
	temperatureUnits = []string{"c", "f"}
	lengthUnits      = []string{"mm", "in"}
)

// quantities lists everything that is read, in the contract's order.
var quantities = []quantity{
	{name: "date"},
	{name: "car"},
	{name: "pinion_teeth", unit: "teeth", number: true},
	{name: "spur_teeth", unit: "teeth", number: true},
	{name: "internal_ratio", number: true},
	{name: "final_drive_ratio", number: true},
	{name: "tire_diameter", units: lengthUnits, number: true},
	{name: "tire_circumference", units: lengthUnits, number: true},
	{name: "ambient", units: temperatureUnits, number: true},
	{name: "run_minutes", unit: "min", number: true},
	{name: "motor_peak", units: temperatureUnits, number: true},
	{name: "esc_peak", units: temperatureUnits, number: true},
	{name: "battery_peak", units: temperatureUnits, number: true},
	{name: "motor_start", units: temperatureUnits, number: true},
	{name: "esc_start", units: temperatureUnits, number: true},
	{name: "battery_start", units: temperatureUnits, number: true},
	{name: "stopped_by_heat"},
	{name: "cells", number: true},
	{name: "motor"},
	{name: "surface"},
	{name: "cooling"},
	{name: "skip"},
	{name: "note"},
}

// foldedNames are the folded names of quantities, in their order.
var foldedNames = func() []string {
	var names []string
	for _, q := range quantities {
		names = append(names, fold(q.name))
	}
	return names
}()

// needed lists the quantities without which no run can be used; of each group
// one will do.
var needed = [][]string{
	{"date"}, {"pinion_teeth"}, {"spur_teeth"}, {"tire_diameter", "tire_circumference"},
	{"ambient"}, {"run_minutes"}, {"motor_peak", "esc_peak", "battery_peak"},
}

// columns returns the names of the columns that can hold q.
func (q quantity) columns() []string {
	if q.units == nil {
		return []string{q.name}
	}
	var names []string
	for _, u := range q.units {
		names = append(names, q.name+"_"+u)
	}
	return names
}

// quantityNamed returns the quantity of that name, which must exist.
func quantityNamed(name string) quantity {
	return quantities[slices.IndexFunc(quantities, func(q quantity) bool { return q.name == name })]
}

// ColumnNames returns the names of all columns that are read, in the contract's order.
func ColumnNames() []string {
	var names []string
	for _, q := range quantities {
		names = append(names, q.columns()...)
	}
	return names
}

// ParseColumn reads a mapping "own header=column", as [Options.Columns] takes
// it. It fails where the column is not one of [ColumnNames], and names the
// nearest of them.
func ParseColumn(mapping string) (header, column string, err error) {
	// A header can hold the sign, a column can't.
	at := strings.LastIndexByte(mapping, '=')
	if at <= 0 || fold(mapping[:at]) == "" {
		return "", "", fmt.Errorf("%q is no mapping: write 'own header=column', such as 'Temp mot=motor_peak_f'", mapping)
	}
	header = strings.TrimSpace(mapping[:at])
	m, err := columnNamed(mapping[at+1:])
	if err != nil {
		return "", "", err
	}
	return header, m.column(), nil
}

// columnNamed finds the column that a user named in full.
func columnNamed(name string) (match, error) {
	m := matchHeader(name)
	if m.quantity.name == "" || m.needsUnit() || m.otherUnit != "" {
		err := fmt.Errorf("there is no column %q", strings.TrimSpace(name))
		if m.needsUnit() {
			return match{}, fmt.Errorf("%w: it needs its unit, %s", err, orList(m.quantity.columns()))
		}
		if near := hintAt(name, ColumnNames()); near != "" {
			return match{}, fmt.Errorf("%w: did you mean %s?", err, near)
		}
		return match{}, fmt.Errorf("%w: the columns are %s", err, strings.Join(ColumnNames(), ", "))
	}
	return m, nil
}

// ownColumns checks Options.Columns, and returns what each folded header stands for.
func ownColumns(columns map[string]string) (map[string]match, error) {
	own := make(map[string]match, len(columns))
	for header, column := range columns {
		m, err := columnNamed(column)
		if err != nil {
			return nil, err
		}
		key := fold(header)
		if key == "" {
			return nil, fmt.Errorf("%q is no header to map, for want of a letter or a digit", header)
		}
		if other, twice := own[key]; twice && other.column() != m.column() {
			return nil, fmt.Errorf("%q is mapped to both %s and %s", header, min(other.column(), m.column()), max(other.column(), m.column()))
		}
		own[key] = m
	}
	return own, nil
}

// match is what a header was understood as; the zero match is "not a column that
// is read".
type match struct {
	quantity  quantity
	unit      string // "c", "f", "mm" or "in"; "" for a quantity with one column
	otherUnit string // a second unit, which contradicts the first
}

func (m match) known() bool     { return m.quantity.name != "" }
func (m match) needsUnit() bool { return m.quantity.units != nil && m.unit == "" }

// column returns the contract's name for m, "" if it has none.
func (m match) column() string {
	if m.unit == "" {
		return m.quantity.name
	}
	return m.quantity.name + "_" + m.unit
}

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

// matchHeader finds the column that a header stands for. Case, spaces, hyphens,
// underscores and ° do not count; the unit may stand behind the name or in
// brackets.
func matchHeader(header string) match {
	name, inBrackets := cutBrackets(header)
	key, bracketUnit := fold(name), unitIn(inBrackets)
	var found match
	for i, q := range quantities {
		tail, ok := strings.CutPrefix(key, foldedNames[i])
		switch {
		case ok && tail == "":
			found = match{quantity: q}
		case ok && slices.Contains(q.units, unitWords[tail]):
			found = match{quantity: q, unit: unitWords[tail]}
		case bracketUnit != "" && bracketUnit == q.unit && key+fold(inBrackets) == foldedNames[i]:
			return match{quantity: q} // "Pinion (teeth)": the brackets hold the end of the name
		}
	}
	return found.withUnit(bracketUnit)
}

// withUnit adds the unit that stood in brackets or in a row of units.
func (m match) withUnit(unit string) match {
	own := m.unit
	if m.quantity.units == nil {
		own = m.quantity.unit
	}
	switch {
	case unit == "" || unit == own || !m.known():
	case m.needsUnit() && slices.Contains(m.quantity.units, unit):
		m.unit = unit
	case own == "" && !m.needsUnit() && !slices.Contains(temperatureUnits, unit):
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
		// Among other words, short ones such as "in" or "s" are no units.
		if unit := unitWords[word]; unit != "" && (len(word) > 2 || slices.Contains(shortUnits, word)) {
			return unit
		}
	}
	return ""
}

var shortUnits = []string{"c", "f", "mm", "cm"}

// unitNames are the units as messages name them.
var unitNames = map[string]string{
	"c": "°C", "f": "°F", "k": "kelvin", "mm": "mm", "cm": "cm", "in": "inches",
	"min": "minutes", "s": "seconds", "h": "hours", "teeth": "teeth",
}

// hintWords are words that drivers use for words of the contract. They serve
// hints alone and never name a column.
var hintWords = map[string]string{
	"temp": "peak", "temperature": "peak", "max": "peak", "highest": "peak",
	"time": "minutes", "duration": "minutes", "mins": "minutes", "length": "minutes",
	"wheel": "tire", "tyre": "tire", "tires": "tire", "tyres": "tire", "dia": "diameter",
	"air": "ambient", "outside": "ambient", "weather": "ambient",
	"fdr": "final drive ratio", "transmission": "internal", "gearbox": "internal",
	"lipo": "battery", "pack": "battery", "day": "date", "when": "date", "vehicle": "car", "notes": "note",
	"comment": "note", "comments": "note", "remarks": "note",
}

// hintAt returns the one of names that a header may have meant, or "".
func hintAt(header string, names []string) string {
	if name := misspelt(header, names); name != "" {
		return name
	}
	words := hintedWords(header)
	for _, name := range names {
		if of := hintedWords(name); within(words, of) || within(of, words) {
			return name
		}
	}
	return ""
}

// misspelt returns the one of names that a header comes closest to by its
// letters, or "" if it takes more than one change in four.
func misspelt(header string, names []string) string {
	key := fold(header)
	return nearest.By(fold, header, names, len(key)/4)
}

// hintedWords splits a name into words, without its unit and with hintWords replaced.
func hintedWords(name string) []string {
	name, _ = cutBrackets(strings.ToLower(name))
	var words []string
	for _, w := range strings.FieldsFunc(name, func(r rune) bool { return !unicode.IsLetter(r) }) {
		if other, ok := hintWords[w]; ok {
			words = append(words, strings.Fields(other)...)
		} else if unit := unitWords[w]; !slices.Contains(temperatureUnits, unit) && !slices.Contains(lengthUnits, unit) {
			words = append(words, w)
		}
	}
	return words
}

// within reports whether every word of a, which must have some, is in b.
func within(a, b []string) bool {
	for _, w := range a {
		if !slices.Contains(b, w) {
			return false
		}
	}
	return len(a) > 0
}

// orList joins names as in "a, b or c".
func orList(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	last := len(names) - 1
	return strings.Join(names[:last], ", ") + " or " + names[last]
}
