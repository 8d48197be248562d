package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/cmd/regear/internal/document"
)

var smallNumbers = [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}

// teeth writes a number of teeth in words: "two teeth".
func teeth(n int) string {
	n = max(n, -n)
	word := strconv.Itoa(n)
	if n < len(smallNumbers) {
		word = smallNumbers[n]
	}
	return word + choose(n, " tooth", " teeth")
}

// count writes a number with its noun: "1 run", "3 runs".
func count(n int, noun string) string { return strconv.Itoa(n) + " " + noun + choose(n, "", "s") }

// list joins words as a sentence does: "a, b and c".
func list(words []string) string { return joined(words, " and ") }

// either joins words of which one is enough: "a, b or c".
func either(words []string) string { return joined(words, " or ") }

func joined(words []string, last string) string {
	n := len(words) - 1
	if n < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:n], ", ") + last + words[n]
}

func quotedList(words []string) string { return list(worded(words, strconv.Quote)) }

// worded words every item.
func worded[T any](items []T, word func(T) string) []string {
	var words []string
	for _, item := range items {
		words = append(words, word(item))
	}
	return words
}

// eachOf words what each part has.
func eachOf[T any](of run.ByPart[T], word func(run.Part, T) string) []string {
	var words []string
	for part, value := range of.All() {
		words = append(words, word(part, value))
	}
	return words
}

// capital writes a sentence with a capital first letter.
func capital(sentence string) string {
	if sentence == "" {
		return ""
	}
	return strings.ToUpper(sentence[:1]) + sentence[1:]
}

// pair writes pinion and spur as drivers do.
func pair(g drivetrain.Gearing) string { return fmt.Sprintf("%d/%d", g.Pinion, g.Spur) }

// dateLayout is the ISO 8601 calendar date.
const dateLayout = "2006-01-02"

// moment writes a day, with its time of day where there is one.
func moment(when time.Time, hasTime bool) string {
	if !hasTime {
		return when.Format(dateLayout)
	}
	return when.Format(dateLayout + " 15:04")
}

// section is a section of an answer.
func section(id, title string, body ...document.Block) document.Section {
	return document.Section{ID: id, Title: title, Body: body}
}

// column is a column of a table with what its cells say of each T.
type column[T any] struct {
	document.Column
	cell func(*T) string
}

// tableOf is a table with a row for each of the items.
func tableOf[T any](caption string, items []T, columns []column[T]) document.Table {
	table := document.Table{Caption: caption}
	for _, c := range columns {
		table.Columns = append(table.Columns, c.Column)
	}
	for i := range items {
		var row document.Row
		for _, c := range columns {
			row.Cells = append(row.Cells, c.cell(&items[i]))
		}
		table.Rows = append(table.Rows, row)
	}
	return table
}

// remarkColumn is a last column of remarks, which text can leave without a head.
var remarkColumn = document.Column{Full: "remarks", Kind: document.Label}

// remarked is a last column of marks.
func remarked[T any](marks func(*T) []string) column[T] {
	return column[T]{remarkColumn, func(of *T) string { return strings.Join(marks(of), ", ") }}
}

// answerText writes an answer as text, and a blank line before what follows it.
func answerText(w io.Writer, answer document.Document, s Style) error {
	if err := answer.Text(w, s.Layout); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}
