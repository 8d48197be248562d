package runlog

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"regear/analyze/run"
)

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
// It differs from encoding/csv in what a bad row costs: physical lines are counted, and a
// quote that never closes costs its own line and not the rest of the file.
type csvRows struct {
	text     string // what is still to be cut
	delim    byte
	line     int  // the line that was read last
	width    int  // of the header; 0 while it is not known
	suspect  bool // the text holds a NUL or is not UTF-8
	comments []string
}

// delimiters are the signs that part cells, as messages name them.
var delimiters = map[byte]string{',': "comma", ';': "semicolon", '\t': "tab", '|': "vertical bar"}

// sniff finds the delimiter of a text: the one by which a line reads most like a header, and
// failing that the one that parts the most cells; the first of equals wins. A first line
// "sep=;", as some spreadsheets write, announces it.
func sniff(text string, w wording) *csvRows {
	try, whole := []byte{',', ';', '\t', '|'}, csvRows{text: text, suspect: !readable(text)}
	first, rest, _ := strings.Cut(text, "\n")
	if sep, ok := strings.CutPrefix(strings.Trim(first, "\"\r"), "sep="); ok && len(sep) == 1 {
		try, whole.text, whole.line = []byte(sep), rest, 1
	}
	best, bestKnown := whole, 0
	best.delim = try[0]
	for _, delim := range try {
		c := csvRows{text: whole.text[:min(len(whole.text), windowBytes)], delim: delim}
		first := c.rows(headerRows)
		if len(first) == 0 {
			break
		}
		head := first[likeliestHeader(first, w)].cells
		known := w.count(head)
		if known > bestKnown || known == bestKnown && len(head) > best.width {
			best, bestKnown = whole, known
			best.delim, best.width = delim, len(head)
		}
	}
	return &best
}

// rows returns up to n rows that are not blank.
func (c *csvRows) rows(n int) []rawRow {
	all := make([]rawRow, 0, min(n, strings.Count(c.text, "\n")+1))
	for len(all) != n {
		r, ok := c.next()
		if !ok {
			break
		}
		if !blank(r.cells) {
			all = append(all, r)
		}
	}
	return all
}

// next returns the next row that is neither an empty line nor a comment.
func (c *csvRows) next() (r rawRow, ok bool) {
	for c.text != "" {
		text := c.text
		line := c.readLine()
		if line == "" {
			continue
		}
		// A spreadsheet's error begins with the same sign, but is a row to be reported.
		if line[0] == '#' && !startsSpreadsheetError(line) {
			c.comments = append(c.comments, line)
			continue
		}
		r = rawRow{line: c.line}
		switch {
		case len(line) > maxLineBytes:
			r.problem = problem(fmt.Sprintf("starts a line of more than %d bytes", maxLineBytes), "check whether this is the right file")
			r.problem.Value = excerpt(line)
			r.cells = []string{r.problem.Value}
		case strings.IndexByte(line, '"') < 0:
			if r.cells = c.split(line); c.suspect {
				r.problem, r.place = unreadable(r.cells)
			}
		default:
			if r.cells, r.problem = c.quoted(text, line); r.problem == nil {
				r.problem, r.place = unreadable(r.cells)
			}
		}
		return r, true
	}
	return rawRow{}, false
}

// readLine returns the next physical line without its end.
func (c *csvRows) readLine() (line string) {
	line, c.text, _ = strings.Cut(c.text, "\n")
	c.line++
	return strings.TrimSuffix(line, "\r")
}

// split cuts a line without quotes, in one pass where strings.Split takes two.
func (c *csvRows) split(line string) []string {
	cells := make([]string, 0, c.width)
	for {
		at := strings.IndexByte(line, c.delim)
		if at < 0 {
			return append(cells, line)
		}
		cells, line = append(cells, line[:at]), line[at+1:]
	}
}

// quoted cuts the row at the front of text, whose first line, just read, has quotes in it. If
// one of them never closes, that line alone is the row, and reading goes on behind it.
func (c *csvRows) quoted(text, line string) (cells []string, p *run.Problem) {
	for rest := text; ; {
		cell, used, ok := c.parseCell(rest)
		if !ok {
			p = problem("has a quote that does not close", `close it, or write "" for a quote inside a quoted cell`)
			p.Value = excerpt(line[strings.IndexByte(line, '"'):])
			return c.split(line), p
		}
		cells = append(cells, cell)
		ended := used == len(rest) || rest[used] == '\n'
		rest = rest[min(used+1, len(rest)):]
		if !ended {
			continue
		}
		if further := len(c.text) - len(rest); further > 0 {
			c.line += strings.Count(c.text[:further-1], "\n") + 1
		}
		c.text = rest
		return cells, nil
	}
}

// parseCell reads the cell at the front of text. used counts its bytes up to the
// delimiter, line feed or end of text behind it.
func (c *csvRows) parseCell(text string) (cell string, used int, ok bool) {
	inner := strings.TrimLeft(text, " ")
	if !strings.HasPrefix(inner, `"`) {
		for used < len(text) && text[used] != c.delim && text[used] != '\n' {
			used++
		}
		if used < len(text) && text[used] == c.delim {
			return text[:used], used, true
		}
		return strings.TrimSuffix(text[:used], "\r"), used, true
	}
	inner = inner[1:]
	stray := false // an unpaired quote stands inside the cell, as in "5" rotor"
	for at := 0; ; {
		next := strings.IndexByte(inner[at:], '"')
		at += next
		if next < 0 || at > maxCellBytes || stray && strings.IndexByte(inner[:at], '\n') >= 0 {
			return "", 0, false
		}
		if strings.HasPrefix(inner[at+1:], `"`) {
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
				return "", 0, false
			}
			return strings.ReplaceAll(inner[:at], `""`, `"`), len(text) - len(behind), true
		}
		stray = true
		at++
	}
}

// holdsRow reports whether a cell of several lines holds one, behind the first, that is as long as
// a row of so many columns. Two quotes that each lack their partner, rows apart, look like that.
func holdsRow(cell string, delim byte, columns int) bool {
	_, below, severalLines := strings.Cut(cell, "\n")
	if !severalLines || columns < 3 {
		return false
	}
	for line := range strings.Lines(below) {
		if strings.Count(line, string([]byte{delim})) >= columns-1 {
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
