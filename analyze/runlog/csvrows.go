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

	text    string   // whole lines that come next
	suspect bool     // text holds a NUL or is not UTF-8
	ahead   []string // lines before text that were read behind a quote that does not close
	line    int      // the line that was read last
	cells   []string
}

func newCSVRows(r io.Reader, delim byte) *csvRows {
	return &csvRows{r: bufio.NewReaderSize(r, windowBytes), delim: delim}
}

func (c *csvRows) next() (rawRow, error) {
	for {
		text, err := c.readLine()
		if err != nil {
			return rawRow{}, err
		}
		r := rawRow{line: c.line}
		line := withoutEnd(text)
		switch {
		case line == "" || isComment(line):
			continue
		case len(line) > maxLineBytes:
			start := excerpt(line)
			c.cells = append(c.cells[:0], start)
			r.problem = problem(fmt.Sprintf("starts a line of more than %d bytes", maxLineBytes), "check whether this is the right file")
			r.problem.Value = start
		case strings.IndexByte(line, '"') < 0:
			if c.cells = split(c.cells[:0], line, c.delim); c.suspect {
				r.problem, r.place = unreadable(c.cells)
			}
		default:
			if r.problem = c.quoted(text); r.problem == nil {
				r.problem, r.place = unreadable(c.cells)
			}
		}
		r.cells = c.cells
		return r, nil
	}
}

// isComment reports whether a line is a comment. A spreadsheet's error in the
// first cell begins with the same sign, but is a row to be reported.
func isComment(line string) bool { return line[0] == '#' && !startsSpreadsheetError(line) }

func withoutEnd(line string) string {
	return strings.TrimSuffix(strings.TrimSuffix(line, "\n"), "\r")
}

// readLine returns the next physical line with its end. A line beyond maxLineBytes comes
// without its further part.
func (c *csvRows) readLine() (string, error) {
	c.line++
	if len(c.ahead) > 0 {
		line := c.ahead[0]
		c.ahead = c.ahead[1:]
		return line, nil
	}
	if c.text == "" {
		window, _ := c.r.Peek(windowBytes)
		c.text = string(window[:bytes.LastIndexByte(window, '\n')+1])
		c.r.Discard(len(c.text)) // what was peeked at, so this can't fail
		c.suspect = c.suspect || !readable(c.text)
	}
	if end := strings.IndexByte(c.text, '\n') + 1; end > 0 {
		line := c.text[:end]
		c.text = c.text[end:]
		return line, nil
	}
	// The last line, or one that is longer than the window.
	c.suspect = true
	part, err := c.r.ReadSlice('\n')
	line := string(part)
	for err == bufio.ErrBufferFull {
		part, err = c.r.ReadSlice('\n')
		if len(line) <= maxLineBytes {
			line += string(part)
		}
	}
	if err == io.EOF && line != "" {
		err = nil
	}
	return line, err
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

// quoted splits the row that begins with a line in which there are quotes. If one of them
// never closes, that line alone is the row, and reading goes on behind it.
func (c *csvRows) quoted(first string) *run.Problem {
	lines, text, start := []string{first}, first, c.line
	quotes := c.parse(text)
	for size := len(text); quotes == open && size < maxLineBytes; {
		line, err := c.readLine()
		if err != nil {
			break // it will come again
		}
		lines = append(lines, line)
		if size += len(line); strings.IndexByte(line, '"') >= 0 || size > maxLineBytes {
			text = strings.Join(lines, "")
			quotes = c.parse(text)
		}
	}
	if quotes == closed {
		return nil
	}
	c.ahead, c.line = append(lines[1:], c.ahead...), start
	line := withoutEnd(first)
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

// parse splits the row that a text of whole lines is into c.cells.
func (c *csvRows) parse(text string) quotes {
	c.cells = c.cells[:0]
	for {
		cell, used, q := c.parseCell(text)
		if q != closed {
			return q
		}
		c.cells = append(c.cells, cell)
		if used == len(text) || text[used] == '\n' {
			return closed
		}
		text = text[used+1:]
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
