package runlog

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"regear/analyze/run"
	"regear/analyze/units"
)

// Constant is one value that all runs of a log have in a column that the log lacks.
type Constant struct {
	Column string // its name, in the unit of the value
	Value  string // as a cell of the column
}

// String writes c as [ParseConstant] reads it.
func (c Constant) String() string {
	m := matchHeader(c.Column)
	return m.column.quantity + "=" + c.Value + signs[m.unit]
}

// SameColumn reports whether two constants are for the same column, in whatever units.
func (c Constant) SameColumn(other Constant) bool {
	return matchHeader(c.Column).column == matchHeader(other.Column).column
}

// ParseConstant reads "column=value", as in "ambient=25C", "spur_teeth=68" or "surface=grass". A
// temperature or a length carries its unit, unless the column's name does. It fails where the
// column is not one that is written, or where the value is none of it.
func ParseConstant(text string) (Constant, error) {
	name, value, found := strings.Cut(text, "=")
	if value = trim(value); !found || value == "" {
		return Constant{}, fmt.Errorf("%q is no constant: write column=value, such as ambient=25C", text)
	}
	if strings.ContainsAny(value, "|\r\n") {
		return Constant{}, fmt.Errorf("%q: write it on one line, without a bar", value)
	}
	m := matchHeader(name)
	switch {
	case !m.known() || m.otherUnit != "" || !m.column.Written():
		_, err := columnNamed(name)
		if err == nil {
			err = fmt.Errorf("%s is not a column that is written", m.name())
		}
		return Constant{}, err
	case m.needsUnit():
		number, unit := cutUnit(value)
		if unit = unitIs(unit); slices.Contains(m.column.units, unit) {
			m.unit, value = unit, number
			break
		}
		examples := make([]string, len(m.column.units))
		for i, unit := range m.column.units {
			examples[i] = m.column.quantity + "=" + number + signs[unit]
		}
		return Constant{}, fmt.Errorf("it needs its unit: write %s", orList(examples))
	case m.column.units != nil:
		if number, unit := cutUnit(value); unitIs(unit) == m.unit {
			value = number
		}
	}
	c := Constant{m.name(), value}
	return c, c.check(m)
}

// signs are the units as values carry them.
var signs = map[string]string{"c": "C", "f": "F", "mm": "mm", "in": "in"}

// check reads c as the cell of a log of one run.
func (c Constant) check(m match) error {
	log := &Log{Format: Format{DecimalMark: c.mark()}}
	r := &reader{layout: &layout{known: []knownColumn{{m.column, c.Column, m.cellUnit(), -1}}}, log: log}
	r.row, r.at = new(row), &r.known[0]
	r.cell = clean(c.Value)
	var to run.Run
	m.column.read(r, &to)
	if len(r.undecided) > 0 {
		return fmt.Errorf("%q can be two days: %s", c.Value, writeISO)
	}
	if len(log.Problems) > 0 {
		p := log.Problems[0]
		return fmt.Errorf("%q %s, %s", p.Value, p.What, p.Do)
	}
	return nil
}

// mark is the decimal mark of a number.
func (c Constant) mark() byte {
	if strings.Contains(c.Value, ",") {
		return ','
	}
	return '.'
}

func mustConstant(text string) Constant {
	c, err := ParseConstant(text)
	if err != nil {
		panic(err)
	}
	return c
}

// Assumed is a constant, and for how many runs of a log it was taken.
type Assumed struct {
	Constant
	Remembered bool
	Runs       int
}

// assume adds the columns that the log lacks and of which one value is known. Where it has the
// column, the value stands for blank cells.
func (l *layout) assume(opts *Options, claimed map[string]bool) {
	l.constants = nil
	given := slices.Clone(opts.Constants)
	for _, c := range opts.Remembered.Constants[HeaderKey(l.header)] {
		if !slices.ContainsFunc(given, c.SameColumn) {
			l.constants = append(l.constants, Assumed{Constant: c, Remembered: true})
		}
	}
	for _, c := range given {
		l.constants = append(l.constants, Assumed{Constant: c})
	}
	for _, c := range l.constants {
		m := matchHeader(c.Column)
		if l.column(m.column.quantity) == nil {
			claimed[m.column.group] = true
			l.known = append(l.known, knownColumn{m.column, c.Column, m.cellUnit(), -1})
		}
	}
}

// HeaderKey returns what is the same of two headers that are one to [Read]: what it remembers of a
// header holds for the next log with the same.
func HeaderKey(header []string) string { return fold(strings.Join(header, " ")) }

// fillIn gives a row the constants where it says nothing.
func (r *reader) fillIn(cells *row) {
	for i := range r.constants {
		c := &r.constants[i]
		m := matchHeader(c.Column)
		k := r.column(m.column.quantity)
		cell := k.cell(cells)
		if !isUnmeasured(clean(*cell)) {
			continue
		}
		*cell = c.inUnit(m, k.unit, r.log.Format.DecimalMark)
		r.assumed = append(r.assumed, i)
	}
}

// noteAssumed notes in a run what was not measured but taken from a constant.
func (r *reader) noteAssumed(to *run.Run) {
	for _, i := range r.assumed {
		c := &r.constants[i]
		c.Runs++
		if column := matchHeader(c.Column).column; column.number {
			what := cmp.Or(column.group, strings.ReplaceAll(column.quantity, "_", " ")) + " assumed"
			if len(to.Note)+len(what)+2 <= maxTextBytes && !strings.Contains(to.Note, what) {
				to.Note = strings.TrimPrefix(to.Note+"; "+what, "; ")
			}
		}
	}
}

// tellTaken tells what headers were read as, and which constants were taken.
func (l *layout) tellTaken(log *Log) {
	var taken []string
	for _, h := range l.headings {
		if h.Name == "" && h.From != AsRemembered || h.From <= AsSaid && h.UnitFrom != InCells {
			continue // it is what the log or the driver says
		}
		from := ""
		if h.From == AsRemembered {
			from = " as remembered"
		}
		if h.UnitFrom == InCells {
			from += " by the unit in its cells"
		}
		taken = append(taken, fmt.Sprintf("%q → %s%s", excerpt(h.Header), cmp.Or(h.Name, "nothing"), from))
	}
	tell := func(what string) {
		log.Notices = append(log.Notices, run.Problem{Position: l.Position, What: what})
	}
	if len(taken) > 0 {
		tell("headers taken: " + strings.Join(taken, ", "))
	}
	for _, c := range l.constants {
		switch {
		case c.Runs > 0:
			log.Assumed = append(log.Assumed, c)
			if c.Remembered {
				tell(fmt.Sprintf("%s was taken for %s, as remembered", c.Constant, runs(c.Runs)))
			} else {
				tell(fmt.Sprintf("%s was taken for %s", c.Constant, runs(c.Runs)))
			}
		case !c.Remembered:
			tell(fmt.Sprintf("%s was not needed: no cell is blank", c.Constant))
		}
	}
}

func runs(n int) string {
	if n == 1 {
		return "1 run"
	}
	return fmt.Sprintf("%d runs", n)
}

// inUnit returns the value as a cell of a column in a unit, in a log of a decimal mark.
func (c Constant) inUnit(m match, unit string, mark byte) string {
	value := c.Value
	if m.column.units != nil && unit != m.unit {
		n, _ := units.ParseInches(value)
		switch {
		case unit == "c":
			n = float64(units.FromFahrenheit(n))
		case unit == "f":
			n = units.Celsius(n).Fahrenheit()
		case unit == "mm":
			n = float64(units.FromInches(n))
		default:
			n = units.Millimeters(n).Inches()
		}
		value = number(n)
	}
	if m.column.number && mark == ',' {
		return strings.ReplaceAll(value, ".", ",")
	}
	if m.column.number {
		return strings.ReplaceAll(value, ",", ".")
	}
	return value
}
