package web

import (
	"bytes"
	"cmp"
	"html/template"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"regear/analyze/run"
	"regear/analyze/units"
)

// page is a page in the frame that all pages share.
type page struct {
	status   int // 0 stands for 200
	title    string
	back     string // the page's address, "" for the one that was asked for
	car      string // that the page is about, "" if none
	keeps    bool   // what was typed into its form stays when the units are switched
	template string // of the page's main part
	body     any
}

func (p *page) send(w http.ResponseWriter, r *request) {
	back := r.URL.Path
	if r.Method == http.MethodGet {
		back = cmp.Or(p.back, r.URL.RequestURI())
	}
	render(w, cmp.Or(p.status, http.StatusOK), p.template, struct {
		Title, Car, Path, Back, Version string
		US, Keeps                       bool // US is true where the units shown are those of the US
		Pocket                          bool // the browser makes the pages itself
		Body                            any
	}{p.title, p.car, r.URL.Path, back, r.site.Version, r.units == units.US, p.keeps, r.site.Copied != nil, p.body})
}

func formStatus(isFine bool) int {
	if isFine {
		return http.StatusOK
	}
	return http.StatusUnprocessableEntity
}

// templates are the templates by the name of their file, each with the layout and the
// parts that pages share. They are read with the first page: the other commands need none.
var templates = sync.OnceValue(func() map[string]*template.Template {
	entries, err := templateFiles.ReadDir("templates")
	if err != nil {
		panic(err) // it is embedded
	}
	shared := template.Must(template.ParseFS(templateFiles, "templates/layout.html", "templates/parts.html"))
	all := map[string]*template.Template{}
	for _, e := range entries {
		all[e.Name()] = template.Must(template.Must(shared.Clone()).ParseFS(templateFiles, "templates/"+e.Name()))
	}
	return all
})

// render writes a page whole or, if its template fails, not at all.
func render(w http.ResponseWriter, status int, name string, data any) {
	t := templates()[name]
	entry := "layout"
	if t.Lookup("main") == nil {
		entry = name // a page without the frame
	}
	var text bytes.Buffer
	if err := t.ExecuteTemplate(&text, entry, data); err != nil {
		http.Error(w, "This page could not be made: "+err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(text.Bytes()) // the browser is gone if this fails
}

func capital(sentence string) string {
	first, size := utf8.DecodeRuneInString(sentence)
	if first == utf8.RuneError {
		return sentence
	}
	return string(unicode.ToUpper(first)) + sentence[size:]
}

type field struct {
	ID, Name, Label string
	Unit            string // what a bare number is in
	Value           string // as it stands in the field
	Kind            string // of the input; "" is text
	Keys            string // which keys a phone shows
	Hint, Error     string
	List            []string // what to choose from, besides typing
	Choices         []chip   // what to tap, besides typing something else
	Focus           bool     // it has the focus when the page opens
	Signed          bool     // it may be below zero
	Slider          *slider  // shown by the script
	Needed, Whole   bool
	Asked           bool // it was changed from what was shown at first

	label func(*run.Run) string // of a field that holds a label of runs
}

type slider struct{ Low, High, Step float64 }

// other ends the name of the field that takes what none of a field's choices is.
const other = "-other"

// sent returns what a form says of the field.
func (f *field) sent(values url.Values) string {
	text := strings.TrimSpace(values.Get(f.Name))
	if text == "" {
		text = strings.TrimSpace(values.Get(f.Name + other))
	}
	return text
}

// IsOther reports whether none of its choices stands in the field.
func (f field) IsOther() bool {
	return !slices.ContainsFunc(f.Choices, func(c chip) bool { return c.Value == f.Value })
}

// keepTyped keeps what was typed into the field while it was shown as it was then, in other units.
func (f *field) keepTyped(values url.Values, then *field) {
	text := f.sent(values)
	if text == then.Value {
		return
	}
	if _, notNumber := strconv.ParseFloat(f.typed(text), 64); notNumber == nil && f.Unit != then.Unit {
		text += " " + then.Unit
	}
	f.Value = text
}

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

func (f *field) listLabels(runs []run.Run) {
	for i := range runs {
		if label := f.label(&runs[i]); label != "" {
			f.List = append(f.List, label)
		}
	}
	slices.Sort(f.List)
	f.List = slices.Compact(f.List)
}

func whatAndDo(p run.Problem) string {
	if p.Do == "" {
		return p.What
	}
	return p.What + ", " + p.Do
}
