package document

import (
	"io"
	"slices"
	"strings"
	"unicode"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"regear/analyze/units"
)

// Layout is how text is laid out.
type Layout struct {
	Width int  // of a line of prose; 0 stands for 80
	Bold  bool // what is strong stands out, for terminals that can
}

const defaultWidth = 80

func (l Layout) width() int {
	if l.Width <= 0 {
		return defaultWidth
	}
	return l.Width
}

// Text writes the document as text, its blocks parted by blank lines.
func (d Document) Text(w io.Writer, l Layout) error {
	blocks := make([]string, len(d))
	for i, b := range d {
		blocks[i] = b.text(l)
	}
	_, err := io.WriteString(w, strings.Join(blocks, "\n"))
	return err
}

func (h Headline) text(l Layout) string {
	return l.strong(strings.TrimSuffix(l.paragraph("", string(h)), "\n")) + "\n"
}

// text sets a section's blocks right below its title and below each other. Only a section
// inside it is parted from what stands before.
func (s Section) text(l Layout) string {
	var b strings.Builder
	if s.Title != "" {
		b.WriteString(harmless(s.Title) + ":\n")
	}
	for _, block := range s.Body {
		if inner, ok := block.(Section); ok && inner.Title != "" {
			b.WriteByte('\n')
		}
		b.WriteString(block.text(l))
	}
	return b.String()
}

func (p Paragraph) text(l Layout) string { return l.paragraph("", string(p)) }

func (items List) text(l Layout) string {
	return each(items, func(prose string) string { return l.paragraph("  - ", prose) })
}

func (t Terms) text(l Layout) string {
	return each(t, func(term Term) string { return l.paragraph("  - ", term.Word+": "+term.Meaning) })
}

func (s Lines) text(Layout) string {
	head, indent := "", ""
	if s.Head != "" {
		head, indent = harmless(s.Head)+"\n", "  "
	}
	return head + each(s.Items, func(line string) string { return indent + harmless(line) + "\n" })
}

// text lays the table out, without the columns that it can spare where it is too wide.
func (t Table) text(l Layout) string {
	lines := t.lines(l)
	for spare := t.sparest(); spare >= 0 && widest(lines) > l.width(); spare = t.sparest() {
		t = t.without(spare)
		lines = t.lines(l)
	}
	text := each(lines, func(line string) string { return line + "\n" })
	if t.Legend != "" {
		text += l.paragraph("  ", t.Legend)
	}
	return text
}

// sparest returns the column to leave out first, or -1.
func (t Table) sparest() int {
	sparest := -1
	for i, c := range t.Columns {
		if c.Spare > 0 && (sparest < 0 || c.Spare > t.Columns[sparest].Spare) {
			sparest = i
		}
	}
	return sparest
}

// without returns the table without a column.
func (t Table) without(column int) Table {
	t.Columns = slices.Delete(slices.Clone(t.Columns), column, column+1)
	t.Rows = slices.Clone(t.Rows)
	for i, r := range t.Rows {
		t.Rows[i].Cells = slices.Delete(slices.Clone(r.Cells), column, column+1)
	}
	return t
}

func widest(lines []string) int {
	most := 0
	for _, line := range lines {
		most = max(most, text.StringWidthWithoutEscSequences(line))
	}
	return most
}

// lines lays the table out without rules. go-pretty knows how wide a text is on a terminal,
// whatever its letters are.
func (t Table) lines(l Layout) []string {
	w := table.NewWriter()
	w.SetStyle(table.Style{
		Box:     table.BoxStyle{PaddingLeft: "  "},
		Options: table.OptionsNoBordersAndSeparators,
	})
	header := make(table.Row, len(t.Columns))
	columns := make([]table.ColumnConfig, len(t.Columns))
	for i, c := range t.Columns {
		align := text.AlignRight
		if i == len(t.Columns)-1 && c.Kind != Number {
			align = text.AlignLeft
		}
		header[i] = c.head()
		columns[i] = table.ColumnConfig{Number: i + 1, Align: align, AlignHeader: align, VAlignHeader: text.VAlignBottom}
	}
	w.SetColumnConfigs(columns)
	w.AppendHeader(header)
	for _, r := range t.Rows {
		w.AppendRow(r.text(l))
	}
	var lines []string
	for line := range strings.Lines(w.Render() + "\n") {
		lines = append(lines, strings.TrimRight(line, " \n"))
	}
	return lines
}

// head returns the head with its line breaks.
func (c Column) head() string {
	return strings.TrimSuffix(each(strings.Split(c.Head, "\n"), func(line string) string { return harmless(line) + "\n" }), "\n")
}

func (r Row) text(l Layout) table.Row {
	row := make(table.Row, len(r.Cells))
	for i, cell := range r.Cells {
		cell = harmless(cell)
		if r.Strong {
			cell = l.strong(cell)
		}
		row[i] = cell
	}
	return row
}

func (f Figures) text(l Layout) string {
	return each(f, func(f Figure) string { return l.paragraph("  - ", strings.TrimSpace(f.Title+". "+f.Description)) })
}

// text sets a warning as programs write it on standard error.
func (n Notes) text(l Layout) string {
	return each(n, func(n Note) string {
		if n.Kind == Warning {
			return l.paragraph(strings.ToLower(n.Label)+": ", n.sentences())
		}
		return l.paragraph("", n.Label+": "+n.sentences())
	})
}

// strong makes a text stand out where the layout has it.
func (l Layout) strong(line string) string {
	if !l.Bold {
		return line
	}
	return "\x1b[1m" + line + "\x1b[0m"
}

// harmless sets blanks in the place of control characters. A log is anybody's file, and on
// a terminal they could clear the screen or worse.
func harmless(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, text)
}

// paragraph wraps prose behind a first prefix, and indents further lines to match it.
func (l Layout) paragraph(prefix, prose string) string {
	width := l.width()
	indent := strings.Repeat(" ", text.StringWidth(prefix))
	var b strings.Builder
	b.WriteString(prefix)
	column := len(indent)
	for i, word := range unbroken(harmless(prose)) {
		w := text.StringWidth(word)
		switch {
		case i == 0:
		case column+1+w > width:
			b.WriteString("\n" + indent)
			column = len(indent)
		default:
			b.WriteByte(' ')
			column++
		}
		b.WriteString(word)
		column += w
	}
	b.WriteByte('\n')
	return b.String()
}

// unbroken splits prose into what stays on one line: words, and a number with its
// unit.
func unbroken(prose string) []string {
	var words []string
	for _, w := range strings.Fields(prose) {
		if n := len(words); n > 0 && startsWithUnit(w) {
			words[n-1] += " " + w
			continue
		}
		words = append(words, w)
	}
	return words
}

func startsWithUnit(word string) bool {
	return slices.Contains(units.Signs[:], strings.TrimRight(word, ".,;:)"))
}
