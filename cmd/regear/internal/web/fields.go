package web

import (
	"regexp"
	"slices"
	"strings"

	"regear/analyze/run"
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

	label func(*run.Run) string // of a field that holds a label of runs
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
func (f *field) typed(text string) string {
	text = strings.TrimSpace(text)
	if f.Keys != decimals {
		return text
	}
	return oneComma.ReplaceAllString(text, "$1.$2")
}

func motor(r *run.Run) string   { return r.Motor }
func surface(r *run.Run) string { return r.Surface }
func cooling(r *run.Run) string { return r.Cooling }

// listLabels offers the labels that runs carry.
func (f *field) listLabels(runs []run.Run) {
	for i := range runs {
		if label := f.label(&runs[i]); label != "" {
			f.List = append(f.List, label)
		}
	}
	slices.Sort(f.List)
	f.List = slices.Compact(f.List)
}

// whatAndDo says what is wrong and what to do about it.
func whatAndDo(p run.Problem) string {
	if p.Do == "" {
		return p.What
	}
	return p.What + ", " + p.Do
}
