package runlog

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"
)

// rows gives the rows of a log one after the other, wherever they come from.
type rows interface {
	// next returns the next row; its cells are good until next is called again.
	// It returns io.EOF behind the last one.
	next() (row, error)
}

// row is one row before anyone has asked what its cells mean.
type row struct {
	line  int
	cells []string
	fault fault // why the cells can't be trusted; mostly none
}

// fault is what keeps a row or a cell from being used, and what to do about it.
type fault struct {
	value, what, do string
	cell            int // of the row, counted from 1; 0 for the whole row
}

func (f fault) none() bool { return f.what == "" }

const (
	chunkBytes   = 128 << 10 // read at a time
	maxLineBytes = 1 << 20   // a longer line is refused, so that memory stays bounded
	maxCellBytes = 64 << 10  // a longer quoted cell is an unclosed quote
)

// csvRows cuts CSV text (RFC 4180 and its common breaches) into rows.
//
// It differs from encoding/csv in what a bad row costs. Physical lines are
// counted, a quote that never closes costs its own line and not the rest of the
// file, an endless line costs no memory, and nothing but the reader's error ends
// the reading.
type csvRows struct {
	r     io.Reader
	delim byte
	width int // of the header; 0 while it is not known

	text    string // whole lines, unread from pos on
	pos     int
	line    int  // the line at pos
	suspect bool // text holds a NUL or is not UTF-8

	buf   []byte // what was read of r
	carry []byte // its end: the start of the line that follows text
	err   error  // what ended the reading of r

	cells []string
}

func newCSVRows(r io.Reader, delim byte) *csvRows { return &csvRows{r: r, delim: delim, line: 1} }

// skipLine passes over one physical line.
func (c *csvRows) skipLine() {
	if c.pos < len(c.text) || c.fill() {
		c.cut()
	}
}

func (c *csvRows) next() (row, error) {
	for c.pos < len(c.text) || c.fill() {
		r := row{line: c.line}
		start := c.pos
		line := c.cut()
		switch {
		case line == "" || isComment(line):
			continue
		case len(line) > maxLineBytes:
			r.cells = append(c.cells[:0], excerpt(line))
			r.fault = fault{value: r.cells[0], what: fmt.Sprintf("starts a line of more than %d bytes", maxLineBytes),
				do: "check whether this is the right file"}
			return r, nil
		case strings.IndexByte(line, '"') < 0:
			c.cells = split(c.cells[:0], line, c.delim)
		default:
			r.fault = c.quoted(start, line)
		}
		if c.suspect && r.fault.none() {
			r.fault = unreadable(c.cells)
		}
		r.cells = c.cells
		return r, nil
	}
	return row{}, c.err
}

// isComment reports whether a line is a comment. A spreadsheet's error in the
// first cell begins with the same sign, but is a row to be reported.
func isComment(line string) bool { return line[0] == '#' && !startsSpreadsheetError(line) }

// cut takes the next physical line from the text, without its line end.
func (c *csvRows) cut() string {
	line := c.text[c.pos:]
	if end := strings.IndexByte(line, '\n'); end >= 0 {
		line = line[:end]
		c.pos++
	}
	c.pos += len(line)
	c.line++
	return strings.TrimSuffix(line, "\r")
}

// split appends the cells of a line without quotes.
func split(cells []string, line string, delim byte) []string {
	start := 0
	for i := 0; i < len(line); i++ {
		if line[i] == delim {
			cells = append(cells, line[start:i])
			start = i + 1
		}
	}
	return append(cells, line[start:])
}

// quoted splits the row at start, whose first line has quotes in it. If a quote
// never closes, that line alone is the row, and reading goes on behind it.
func (c *csvRows) quoted(start int, line string) fault {
	firstLine, nextLine := c.line-1, c.pos
	size, quotes := c.parse(start)
	for quotes == open && len(c.text)-start < maxLineBytes && c.more(start) {
		start, nextLine = 0, nextLine-start
		size, quotes = c.parse(start)
	}
	if quotes != closed {
		c.pos = nextLine
		c.cells = split(c.cells[:0], line, c.delim)
		return fault{value: excerpt(line[strings.IndexByte(line, '"'):]), what: "has a quote that does not close",
			do: `close it, or write "" for a quote inside a quoted cell`}
	}
	c.pos = start + size
	c.line = firstLine + strings.Count(c.text[start:c.pos], "\n")
	if c.text[c.pos-1] != '\n' {
		c.line++
	}
	return fault{}
}

// quotes tells how the quotes of a row came out.
type quotes uint8

const (
	closed quotes = iota
	open          // still open where the text ends
	broken        // do not close where a cell may end
)

// parse splits the row at start into c.cells and returns its size in bytes,
// line end included.
func (c *csvRows) parse(start int) (size int, q quotes) {
	c.cells = c.cells[:0]
	for rest := c.text[start:]; ; {
		cell, used, q := c.parseCell(rest)
		if q != closed {
			return 0, q
		}
		c.cells = append(c.cells, cell)
		if used == len(rest) {
			return len(c.text) - start, closed
		}
		end := rest[used]
		rest = rest[used+1:]
		if end == '\n' {
			return len(c.text) - start - len(rest), closed
		}
	}
}

// parseCell reads the cell at the front of text. used counts its bytes up to the
// delimiter, line feed or end of text behind it.
func (c *csvRows) parseCell(text string) (cell string, used int, q quotes) {
	inner := strings.TrimLeft(text, " ")
	if !strings.HasPrefix(inner, `"`) {
		for used < len(text) && text[used] != c.delim && text[used] != '\n' {
			used++
		}
		if used < len(text) && text[used] == c.delim {
			return text[:used], used, closed
		}
		return strings.TrimSuffix(text[:used], "\r"), used, closed
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

// unreadable returns what is wrong with the bytes of a row.
func unreadable(cells []string) fault {
	for i, cell := range cells {
		if strings.IndexByte(cell, 0) >= 0 {
			return fault{excerpt(cell), "holds a NUL byte", "delete it, or export the log again", i + 1}
		}
		if !utf8.ValidString(cell) {
			return fault{excerpt(cell), "is not UTF-8 as the rest of the file is", "save the log as UTF-8", i + 1}
		}
	}
	return fault{}
}

// fill replaces a text that is used up, and reports whether there was more.
func (c *csvRows) fill() bool { return c.more(len(c.text)) }

// more drops the text before keep and adds the next lines of the file, and
// reports whether there were any.
func (c *csvRows) more(keep int) bool {
	lines := c.readLines()
	if len(lines) == 0 {
		return false
	}
	c.text = c.text[keep:] + string(lines)
	c.pos -= keep
	c.suspect = !utf8.ValidString(c.text) || strings.IndexByte(c.text, 0) >= 0
	return true
}

// readLines returns the next whole lines of the file, good until it is called
// again. A line beyond maxLineBytes comes without its middle.
func (c *csvRows) readLines() []byte {
	buf := append(c.buf[:0], c.carry...)
	end := 0
	for end == 0 && c.err == nil {
		buf = slices.Grow(buf[:min(len(buf), maxLineBytes+1)], chunkBytes)
		n, err := io.ReadFull(c.r, buf[len(buf):len(buf)+chunkBytes])
		buf = buf[:len(buf)+n]
		end = bytes.LastIndexByte(buf, '\n') + 1
		c.err = err
	}
	if c.err == io.ErrUnexpectedEOF {
		c.err = io.EOF
	}
	if c.err != nil {
		end = len(buf)
	}
	c.buf, c.carry = buf, buf[end:]
	return buf[:end]
}
