package run

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
)

// Position is where a run stands in the files it came from.
type Position struct {
	File string
	Line int // physical line, counted from 1
}

// String writes the position as "file:line", the form that editors jump to.
func (p Position) String() string { return fmt.Sprintf("%s:%d", p.File, p.Line) }

// Problem is one thing in a log that needs a look. A Problem on line 0 is about
// the file as a whole.
type Problem struct {
	Position
	Column string // the header as the log wrote it; "" for a whole row
	Value  string // the cell; "" for a whole row or a blank cell
	What   string // what is wrong
	Do     string // what to do, in words that hold wherever the problem is shown
	Remedy Remedy // what else would solve it; the zero Remedy is nothing else
	Car    string // of the row, as the log wrote it; "" where it says none or the row can't be read
	// Ask is true where the driver should be asked before the value is used.
	Ask bool
}

// Error returns p.String(), so that a file's problem can be an error.
func (p Problem) Error() string { return p.String() }

// String writes p as
//
//	file:line: column: "value": what is wrong, what to do
//
// without the parts that do not apply.
func (p Problem) String() string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Line > 0 {
		b.WriteString(":" + strconv.Itoa(p.Line))
	}
	b.WriteString(": ")
	if p.Column != "" {
		b.WriteString(Printable(p.Column) + ": ")
	}
	if p.Value != "" {
		fmt.Fprintf(&b, "%q: ", p.Value)
	}
	b.WriteString(p.What)
	if p.Do != "" {
		b.WriteString(", " + p.Do)
	}
	return b.String()
}

// Printable returns text as it is if a terminal can take it, else quoted.
func Printable(text string) string {
	if strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return strconv.Quote(text)
	}
	return text
}

// Remedy says what would solve a [Problem] for good, where that is more than mending one
// cell. It is a value, because each face words it in its own terms: the command line names
// a flag, a page names a field.
type Remedy struct {
	Kind RemedyKind
	// Header is one of the log's own headers, and Column the column that it may stand for.
	Header, Column string
	// Unit is the unit that Column would be read in, "" where the header says it.
	Unit string
}

// RemedyKind is a kind of remedy.
type RemedyKind uint8

// The remedies, with what they say beside their kind.
const (
	// MendLog is none beyond what the problem says to do.
	MendLog RemedyKind = iota
	// ChooseDateOrder is to say whether the day or the month stands first in the log's dates.
	ChooseDateOrder
	// MapColumn is to read Header as Column, if that is what it means.
	MapColumn
	// NameCar is to say which car the log is of. Header, if there is one, may name it.
	NameCar
	// MarkHeatStop is to say that heat ended the run, if it did.
	MarkHeatStop
	// ReadHeatStops is to say that heat ended every run whose peak's cell says so in words.
	ReadHeatStops
	// GiveConstant is to give one value for all blank cells of Column.
	GiveConstant
)

// Worded returns p with its remedy, if it has one that a face has words for, as what to do.
func (p Problem) Worded(words func(Remedy) string) Problem {
	if do := words(p.Remedy); do != "" {
		p.Do = do
	}
	return p
}

// Worded returns the problems, each with its remedy as what to do: see [Problem.Worded].
func Worded(problems []Problem, words func(Remedy) string) []Problem {
	worded := make([]Problem, len(problems))
	for i, p := range problems {
		worded[i] = p.Worded(words)
	}
	return worded
}
