package runlog

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"regear/analyze/run"
)

// rows gives the rows of a log one after the other, wherever they come from.
type rows interface {
	// next returns the next row; its cells are good until next is called again.
	// It returns io.EOF behind the last one.
	next() (rawRow, error)
}

// rawRow is one row before anyone has asked what its cells mean.
type rawRow struct {
	line    int
	cells   []string
	problem *run.Problem // why the cells can't be trusted; mostly nil
	place   int          // of the cell that the problem is about, from 1; 0 for the whole row
}

// problem is what is wrong with a cell or a row, and what to do; its place is filled in
// where it is known.
func problem(what, do string) *run.Problem { return &run.Problem{What: what, Do: do} }

const (
	maxLineBytes = 1 << 20  // a longer line is refused, so that memory stays bounded
	maxCellBytes = 64 << 10 // a longer quoted cell is an unclosed quote
)

// csvRows cuts CSV text (RFC 4180 and its common breaches) into rows.
//
// It differs from encoding/csv in what a bad row costs. Physical lines are
// counted, a quote that never closes costs its own line and not the rest of the
// file, an endless line costs no memory, and nothing but the reader's error ends
// the reading.
type csvRows struct {
	r     *bufio.Reader
	delim byte
	width int // of the header; 0 while it is not known

	text    string // whole lines that come next
	line    int    // the line that was read last
	suspect bool   // some text held a NUL or was not UTF-8
	err     error  // what ended the reading of r
	cells   []string
}

func newCSVRows(r io.Reader, delim byte) *csvRows {
	return &csvRows{r: bufio.NewReaderSize(r, windowBytes), delim: delim}
}

func (c *csvRows) next() (rawRow, error) {
	for c.text != "" || c.more("") {
		from := c.text
		line := c.cut()
		r := rawRow{line: c.line}
		switch {
		case line == "" || isComment(line):
			continue
		case len(line) > maxLineBytes:
			start := excerpt(line)
			c.cells = append(c.cells[:0], start)
			r.problem = problem(fmt.Sprintf("starts a line of more than %d bytes", maxLineBytes), "check whether this is the right file")
			r.problem.Value = start
		case strings.IndexByte(line, '"') < 0:
			c.cells = split(c.cells[:0], line, c.delim)
		default:
			r.problem = c.quoted(from, line)
		}
		if c.suspect && r.problem == nil {
			r.problem, r.place = unreadable(c.cells)
		}
		r.cells = c.cells
		return r, nil
	}
	return rawRow{}, c.err
}

// isComment reports whether a line is a comment. A spreadsheet's error in the
// first cell begins with the same sign, but is a row to be reported.
func isComment(line string) bool { return line[0] == '#' && !startsSpreadsheetError(line) }

// cut takes the next physical line from the text, without its line end.
func (c *csvRows) cut() string {
	line, rest, _ := strings.Cut(c.text, "\n")
	c.text = rest
	c.line++
	return strings.TrimSuffix(line, "\r")
}

// skipLine passes over one physical line.
func (c *csvRows) skipLine() {
	if c.text != "" || c.more("") {
		c.cut()
	}
}

// more makes the text one that begins with kept and goes on with the next whole lines, and
// reports whether there were any. A line beyond maxLineBytes comes without its further part.
func (c *csvRows) more(kept string) bool {
	window, _ := c.r.Peek(windowBytes)
	lines := string(window[:bytes.LastIndexByte(window, '\n')+1])
	c.r.Discard(len(lines))                          // what was peeked at, so this can't fail
	for lines == "" || lines[len(lines)-1] != '\n' { // the last line, or one longer than the window
		part, err := c.r.ReadSlice('\n')
		if len(lines) <= maxLineBytes {
			lines += string(part)
		} else if err == nil {
			lines += "\n"
		}
		if err != nil && err != bufio.ErrBufferFull {
			c.err = err
			break
		}
	}
	c.text = kept + lines
	c.suspect = c.suspect || !readable(lines)
	return lines != ""
}

// split appends the cells of a line without quotes.
func split(cells []string, line string, delim byte) []string {
	for {
		end := strings.IndexByte(line, delim)
		if end < 0 {
			return append(cells, line)
		}
		cells = append(cells, line[:end])
		line = line[end+1:]
	}
}

// quoted splits the row at the front of text, whose first line has quotes in it. If one of
// them never closes, that line alone is the row, and reading goes on behind it.
func (c *csvRows) quoted(text, line string) *run.Problem {
	first := len(text) - len(c.text)
	size, quotes := c.parse(text)
	for quotes == open && len(text) < maxLineBytes && c.more(text) {
		text = c.text
		size, quotes = c.parse(text)
	}
	if quotes == closed {
		c.line += strings.Count(text[first:size], "\n")
		if size > first && text[size-1] != '\n' {
			c.line++
		}
		c.text = text[size:]
		return nil
	}
	c.text = text[first:]
	c.cells = split(c.cells[:0], line, c.delim)
	p := problem("has a quote that does not close", `close it, or write "" for a quote inside a quoted cell`)
	p.Value = excerpt(line[strings.IndexByte(line, '"'):])
	return p
}

// quotes tells how the quotes of a row came out.
type quotes uint8

const (
	closed quotes = iota
	open          // still open where the text ends
	broken        // do not close where a cell may end
)

// parse splits the row at the front of text into c.cells, and returns its size in bytes,
// line end included.
func (c *csvRows) parse(text string) (size int, q quotes) {
	c.cells = c.cells[:0]
	for rest := text; ; {
		cell, used, q := c.parseCell(rest)
		if q != closed {
			return 0, q
		}
		c.cells = append(c.cells, cell)
		if used == len(rest) {
			return len(text), closed
		}
		end := rest[used]
		rest = rest[used+1:]
		if end == '\n' {
			return len(text) - len(rest), closed
		}
	}
}

// parseCell reads the cell at the front of text. used counts its bytes up to the
// delimiter, line feed or end of text behind it.
func (c *csvRows) parseCell(text string) (cell string, used int, q quotes) {
	inner := strings.TrimLeft(text, " ")
	if !strings.HasPrefix(inner, `"`) {
		end := strings.IndexAny(text, string([]byte{c.delim, '\n'}))
		if end < 0 {
			end = len(text)
		}
		if end < len(text) && text[end] == c.delim {
			return text[:end], end, closed
		}
		return strings.TrimSuffix(text[:end], "\r"), end, closed
	}
	inner = inner[1:]
	stray := false // an unpaired quote stands inside the cell, as in "5" rotor"
	for at := 0; ; {
		next := strings.IndexByte(inner[at:], '"')
		if next < 0 {
			at = len(inner)
		} else {
			at += next
		}
		oneLine := !stray || strings.IndexByte(inner[:at], '\n') < 0
		switch {
		case at > maxCellBytes || !oneLine:
			return "", 0, broken
		case next < 0:
			return "", 0, open
		case strings.HasPrefix(inner[at+1:], `"`):
			at += 2
			continue
		}
		// Blanks between the closing quote and what ends the cell are forgiven.
		behind := strings.TrimLeft(inner[at+1:], " ")
		if strings.HasPrefix(behind, "\r\n") || behind == "\r" {
			behind = behind[1:]
		}
		if behind == "" || behind[0] == c.delim || behind[0] == '\n' {
			if holdsRow(inner[:at], c.delim, c.width) {
				return "", 0, broken
			}
			return strings.ReplaceAll(inner[:at], `""`, `"`), len(text) - len(behind), closed
		}
		stray = true
		at++
	}
}

// holdsRow reports whether a cell of several lines holds one, behind the first,
// that is as long as a row of so many columns. Two quotes that each lack their
// partner, rows apart, look like that.
func holdsRow(cell string, delim byte, columns int) bool {
	_, below, severalLines := strings.Cut(cell, "\n")
	if !severalLines || columns < 3 {
		return false
	}
	for line := range strings.Lines(below) {
		if strings.Count(line, string(delim)) >= columns-1 {
			return true
		}
	}
	return false
}

func readable(text string) bool { return strings.IndexByte(text, 0) < 0 && utf8.ValidString(text) }

// unreadable returns what is wrong with the bytes of a row, and in which cell.
func unreadable(cells []string) (p *run.Problem, place int) {
	at := slices.IndexFunc(cells, func(cell string) bool { return !readable(cell) || len(cell) > maxCellBytes })
	switch {
	case at < 0:
		return nil, 0
	case strings.IndexByte(cells[at], 0) >= 0:
		p = problem("holds a NUL byte", "delete it, or export the log again")
	case !utf8.ValidString(cells[at]):
		p = problem("is not UTF-8 as the rest of the file is", "save the log as UTF-8")
	default:
		p = problem(fmt.Sprintf("is longer than %d bytes", maxCellBytes), "shorten it")
	}
	p.Value = excerpt(cells[at])
	return p, at + 1
}
