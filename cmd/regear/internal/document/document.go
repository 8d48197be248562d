// Package document holds an answer as blocks and writes them as text for a terminal, as
// Markdown and as HTML. It lays out and escapes, and knows nothing of what the blocks say.
//
// Every string of a block is plain text: whatever stands in it, markup included, is shown
// as it is. The one exception is [Figure.SVG].
package document

import (
	_ "embed" // the style sheet
	"html/template"
	"strings"
)

// Document is an answer, block by block.
type Document []Block

// Block is one of this package's kinds of blocks.
type Block interface {
	text(l Layout) string
	markdown(level int) string
	html(level int) template.HTML
}

// Headline is the answer in one sentence.
type Headline string

// Section is a part of a document under a title. One without a title keeps blocks
// together that belong together.
type Section struct {
	ID    string // by which a link finds it; may be blank
	Title string
	Body  Document
}

// Paragraph is prose.
type Paragraph string

// List is a list of sentences.
type List []string

// Terms explain words.
type Terms []Term

// Term is a word with its meaning.
type Term struct{ Word, Meaning string }

// Lines stand on a line each, however long, so that an editor finds the place at the beginning
// of a line. They are indented under their head, if they have one.
type Lines struct {
	Head  string
	Items []string
}

// Table is a table. The first cell of a row names the row.
type Table struct {
	Caption string // what it shows; not in text
	Columns []Column
	Rows    []Row
	Legend  string
	OnPhone Narrow
}

// Narrow is how HTML shows a table on a phone.
type Narrow uint8

// The ways to show a table on a phone.
const (
	Stacks  Narrow = iota // each row is a list of its cells, each with the name of its column
	Wraps                 // cells wrap: the columns are few
	Scrolls               // the first column stays, and the others scroll beside it
)

// Column is one column of a table.
type Column struct {
	Head  string // its name; text keeps line breaks
	Full  string // its name outside text, where Head is too short or needs its neighbours; "" stands for Head
	Kind  Kind
	Spare int  // text may leave the column out where it is above 0 and the table too wide, the highest first
	Later bool // HTML sets the column behind the others, as a phone shows only the first few
}

// Kind is what a column holds. In text every column but a last one of words is right-aligned,
// so that each is close to the next.
type Kind uint8

// The kinds of columns.
const (
	Number Kind = iota // right-aligned
	Label              // left-aligned
	Prose              // left-aligned, and may be wrapped
)

// Row is one row of a table.
type Row struct {
	Cells  []string
	Strong bool // stands out
}

// Figures are pictures that may stand side by side.
type Figures []Figure

// Figure is a picture in words and as SVG, which holds its title too. The SVG is written as it
// is, so it must come from a trusted source.
type Figure struct {
	Title, Description string
	SVG                []byte
}

// Notes must not be overlooked.
type Notes []Note

// Note says what is wrong or dangerous, and what to do about it.
type Note struct {
	Kind   NoteKind
	Label  string // what it begins with, as in "Warning"
	Text   string // a sentence without its capital and its full stop
	Action string // the same; may be blank
	Link   *Link  // in HTML, to where it can be settled; nil for none
}

// Link leads to another page.
type Link struct{ Path, Words string }

// NoteKind is a kind of note; in HTML it is a class.
type NoteKind string

// The kinds of notes.
const (
	Warning NoteKind = "warning" // of what is doubtful in this answer
	Caution NoteKind = "caution" // of what is always dangerous
)

func (n Note) sentences() string { return strings.TrimSpace(n.Text + ". " + sentence(n.Action)) }

func sentence(words string) string {
	if words == "" {
		return ""
	}
	return strings.ToUpper(words[:1]) + words[1:] + "."
}

func each[T any](items []T, write func(T) string) string {
	var b strings.Builder
	for _, item := range items {
		b.WriteString(write(item))
	}
	return b.String()
}

// Style is the style sheet of the HTML.
//
//go:embed style.css
var Style string
