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
