package web

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"regear/analyze"
	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/entry"
)

type logPage struct {
	Car    string // "" where the form asks for it
	Groups []group
	// Form tells this form from every other, so that it is saved once however often it is
	// sent. Seen marks what the fields were filled in with.
	Form, Seen string
	Units      string // that bare numbers in the fields are in

	Number int // of the run that is edited, 0 for a new one

	Note     string        // what the reader should know and need not mend here
	Conflict template.HTML // the run that an edit would make another one
	Unsaved
}

// group is a group of fields. A folded one opens on a tap.
type group struct {
	Title        string
	Folded, Open bool
	Fields       []*field
	Units        string // that can be chosen for its fields, "" where another group offers it
}

// peaksGroup is the place of the group of peaks in the layout.
const peaksGroup = 1

// layout returns how the fields of a run stand on the page: what was just read comes first,
// what rarely changes later.
func layout() []group {
	return []group{
		{Title: "Which car", Fields: []*field{
			{Name: "car", Label: "The car's name", Whole: true, Hint: "always written the same way"},
		}},
		{Title: "How hot it got", Fields: []*field{
			{Name: "motor-peak", Label: "Motor", Keys: decimals},
			{Name: "esc-peak", Label: "ESC", Keys: decimals},
			{Name: "battery-peak", Label: "Battery", Keys: decimals, Hint: "leave blank what was not measured; 172F counts as °F, whatever is shown"},
			{Name: "stopped-by-heat", Label: "Heat cut the run short"},
		}},
		{Title: "The run", Fields: []*field{
			{Name: "minutes", Label: "Driven, min", Keys: decimals, Hint: "as in 12.5 or 12:30"},
			{Name: "ambient", Label: "Air", Keys: decimals, Signed: true},
			{Name: "date", Label: "When it ended", Kind: "datetime-local", Hint: "just now, unless you say when"},
		}},
		{Title: "The gearing", Fields: []*field{
			{Name: "pinion", Label: "Pinion, teeth", Keys: digits},
			{Name: "spur", Label: "Spur, teeth", Keys: digits},
			{Name: "internal-ratio", Label: "Internal ratio", Keys: decimals, Hint: ratioHint},
			{Name: "tire", Label: "Tire", Keys: decimals},
		}},
		{Title: "Warm start, battery, labels and note", Folded: true, Fields: []*field{
			{Name: "motor-start", Label: "Motor before", Keys: decimals, Signed: true},
			{Name: "esc-start", Label: "ESC before", Keys: decimals, Signed: true},
			{Name: "battery-start", Label: "Battery before", Keys: decimals, Signed: true, Hint: "only if it was still warm"},
			{Name: "cells", Label: "Cells in series", Keys: digits},
			{Name: "motor", Label: "Which motor", label: motor},
			{Name: "surface", Label: "Surface", label: surface},
			{Name: "cooling", Label: "Cooling", label: cooling},
			{Name: "note", Label: "Note", Whole: true},
			{Name: "skip", Label: "Keep it in the book, out of the fits"},
		}},
	}
}

func logForm(r *request) (reply, error) {
	logs, err := r.logs()
	if err != nil {
		return nil, err
	}
	query := r.URL.Query()
	car := query.Get("car")
	if !query.Has("car") && !query.Has("new") {
		run, _ := r.NewRun(logs) // the form tells of a car file that can't be read
		car = run.Usual.Text(entry.Car)
	}
	known := append(slices.DeleteFunc(slices.Clone(logs.Names), func(name string) bool { return name == "" }), r.newCars(logs)...)
	if car == "" && len(known) > 0 && !query.Has("new") {
		return &page{title: "Log a run", template: "which.html", body: known}, nil
	}
	form := newRunForm(r, logs, car, car != "")
	form.keepTyped(query, func(r *request) *runForm { return newRunForm(r, logs, car, car != "") })
	return form.page(), nil
}

// newCars returns the cars that only the car file has.
func (r *request) newCars(logs *app.Logs) []string {
	file, err := r.Cars()
	if err != nil {
		return nil // what needs the file tells of it
	}
	return slices.DeleteFunc(slices.Sorted(maps.Keys(file.Cars)), func(name string) bool {
		_, inBook := analyze.CarNamed(name, logs.Names)
		return inBook
	})
}

// keepTyped fills in what was typed into the form before other units were chosen, as in sent. made
// makes the form as it was shown.
func (f *runForm) keepTyped(sent url.Values, made func(*request) *runForm) {
	if !sent.Has("form") {
		return
	}
	f.Form = sent.Get("form")
	then := made(f.in(unitsNamed(sent.Get("units"), f.units)))
	for name, shown := range f.fields {
		shown.keepTyped(sent, then.fields[name])
		f.openIf(shown, shown.Value != "")
	}
}

func logRun(r *request) (reply, error) { return r.saveOnce((*request).saveRun) }

// saveOnce carries out what a form says with save, once however often the form is sent.
func (r *request) saveOnce(save func(*request) (reply, error)) (reply, error) {
	if err := r.ParseForm(); err != nil {
		return nil, unreadable(err)
	}
	r.site.saving.Lock()
	defer r.site.saving.Unlock()
	r.units = unitsNamed(r.PostForm.Get("units"), r.units)
	// A form without a name was not made here, and can't be told from others like it.
	r.Book.Form = logbook.Form{Name: cmp.Or(r.PostForm.Get("form"), r.site.Random()), Sent: r.sent()}
	const tries = 5 // against others that write to the book
	for range tries {
		if place, err := r.madeBefore(); place != "" || err != nil {
			return redirect(place), err
		}
		answer, err := save(r)
		if !errors.Is(err, logbook.ErrStale) {
			return answer, err
		}
	}
	return nil, &problem{http.StatusServiceUnavailable, "Not saved", errors.New("the log book is being written to all the time: go back and try again"), nil}
}

func unreadable(err error) error {
	if isTooLarge(err) {
		return &problem{http.StatusRequestEntityTooLarge, "Too large", fmt.Errorf("a form holds %d kB at most: shorten the note", mostForm>>10), nil}
	}
	return &problem{http.StatusBadRequest, "That could not be read", err, nil}
}

// sent returns a sum of what the form says and where it was sent.
func (r *request) sent() string {
	sum := sha256.Sum256([]byte(r.URL.Path + "?" + r.PostForm.Encode()))
	return hex.EncodeToString(sum[:8])
}

// madeBefore returns where the change can be seen that the form has made of the book, "" for none.
func (r *request) madeBefore() (place string, err error) {
	made, form, err := r.Book.Made(r.Book.Form.Name)
	if made == nil || err != nil {
		return "", err
	}
	place = "/runs"
	if made.Undone {
		place = address("/changes", "undone", form.Name)
	} else if _, of, err := r.runOf(strconv.Itoa(made.Run)); err == nil {
		for verb, inHistory := range doneVerbs {
			if strings.HasPrefix(made.What, inHistory) {
				place = address("/advice", "car", of.Car, verb, strconv.Itoa(made.Run))
			}
		}
	} else if strings.HasPrefix(made.What, doneVerbs["deleted"]) {
		place = address("/runs", "deleted", strconv.Itoa(made.Run))
	}
	if form.Sent != r.Book.Form.Sent {
		err = &problem{http.StatusConflict, "Saved before",
			errors.New("this form was saved before, and what was changed in it since was not: change the run that is in the book"),
			&link{place, "To the run that was saved"}}
	}
	return place, err
}

// saveRun saves what the form says to the book as it is now, or shows the form again.
func (r *request) saveRun() (reply, error) {
	logs, err := r.logs()
	if err != nil {
		return nil, err
	}
	form := newRunForm(r, logs, strings.TrimSpace(r.PostForm.Get("car")), r.PostForm.Get("seen") != "")
	read := form.judge()
	if read == nil {
		return form.page(), nil
	}
	saved, err := form.run.SaveTo(read)
	switch {
	case errors.Is(err, logbook.ErrStale):
		return nil, err
	case errors.As(err, new(*app.ConflictError)):
		form.mark("date", fmt.Sprintf("the book holds a run of %s at that moment with other values: give another time", form.car))
	case errors.Is(err, app.ErrSavedBefore):
		form.Problems = append(form.Problems, "The book holds this run already. If it is another one, say when it ended.")
	case err != nil:
		form.Problems = append(form.Problems, reasons(err)...)
	default:
		place := address("/advice", "car", form.car, "saved", strconv.Itoa(saved.Run.Number))
		return redirect(place), nil
	}
	return form.page(), nil
}

// judge reads what was sent as a run, nil for one that is not to be saved as it is.
func (f *runForm) judge() *runlog.Log {
	f.read(f.PostForm)
	if f.check(); !f.isFine() {
		return nil
	}
	read, problems, err := f.run.Read()
	if err != nil {
		f.blame(err)
		return nil
	}
	if f.warn(append(f.entered, problems...)); !f.isFine() {
		return nil
	}
	return read
}

// offerChoices offers to tap what a new run is likely to have.
func (f *runForm) offerChoices() {
	usual := func(name string) string {
		e, _ := entry.ByName(name)
		return f.usualText(e)
	}
	if pinion := usual("pinion"); pinion != "" {
		f.choosePinion(pinion, usual("spur"))
	}
	f.chooseTire(usual("tire"))
}

// choosePinion offers the last pinion and the one that is advised, above all else.
func (f *runForm) choosePinion(pinion, spur string) {
	shown, above := f.fields["pinion"], 1
	for i, g := range f.Groups {
		f.Groups[i].Fields = slices.DeleteFunc(g.Fields, func(of *field) bool { return of == shown })
	}
	if f.carChosen {
		above = 0
	}
	f.Groups = slices.Insert(f.Groups, above, group{Title: "What it ran", Fields: []*field{shown}})
	last := chip{Value: pinion, Words: pinion + " as last time"}
	shown.Choices = []chip{last}
	logged, known := f.logs.ByCar[f.car]
	if !known {
		return
	}
	fitted, err := f.Fit(&app.Car{Name: f.car, Runs: logged})
	if err != nil {
		return
	}
	answer, _, err := fitted.Answer(new(ask.NextRun))
	if err != nil {
		return
	}
	pick := answer.Pick.Gearing
	advised := chip{Value: strconv.Itoa(pick.Pinion), Words: fmt.Sprintf("%d as advised", pick.Pinion)}
	if of := strconv.Itoa(pick.Spur); of != spur {
		advised.Value += "/" + of
		advised.Words = fmt.Sprintf("%d on spur %s as advised", pick.Pinion, of)
	}
	if advised.Value == last.Value {
		shown.Choices[0].Words = last.Value + " as last time, and as advised"
		return
	}
	shown.Choices = append(shown.Choices, advised)
}

// chooseTire offers the last tire and those of the car file.
func (f *runForm) chooseTire(tire string) {
	shown := f.fields["tire"]
	var last []chip
	if tire != "" {
		last = []chip{{Value: tire, Words: tire + " " + shown.Unit + " as last time"}}
	}
	var named []chip
	for _, name := range slices.Sorted(maps.Keys(f.run.Setup.Tires)) {
		size := f.units.Tire(f.run.Setup.Tires[name])
		if f.units.TireNumber(f.run.Setup.Tires[name]) == tire {
			last[0].Words = name + ", " + size + " as last time"
			continue
		}
		named = append(named, chip{Value: name, Words: name + ", " + size})
	}
	if len(named) > 0 { // one alone is no choice
		shown.Choices = append(last, named...)
	}
}

type runForm struct {
	*request
	logPage
	logs      *app.Logs
	car       string
	carChosen bool // the form does not ask for it
	run       *app.NewRun
	fields    map[string]*field
	anyMarked bool          // something is wrong with a field
	entered   []run.Problem // what to ask about what was entered
}

func newRunForm(r *request, logs *app.Logs, car string, carChosen bool) *runForm {
	f := &runForm{request: r, logs: logs, car: car, carChosen: carChosen, fields: map[string]*field{}}
	var err error
	if f.run, err = r.NewRun(logs); err != nil {
		f.Note = "The car file can't be read, so nothing is taken from it; a run can be logged all the same."
	}
	f.entered, _ = f.run.Enter(entry.Car, car) // a blank one is the form's to ask for
	f.run.TakeDay()
	f.fillAll()
	if carChosen {
		f.Groups = f.Groups[1:]
	}
	return f
}

func (f *runForm) fillAll() {
	f.Of = "log book"
	f.Groups = layout()
	f.Groups[peaksGroup].Units = [...]string{units.Metric: units.US.String(), units.US: units.Metric.String()}[f.units]
	for _, g := range f.Groups {
		for _, shown := range g.Fields {
			f.fields[shown.Name] = shown
		}
	}
	for _, e := range entry.Fields {
		f.fillIn(e)
	}
}

func (f *runForm) fillIn(e entry.Field) {
	shown := f.fields[e.Name]
	shown.ID, shown.Needed, shown.Value = e.Name, e.Needed, f.usualText(e)
	switch {
	case e.IsMark():
		shown.Kind = "checkbox"
	case e.Name == "tire":
		shown.Unit = f.units.LengthUnit()
	case e.Units != ask.Units{}:
		shown.Unit = f.units.TemperatureUnit()
	}
	if e.Name == "internal-ratio" && shown.Value != "" {
		shown.Hint = "" // it is known
	}
	if shown.label != nil {
		shown.listLabels(f.logs.ByCar[f.car])
	}
}

// usualText returns what stands in a field before anything is entered, in the units shown.
func (f *runForm) usualText(e entry.Field) string {
	usual := f.run.Usual.Text(e)
	number, err := strconv.ParseFloat(usual, 64)
	switch {
	case e.Name == entry.Car.Name && f.Number == 0:
		return f.car
	case err != nil:
	case e.Name == "tire":
		return f.units.TireNumber(units.Millimeters(number))
	case e.Units != ask.Units{}:
		return units.Trimmed(f.units.Temperature(units.Celsius(number)), 1)
	}
	// A field has one line, and no spreadsheet that could take its text for a formula.
	return strings.ReplaceAll(runlog.UnescapeFormula(usual), "\n", " ")
}

func (f *runForm) read(entered url.Values) {
	for _, e := range entry.Fields {
		if e.Name == entry.Car.Name && f.Number == 0 {
			continue // comes first: what is usual is the car's
		}
		shown, usual := f.fields[e.Name], f.usualText(e)
		shown.Value = shown.sent(entered)
		if pinion, spur, both := strings.Cut(shown.Value, "/"); both && e.Name == "pinion" { // as advised
			shown.Value = pinion
			entered.Set("spur", spur)
		}
		text := shown.typed(shown.Value)
		if text == usual && (e.FromLast || f.Number > 0) {
			// What was not touched is as it was, to the last digit.
			f.run.TakeUsual(e)
			continue
		}
		problems, err := f.run.Enter(e, e.Units.Behind(text, f.units))
		if err != nil {
			f.mark(e.Name, err.Error())
		}
		f.entered = append(f.entered, problems...)
	}
}

func (f *runForm) check() {
	for _, missing := range f.run.Draft.Missing() {
		f.mark(missing.Name, "is needed")
	}
	misread := func(e entry.Field) bool { return e.IsPeak() && f.fields[e.Name].Error != "" }
	if !f.run.Draft.HasPeak() && !slices.ContainsFunc(entry.Fields, misread) {
		f.Problems = append(f.Problems, "A run needs how hot at least one part got.")
	}
	if seen := f.PostForm.Get("seen"); seen != "" && seen != f.seen() {
		f.Changes = f.changes()
	}
	if date, _ := entry.ByName("date"); !f.run.Draft.Has(date) {
		f.run.EndNow()
	}
}

// mark says what is wrong with a field, unless that was said, and keeps it in sight.
func (f *runForm) mark(name, what string) {
	shown := f.fields[name]
	shown.Error = cmp.Or(shown.Error, what)
	f.anyMarked = true
	f.openIf(shown, true)
}

// openIf opens the group of a field, if it matters.
func (f *runForm) openIf(shown *field, matters bool) {
	for i, g := range f.Groups {
		f.Groups[i].Open = g.Open || matters && slices.Contains(g.Fields, shown)
	}
}

// seen marks what the fields of the car that rarely change are filled in with.
func (f *runForm) seen() string {
	var usual []string
	for _, e := range entry.Fields {
		usual = append(usual, f.run.Usual.Text(e))
	}
	return fmt.Sprintf("%q", usual)
}

// changes says where the fields differ from the car's last run, which is no longer the
// one that they were filled in from.
func (f *runForm) changes() []string {
	var all []string
	for _, e := range entry.Fields {
		shown, now := f.fields[e.Name], f.usualText(e)
		if (e.FromLast || f.Number > 0) && now != shown.Value {
			where := "the newest run"
			if f.Number > 0 {
				where = "the log book"
			}
			all = append(all, fmt.Sprintf("%s: %s in %s, %s here.", shown.Label, cmp.Or(now, "blank"), where, cmp.Or(shown.Value, "blank")))
		}
	}
	return all
}

func (f *runForm) blame(err error) {
	var p run.Problem
	if errors.As(err, &p) {
		if e, known := entry.ByColumn(p.Column); known {
			f.mark(e.Name, whatAndDo(p))
			return
		}
	}
	f.Problems = append(f.Problems, capital(err.Error())+".")
}

func (f *runForm) warn(about []run.Problem) {
	var all []string
	for _, p := range about {
		all = append(all, f.labelled(p))
	}
	f.isSure(all, f.PostForm)
}

// labelled says what is the matter with a field, as it was entered, under its label.
func (f *runForm) labelled(p run.Problem) string {
	if p.Remedy.Kind == run.MarkHeatStop {
		p.Do = "if heat ended this run, tick “" + f.fields["stopped-by-heat"].Label + "”"
	}
	if e, known := entry.ByColumn(p.Column); known {
		shown := f.fields[e.Name]
		return fmt.Sprintf("%s: %s %s.", shown.Label, shown.Value, whatAndDo(p))
	}
	return capital(whatAndDo(p)) + "."
}

func (f *runForm) isFine() bool {
	return !f.anyMarked && f.isNothing() && len(f.Conflict) == 0
}

func (f *runForm) page() *page {
	f.Units = f.units.String()
	if f.Form = cmp.Or(f.PostForm.Get("form"), f.Form); f.Form == "" {
		f.Form = f.site.Random()
	}
	if f.carChosen {
		f.Car, f.Seen = f.car, f.seen()
	}
	if f.Number == 0 {
		f.offerChoices()
	}
	f.tellOf(f.anyMarked)
	f.focus()
	title := "Log a run"
	if f.Number > 0 {
		f.Seen, title = f.seen(), fmt.Sprintf("Run %d", f.Number)
	}
	return &page{status: formStatus(f.isFine()), title: title, car: f.Car, template: "log.html", keeps: true, body: f.logPage}
}

// focus puts the focus on what is to be mended or, in a new form, typed first.
func (f *runForm) focus() {
	for _, g := range f.Groups {
		for _, shown := range g.Fields {
			isFirst := shown.Name == "car" || shown.Name == "motor-peak"
			if f.anyMarked && shown.Error != "" || f.isFine() && f.Number == 0 && isFirst {
				shown.Focus = true
				return
			}
		}
	}
}
