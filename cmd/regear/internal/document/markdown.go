package document

import (
	"io"
	"strings"
)

// topLevel is the level of a document's own headings; the page's is 1.
const topLevel = 2

// Markdown writes the document in CommonMark with the tables of GitHub Flavored Markdown.
// It has no pictures: a figure is its title and its description.
func (d Document) Markdown(w io.Writer) error {
	_, err := io.WriteString(w, d.markdown(topLevel))
	return err
}

func (d Document) markdown(level int) string {
	return strings.TrimSuffix(each(d, func(b Block) string { return b.markdown(level) + "\n" }), "\n")
}

func (h Headline) markdown(int) string { return "**" + plain(string(h)) + "**\n" }

func (s Section) markdown(level int) string {
	if s.Title == "" {
		return s.Body.markdown(level)
	}
	return strings.Repeat("#", level) + " " + plain(s.Title) + "\n\n" + s.Body.markdown(level+1)
}

func (p Paragraph) markdown(int) string { return plain(string(p)) + "\n" }

func (items List) markdown(int) string {
	return each(items, func(prose string) string { return "- " + plain(prose) + "\n" })
}

func (t Terms) markdown(int) string {
	return each(t, func(term Term) string { return "- **" + plain(term.Word) + "**: " + plain(term.Meaning) + "\n" })
}

func (s Lines) markdown(level int) string {
	items := List(s.Items).markdown(level)
	if s.Head == "" {
		return items
	}
	return plain(s.Head) + "\n\n" + items
}

func (t Table) markdown(int) string {
	var b strings.Builder
	if t.Caption != "" {
		b.WriteString(plain(t.Caption) + "\n\n")
	}
	heads, rules := make([]string, len(t.Columns)), make([]string, len(t.Columns))
	for i, c := range t.Columns {
		heads[i], rules[i] = plain(c.name()), "---"
		if c.Kind == Number {
			rules[i] = "---:"
		}
	}
	b.WriteString(tableRow(heads) + tableRow(rules))
	for _, r := range t.Rows {
		cells := make([]string, len(r.Cells))
		for i, cell := range r.Cells {
			cells[i] = plain(cell)
			if r.Strong && cells[i] != "" {
				cells[i] = "**" + cells[i] + "**"
			}
		}
		b.WriteString(tableRow(cells))
	}
	if t.Legend != "" {
		b.WriteString("\n" + plain(t.Legend) + "\n")
	}
	return b.String()
}

func tableRow(cells []string) string { return "| " + strings.Join(cells, " | ") + " |\n" }

func (f Figures) markdown(int) string {
	return each(f, func(f Figure) string {
		return strings.TrimSpace("- **"+plain(f.Title)+".** "+plain(f.Description)) + "\n"
	})
}

func (n Notes) markdown(int) string {
	return strings.TrimSuffix(each(n, func(n Note) string {
		return "> **" + plain(n.Label) + ":** " + plain(n.sentences()) + "\n\n"
	}), "\n")
}

// plain escapes a text so that Markdown shows it as it is. Line breaks and other control
// characters become spaces: a line could begin a heading or a list, or end a table.
func plain(s string) string {
	s = strings.Join(strings.Fields(harmless(s)), " ")
	var b strings.Builder
	for i, r := range s {
		if strings.ContainsRune("\\`*_~[]<>|&#$", r) || startsBlock(s, i, r) || startsLink(s, i, r) {
			b.WriteByte('\\')
		}
		b.WriteRune(r)
	}
	return b.String()
}

// startsBlock reports whether the character at i would turn the line into a list, a rule
// or a heading's underline: a sign at its beginning, or the mark behind a number there,
// with nothing or a blank behind it.
func startsBlock(s string, i int, r rune) bool {
	last := i+1 == len(s)
	switch r {
	case '=':
		return i == 0
	case '-', '+':
		return i == 0 && (last || s[1] == ' ' || s[1] == byte(r))
	case '.', ')':
		return i > 0 && (last || s[i+1] == ' ') && strings.Trim(s[:i], "0123456789") == ""
	}
	return false
}

// startsLink reports whether the character at i belongs to a bare address that many
// readers would turn into a link.
func startsLink(s string, i int, r rune) bool {
	switch r {
	case ':':
		return strings.HasPrefix(s[i:], "://")
	case '.':
		return i >= 3 && strings.EqualFold(s[i-3:i], "www")
	}
	return false
}
