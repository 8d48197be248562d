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

// Lines stand on a line each, however long they are, so that an editor finds the place
// that a line begins with. They are indented under their head, if they have one.
type Lines struct {
	Head  string
	Items []string
}

// Table is a table. The first cell of a row names the row.
type Table struct {
	Caption string // what it shows, beside its section's title; text does without
	Columns []Column
	Rows    []Row
	Legend  string
}

// Column is one column of a table.
type Column struct {
	// Head names the column. In text each line break is kept, and a blank line sets the
	// name higher or lower; elsewhere it is one line.
	Head string
	// Full names it where Head needs its neighbours, or text its narrowness. Blank stands
	// for Head.
	Full string
	Kind Kind
	// Spare is above 0 for a column that text may leave out where a line is too short for
	// the table, the highest first.
	Spare int
	// Later sets the column behind the others in HTML, where a phone shows the first few
	// of them.
	Later bool
}

// Kind is what a column holds. In text every column but a last one of words stands
// right-aligned, so that each is close to the next.
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

// Figure is a picture in words and as SVG, which holds its title too. The SVG is written
// as it is, so it must be of a maker who is trusted.
type Figure struct {
	Title, Description string
	SVG                []byte
}

// Notes are what should not be overlooked.
type Notes []Note

// Note says what was noticed, and what to do about it.
type Note struct {
	Kind   NoteKind
	Label  string // what it begins with, as in "Warning"
	Text   string // a sentence without its capital and its full stop
	Action string // the same; may be blank
}

// NoteKind is a kind of note; in HTML it is a class.
type NoteKind string

// The kinds of notes.
const (
	Warning NoteKind = "warning" // of what is doubtful in this answer
	Caution NoteKind = "caution" // of what is always dangerous
)

// sentences joins what was noticed with what to do.
func (n Note) sentences() string { return strings.TrimSpace(n.Text + ". " + sentence(n.Action)) }

// sentence gives words their capital and their full stop.
func sentence(words string) string {
	if words == "" {
		return ""
	}
	return strings.ToUpper(words[:1]) + words[1:] + "."
}

// each joins what write makes of every item.
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
