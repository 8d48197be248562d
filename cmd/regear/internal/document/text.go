package document

import (
	"cmp"
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

func (l Layout) width() int { return cmp.Or(l.Width, 80) }

// Text writes the document as text, with a blank line between blocks.
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

// text sets a section's blocks right below its title and below each other, with a blank line
// before a titled section only.
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

// text lays the table out. Where it is too wide it leaves out the columns that it can spare.
func (t Table) text(l Layout) string {
	lines := t.lines(l)
	for tooWide(lines, l) && slices.ContainsFunc(t.Columns, func(c Column) bool { return c.Spare > 0 }) {
		t = t.narrower()
		lines = t.lines(l)
	}
	text := each(lines, func(line string) string { return line + "\n" })
	if t.Legend != "" {
		text += l.paragraph("  ", t.Legend)
	}
	return text
}

func tooWide(lines []string, l Layout) bool {
	return slices.ContainsFunc(lines, func(line string) bool { return text.StringWidthWithoutEscSequences(line) > l.width() })
}

// narrower returns the table without the column that it can spare first.
func (t Table) narrower() Table {
	sparest := 0
	for i, c := range t.Columns {
		if c.Spare > t.Columns[sparest].Spare {
			sparest = i
		}
	}
	t.Columns = slices.Delete(slices.Clone(t.Columns), sparest, sparest+1)
	t.Rows = slices.Clone(t.Rows)
	for i, r := range t.Rows {
		t.Rows[i].Cells = slices.Delete(slices.Clone(r.Cells), sparest, sparest+1)
	}
	return t
}

// lines lays the table out without rules. go-pretty knows how wide letters of any script are
// on a terminal.
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
		header[i] = strings.TrimSuffix(each(strings.Split(c.Head, "\n"), func(line string) string { return harmless(line) + "\n" }), "\n")
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

// text writes a warning as programs do on standard error.
func (n Notes) text(l Layout) string {
	return each(n, func(n Note) string {
		if n.Kind == Warning {
			return l.paragraph(strings.ToLower(n.Label)+": ", n.sentences())
		}
		return l.paragraph("", n.Label+": "+n.sentences())
	})
}

func (l Layout) strong(line string) string {
	if !l.Bold {
		return line
	}
	return "\x1b[1m" + line + "\x1b[0m"
}

// harmless replaces control characters by blanks. A log is anybody's file, and on a terminal
// they could clear the screen or worse.
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
	indent := strings.Repeat(" ", text.StringWidth(prefix))
	var b strings.Builder
	b.WriteString(prefix)
	column := len(indent)
	for i, word := range unbroken(harmless(prose)) {
		w := text.StringWidth(word)
		switch {
		case i == 0:
		case column+1+w > l.width():
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

// unbroken splits prose into what stays on one line: words, a number with its unit, and an
// asterisk with what it marks.
func unbroken(prose string) []string {
	var words []string
	for _, w := range strings.Fields(prose) {
		if n := len(words); n > 0 && (words[n-1] == "*" || slices.Contains(units.Signs[:], strings.TrimRight(w, ".,;:)"))) {
			words[n-1] += " " + w
			continue
		}
		words = append(words, w)
	}
	return words
}
