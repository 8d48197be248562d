package document

import (
	"embed"
	"fmt"
	"html/template"
	"io"
	"strings"
	"sync"
)

//go:embed blocks.html page.html
var templateFiles embed.FS

// templates are read with the first HTML: text needs none.
var templates = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("").Funcs(template.FuncMap{"glued": glued, "sentence": sentence, "cell": cell}).ParseFS(templateFiles, "*.html"))
})

// glued joins each number with its unit, so that no line begins with one.
func glued(prose any) string {
	words := unbroken(fmt.Sprint(prose))
	for i, w := range words {
		words[i] = strings.ReplaceAll(w, " ", "\u00a0")
	}
	return strings.Join(words, " ")
}

// cell glues a cell that can be wrapped, and lets a range wrap at its dashes.
func cell(onPhone Narrow, text string) string {
	if onPhone == Wraps {
		return strings.ReplaceAll(glued(text), "–", "–\u200b")
	}
	return text
}

// fill fills in a template. Templates and data are both of this package, so it fails only if
// they don't fit each other.
func fill(name string, data any) template.HTML {
	var b strings.Builder
	if err := templates().ExecuteTemplate(&b, name, data); err != nil {
		panic("document: " + err.Error())
	}
	return template.HTML(b.String())
}

// HTML returns the document as HTML without a page around it. Its headings begin at the
// second level.
func (d Document) HTML() template.HTML { return d.html(topLevel) }

func (d Document) html(level int) template.HTML {
	return template.HTML(each(d, func(b Block) string { return string(b.html(level)) }))
}

func (h Headline) html(int) template.HTML  { return fill("headline", h) }
func (p Paragraph) html(int) template.HTML { return fill("paragraph", p) }
func (items List) html(int) template.HTML  { return fill("list", items) }
func (t Terms) html(int) template.HTML     { return fill("terms", t) }
func (s Lines) html(int) template.HTML     { return fill("lines", s) }

func (s Section) html(level int) template.HTML {
	if s.Title == "" {
		return s.Body.html(level)
	}
	return fill("section", struct {
		Section
		Level int
		Inner template.HTML
	}{s, level, s.Body.html(level + 1)})
}

func (f Figures) html(int) template.HTML {
	type figure struct {
		Picture     template.HTML
		Description string
	}
	var figures []figure
	for _, one := range f {
		figures = append(figures, figure{template.HTML(one.SVG), one.Description})
	}
	return fill("figures", figures)
}

func (n Notes) html(int) template.HTML { return fill("notes", n) }

// htmlCell is a cell, or the head of a column, with its class. Head is the name of its column.
type htmlCell struct{ Class, Text, Head string }

func (t Table) html(int) template.HTML {
	type row struct {
		Strong bool
		Name   htmlCell
		Cells  []htmlCell
	}
	// cells are those of the columns that are not Later, and then the others.
	cells := func(cell func(int) string) []htmlCell {
		var first, later []htmlCell
		for i, c := range t.Columns {
			one := htmlCell{[...]string{Number: "", Label: "left", Prose: "prose"}[c.Kind], cell(i), c.name()}
			if c.Later {
				later = append(later, one)
			} else {
				first = append(first, one)
			}
		}
		return append(first, later...)
	}
	data := struct {
		Table
		Class string
		Heads []htmlCell
		Body  []row
	}{Table: t, Class: [...]string{Stacks: "stacks", Wraps: "wraps", Scrolls: "scrolls"}[t.OnPhone], Heads: cells(func(i int) string { return t.Columns[i].name() })}
	for _, r := range t.Rows {
		cells := cells(func(i int) string { return r.Cells[i] })
		data.Body = append(data.Body, row{r.Strong, cells[0], cells[1:]})
	}
	return fill("table", data)
}

// name names the column in one line.
func (c Column) name() string {
	if c.Full != "" {
		return c.Full
	}
	return strings.Join(strings.Fields(c.Head), " ")
}

// Page is a document that stands alone, in a file of its own.
type Page struct {
	Title string
	Body  Document
	Foot  string // about the page itself, in small print
}

// HTML writes the page with its style inside it. The page needs no other file and no network,
// runs nothing, and forbids the browser to do so.
func (p Page) HTML(w io.Writer) error {
	return templates().ExecuteTemplate(w, "page", struct {
		Page
		Style template.CSS
		Inner template.HTML
	}{p, template.CSS(Style), p.Body.HTML()})
}

// Markdown writes the page in Markdown.
func (p Page) Markdown(w io.Writer) error {
	page := "# " + plain(p.Title) + "\n\n" + p.Body.markdown(topLevel)
	if p.Foot != "" {
		page += "\n---\n\n" + plain(p.Foot) + "\n"
	}
	_, err := io.WriteString(w, page)
	return err
}
