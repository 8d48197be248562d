package report

import (
	"io"
	"strconv"
	"strings"

	"regear/cmd/regear/internal/document"
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

// either joins words of which one is enough: "a, b or c".
func either(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " or " + words[last]
}

// capital writes a sentence with a capital first letter.
func capital(sentence string) string {
	if sentence == "" {
		return ""
	}
	return strings.ToUpper(sentence[:1]) + sentence[1:]
}

// section is a section of an answer.
func section(id, title string, body ...document.Block) document.Section {
	return document.Section{ID: id, Title: title, Body: body}
}

// answerText writes an answer as text, and a blank line before what follows it.
func answerText(w io.Writer, answer document.Document, s Style) error {
	if err := answer.Text(w, s.Layout); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}
