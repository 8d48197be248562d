package report

import (
	"io"
	"strconv"
	"strings"

	"github.com/jedib0t/go-pretty/v6/text"
)

var smallNumbers = [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}

// teeth writes a number of teeth in words: "two teeth".
func teeth(n int) string {
	if n < 0 {
		n = -n
	}
	word := strconv.Itoa(n)
	if n < len(smallNumbers) {
		word = smallNumbers[n]
	}
	if n == 1 {
		return word + " tooth"
	}
	return word + " teeth"
}

// count writes a number with its noun: "1 run", "3 runs".
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

// list joins words as a sentence does: "a, b and c".
func list(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

// capital writes a sentence with a capital first letter.
func capital(sentence string) string {
	if sentence == "" {
		return ""
	}
	return strings.ToUpper(sentence[:1]) + sentence[1:]
}

const defaultWidth = 80

// Style is how text is laid out.
type Style struct {
	Units Units
	Width int  // of a line of prose; 0 stands for 80
	Bold  bool // the pick stands out
}

// strong makes a text stand out where the style has it.
func (s Style) strong(line string) string {
	if !s.Bold {
		return line
	}
	return "\x1b[1m" + line + "\x1b[0m"
}

// answer lays an answer out: what it says in one sentence, its sections, and a blank
// line before what follows.
func (s Style) answer(w io.Writer, headline string, sections ...string) error {
	first := s.strong(strings.TrimSuffix(s.paragraph("", headline), "\n")) + "\n"
	_, err := io.WriteString(w, first+"\n"+strings.Join(sections, "\n")+"\n")
	return err
}

// paragraph wraps prose behind a first prefix, and indents further lines to match it.
func (s Style) paragraph(prefix, prose string) string {
	width := s.Width
	if width <= 0 {
		width = defaultWidth
	}
	indent := strings.Repeat(" ", text.StringWidth(prefix))
	var b strings.Builder
	b.WriteString(prefix)
	column := len(indent)
	for i, word := range unbroken(prose) {
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

// section is a list with its title.
func (s Style) section(title string, items []string) string {
	var b strings.Builder
	b.WriteString(title + ":\n")
	for _, prose := range items {
		b.WriteString(s.item(prose))
	}
	return b.String()
}

// item is a paragraph of a list.
func (s Style) item(prose string) string { return s.paragraph("  - ", prose) }

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
	switch strings.TrimRight(word, ".,;:)") {
	case "%", "°C", "°F", "mm", "min":
		return true
	}
	return false
}
