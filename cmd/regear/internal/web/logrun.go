package web

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/entry"
)

// logPage is the form that adds a run.
type logPage struct {
	Car    string // "" where it is to be entered
	Others []link
	Groups []group
	// Form tells this form from every other, so that it is saved once however often it is
	// sent. Seen marks what the fields were filled in with.
	Form, Seen string
	Units      string // that bare numbers in the fields are in

	Aside  string   // what the reader should know and need not mend here
	Stale  []string // what has changed in the book since the form was made
	Wrong  []string // what is wrong with the run as a whole
	Doubts []string // what looks implausible
	Sure   string   // marks the doubts, for the form that is saved in spite of them
}

// group is a group of fields. A folded one opens on a tap.
type group struct {
	Title        string
	Fields       []field
	Marks        []check
	Folded, Open bool
}

// check is a box to tick.
type check struct {
	Name, Label string
	Set         bool
}

// layout is how the fields of a run stand on the page: what was just read comes first,
// what rarely changes later.
var layout = []struct {
	title  string
	folded bool
	names  []string
}{
	{"Which car", false, []string{"car"}},
	{"How hot it got", false, []string{"motor-peak", "esc-peak", "battery-peak", "stopped-by-heat"}},
	{"The run", false, []string{"minutes", "ambient", "date"}},
	{"The gearing", false, []string{"pinion", "spur", "internal-ratio", "tire"}},
	{"Warm start, battery, labels and note", true, []string{"motor-start", "esc-start", "battery-start", "cells", "motor", "surface", "cooling", "note", "skip"}},
}

// fieldWords are what stands beside the fields of a run.
var fieldWords = map[string]field{
	"car":             {Label: "The car's name", Whole: true, Hint: "always written the same way"},
	"date":            {Label: "When it ended", Kind: "datetime-local", Hint: "leave blank for now"},
	"pinion":          {Label: "Pinion, teeth", Keys: digits},
	"spur":            {Label: "Spur, teeth", Keys: digits},
	"internal-ratio":  {Label: "Internal ratio", Keys: decimals, Hint: "1 if there is none"},
	"tire":            {Label: "Tire", Keys: decimals},
	"minutes":         {Label: "Driven, min", Hint: "as in 12.5 or 12:30"},
	"ambient":         {Label: "Air", Keys: decimals},
	"motor-peak":      {Label: "Motor", Keys: decimals},
	"esc-peak":        {Label: "ESC", Keys: decimals},
	"battery-peak":    {Label: "Battery", Keys: decimals, Hint: "leave blank what was not measured; 172F counts as °F, whatever is shown"},
	"motor-start":     {Label: "Motor before", Keys: decimals},
	"esc-start":       {Label: "ESC before", Keys: decimals},
	"battery-start":   {Label: "Battery before", Keys: decimals, Hint: "only if it was still warm"},
	"cells":           {Label: "Cells in series", Keys: digits},
	"motor":           {Label: "Which motor"},
	"surface":         {Label: "Surface"},
	"cooling":         {Label: "Cooling"},
	"note":            {Label: "Note", Whole: true},
	"stopped-by-heat": {Label: "Heat cut the run short"},
	"skip":            {Label: "Keep it in the book, out of the fits"},
}

// logForm shows the form, filled in with what rarely changes.
func logForm(v *visit) (reply, error) {
	g, err := v.garage()
	if err != nil {
		return nil, err
	}
	query := v.URL.Query()
	car := query.Get("car")
	if car == "" && !query.Has("new") {
		car = v.app().NewRun(g.logs()).Usual.Text(entry.Car)
	}
	form := &runForm{visit: v, garage: g, car: car, named: car != ""}
	form.read(nil)
	return form.view(), nil
}

// logRun saves a run.
func logRun(v *visit) (reply, error) {
	if err := v.ParseForm(); err != nil {
		return nil, unreadable(err)
	}
	logged := &v.site.logged
	logged.Lock()
	defer logged.Unlock()
	v.units = unitsNamed(v.PostForm.Get("units"), v.units)
	form := v.PostForm.Get("form")
	if saved, again := logged.saved[form]; again {
		return saved.again(v.PostForm)
	}
	const tries = 5 // against others that write to the book
	for range tries {
		answer, err := v.saveRun(form)
		if !errors.Is(err, logbook.ErrStale) {
			return answer, err
		}
	}
	return nil, &problem{503, "Not saved", errors.New("the log book is being written to all the time: go back and try again"), nil}
}

// again answers a form that was saved before.
func (s savedForm) again(form url.Values) (reply, error) {
	if s.sent != sumOf(form) {
		return nil, &problem{http.StatusConflict, "Saved before",
			errors.New("this form was saved before, and what was changed in it since was not: a run that is in the book can be mended there, on the computer"),
			&link{s.place, "To the run that was saved"}}
	}
	return elsewhere(s.place), nil
}

// sumOf tells what a form says from everything else that it could say.
func sumOf(form url.Values) string {
	sum := sha256.Sum256([]byte(form.Encode()))
	return string(sum[:])
}

// saveRun saves what the form says to the book as it is now, or shows the form again.
func (v *visit) saveRun(id string) (reply, error) {
	g, err := v.garage()
	if err != nil {
		return nil, err
	}
	car := strings.TrimSpace(v.PostForm.Get("car"))
	form := &runForm{visit: v, garage: g, car: car, named: v.PostForm.Get("seen") != ""}
	form.read(v.PostForm)
	if form.check(); !form.fine() {
		return form.view(), nil
	}
	one, problems, err := form.run.Read()
	if err != nil {
		form.blame(err)
		return form.view(), nil
	}
	if form.doubt(slices.Concat(form.problems, problems)); !form.fine() {
		return form.view(), nil
	}
	saved, err := form.run.SaveTo(one)
	switch {
	case errors.Is(err, logbook.ErrStale):
		return nil, err
	case errors.As(err, new(*app.ConflictError)):
		form.wrongField("date", fmt.Sprintf("the book holds a run of %s at that moment with other values: give another time", car))
		return form.view(), nil
	case errors.Is(err, app.ErrSavedBefore):
		form.Wrong = append(form.Wrong, "The book holds this run already. If it is another one, say when it ended.")
		return form.view(), nil
	case err != nil:
		form.Wrong = append(form.Wrong, v.site.reasons(err)...)
		return form.view(), nil
	}
	place := address("/advice", "car", car, "saved", saved.Run.Date())
	v.site.logged.remember(id, savedForm{sumOf(v.PostForm), place})
	return elsewhere(place), nil
}

// unreadable words that a form could not be read.
func unreadable(err error) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return &problem{http.StatusRequestEntityTooLarge, "Too large", fmt.Errorf("a form holds %d kB at most: shorten the note", mostForm>>10), nil}
	}
	return &problem{400, "That could not be read", err, nil}
}

// runForm is the form while it is read and checked.
type runForm struct {
	*visit
	*garage
	logPage
	car   string
	named bool // the car is settled
	run   *app.NewRun
	typed map[string]string // by the field's name
	wrong map[string]string
	// problems are what to ask about what was entered.
	problems []run.Problem
}

// read takes what was entered, or what stands in the fields before anything is.
func (f *runForm) read(entered map[string][]string) {
	f.run = f.app().NewRun(f.logs())
	if _, err := f.run.Enter(entry.Car, f.car); errors.As(err, new(*app.CarFileError)) {
		f.Aside = "The car file can't be read, so nothing is taken from it; a run can be logged all the same."
	}
	f.typed, f.wrong = map[string]string{}, map[string]string{}
	for _, e := range entry.Fields {
		usual := f.shown(e)
		text := usual
		if entered != nil {
			text = ""
			if all := entered[e.Name]; len(all) > 0 {
				text = strings.TrimSpace(all[0])
			}
		}
		f.typed[e.Name] = text
		if fieldWords[e.Name].Keys == decimals {
			text = typed(text)
		}
		if text == usual {
			// What was not touched is as it was, to the last digit.
			_ = f.run.TakeUsual(e) // of the car file was told
			continue
		}
		problems, err := f.run.Enter(e, e.WithUnit(text, f.units))
		if err != nil && !errors.As(err, new(*app.CarFileError)) {
			f.wrong[e.Name] = err.Error()
		}
		f.problems = append(f.problems, problems...)
	}
}

// shown returns what stands in a field before anything is entered, in the units shown.
func (f *runForm) shown(e entry.Field) string {
	cell := f.run.Usual.Text(e)
	if e.Name == "car" {
		return f.car
	}
	if e.Name != "tire" || cell == "" {
		return cell
	}
	diameter, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		return cell
	}
	return f.units.TireNumber(units.Millimeters(diameter))
}

// check looks for what keeps the run from being saved.
func (f *runForm) check() {
	for _, missing := range f.run.Draft.Missing() {
		f.wrongField(missing.Name, "is needed")
	}
	if !f.run.Draft.HasPeak() && f.wrong["motor-peak"]+f.wrong["esc-peak"]+f.wrong["battery-peak"] == "" {
		f.Wrong = append(f.Wrong, "A run needs how hot at least one part got.")
	}
	if seen := f.PostForm.Get("seen"); seen != "" && seen != f.seen() {
		f.Stale = f.changes()
	}
	if date, _ := entry.ByName("date"); !f.run.Draft.Has(date) {
		f.run.EndNow()
	}
}

// wrongField says what is wrong with a field, unless that was said.
func (f *runForm) wrongField(name, what string) {
	if f.wrong[name] == "" {
		f.wrong[name] = what
	}
}

// seen marks what the fields of the car that rarely change are filled in with.
func (f *runForm) seen() string {
	hash := sha256.New()
	for _, e := range entry.Fields {
		fmt.Fprintf(hash, "%s=%s\n", e.Column, f.run.Usual.Text(e))
	}
	return hex.EncodeToString(hash.Sum(nil)[:8])
}

// changes says where the fields differ from the car's last run, which is no longer the
// one that they were filled in from.
func (f *runForm) changes() []string {
	var all []string
	for _, e := range entry.Fields {
		now, before := f.shown(e), f.typed[e.Name]
		if e.FromLast && now != before {
			all = append(all, fmt.Sprintf("%s: %s in the newest run, %s here.", fieldWords[e.Name].Label, orBlank(now), orBlank(before)))
		}
	}
	return all
}

func orBlank(text string) string {
	if text == "" {
		return "blank"
	}
	return text
}

// blame puts what is wrong with the run beside the field it is about.
func (f *runForm) blame(err error) {
	var p run.Problem
	if errors.As(err, &p) {
		if e, known := entry.ByColumn(p.Column); known {
			f.wrongField(e.Name, advised(p))
			return
		}
	}
	f.Wrong = append(f.Wrong, capital(err.Error())+".")
}

// advised says what is wrong and what to do about it.
func advised(p run.Problem) string {
	if p.Do == "" {
		return p.What
	}
	return p.What + ", " + p.Do
}

// labelled says what is the matter with a field, as it was entered, under its label.
func (f *runForm) labelled(p run.Problem) string {
	if p.Remedy.Kind == run.MarkHeatStop {
		p.Do = "if heat ended this run, tick “" + fieldWords["stopped-by-heat"].Label + "”"
	}
	if e, known := entry.ByColumn(p.Column); known {
		return fmt.Sprintf("%s: %s %s.", fieldWords[e.Name].Label, f.typed[e.Name], advised(p))
	}
	return capital(advised(p)) + "."
}

// doubt asks whether what looks implausible is meant, until the form says so.
func (f *runForm) doubt(warnings []run.Problem) {
	var all []string
	for _, w := range warnings {
		all = append(all, f.labelled(w))
	}
	sum := sha256.Sum256([]byte(strings.Join(all, "\n")))
	f.Sure = hex.EncodeToString(sum[:8])
	if f.PostForm.Get("sure") != f.Sure {
		f.Doubts = all
	}
}

// fine reports whether nothing speaks against saving the run.
func (f *runForm) fine() bool {
	return len(f.wrong)+len(f.Wrong)+len(f.Doubts)+len(f.Stale) == 0
}

// view returns the form as a page.
func (f *runForm) view() *view {
	f.Form, f.Seen, f.Units = f.PostForm.Get("form"), "", unitsName(f.units)
	if f.Form == "" {
		f.Form = f.site.Random()
	}
	if f.named {
		f.Car, f.Seen = f.car, f.seen()
		f.Others = f.others()
	}
	f.Groups = f.groups()
	if len(f.wrong) > 0 {
		f.Wrong = append([]string{"Mend what is marked below."}, f.Wrong...)
	}
	status := 0
	if !f.fine() {
		status = 422
	}
	return &view{status: status, title: "Log a run", car: f.Car, template: "log.html", body: f.logPage}
}

func (f *runForm) others() []link {
	var all []link
	for _, name := range f.names {
		if name != f.car {
			all = append(all, link{forCar("/log", name), name})
		}
	}
	return append(all, link{"/log?new=car", "a new one"})
}

// groups lays the fields out.
func (f *runForm) groups() []group {
	var all []group
	for _, l := range layout {
		g := group{Title: l.title, Folded: l.folded}
		for _, name := range l.names {
			if name == "car" && f.named {
				continue
			}
			e := entry.Fields[slices.IndexFunc(entry.Fields, func(e entry.Field) bool { return e.Name == name })]
			if e.IsMark() {
				g.Marks = append(g.Marks, check{name, fieldWords[name].Label, f.typed[name] != ""})
				continue
			}
			g.Fields = append(g.Fields, f.field(e))
			g.Open = g.Open || f.wrong[name] != ""
		}
		if len(g.Fields)+len(g.Marks) > 0 {
			all = append(all, g)
		}
	}
	return all
}

func (f *runForm) field(e entry.Field) field {
	shown := fieldWords[e.Name]
	shown.ID, shown.Name, shown.Needed = e.Name, e.Name, e.Needed
	shown.Value, shown.Error = f.typed[e.Name], f.wrong[e.Name]
	switch {
	case e.Name == "tire":
		shown.Unit = f.units.LengthUnit()
	case e.WithUnit("1", units.Metric) != "1":
		shown.Unit = f.units.TemperatureUnit()
	}
	own := f.byCar[f.car]
	switch e.Name {
	case "motor":
		shown.List = labels(own, func(r *run.Run) string { return r.Motor })
	case "surface":
		shown.List = labels(own, func(r *run.Run) string { return r.Surface })
	case "cooling":
		shown.List = labels(own, func(r *run.Run) string { return r.Cooling })
	}
	return shown
}
