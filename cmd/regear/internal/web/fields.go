package web

import (
	"regexp"
	"strings"
)

// field is one field of a form.
type field struct {
	ID, Name, Label string
	Unit            string // what a bare number is in
	Value           string // as it stands in the field
	Kind            string // of the input; "" is text
	Keys            string // which keys a phone shows
	Hint, Error     string
	List            []string // what to choose from, besides typing
	Slider          *slider  // shown by the script
	Needed, Whole   bool
}

// slider is the extent of one.
type slider struct{ Low, High, Step float64 }

// Keys that a phone shows for a field.
const (
	digits   = "numeric"
	decimals = "decimal"
)

var oneComma = regexp.MustCompile(`^([^,]*\d)?,(\d[^,]*)$`)

// typed returns what was typed into a field: many phones' number keys have a comma for
// the decimal mark. A list of teeth keeps its commas.
func typed(text string) string {
	return oneComma.ReplaceAllString(strings.TrimSpace(text), "$1.$2")
}
