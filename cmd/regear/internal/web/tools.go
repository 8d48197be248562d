package web

import (
	"cmp"
	"errors"
	"fmt"
	"html/template"
	"maps"
	"slices"
	"strconv"
	"strings"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/document"
	"regear/cmd/regear/internal/report"
)

// toolPage is a page that answers one question of a few fields, and writes nothing.
type toolPage struct {
	Title, Path string
	Car         string   // "" if none was chosen
	Cars        []string // to choose from
	Intro       string
	Units       string  // that bare numbers in the fields are in
	Kept        []field // that the advice page asked, and that have no field here
	Groups      []group
	Live        bool // it answers while you type
	Headline    template.HTML
	Answer      template.HTML
	Advice      string // its address
}

// page returns the page. The frame names the car if the log book has it.
func (t *toolPage) page(err error) *page {
	if err != nil {
		t.Headline = document.Document{document.Paragraph(whyNoAnswer(err))}.HTML()
	}
	if t.Car == "" {
		t.Title = capital(t.Title)
	} else {
		t.Title = t.Car + ": " + t.Title
	}
	p := &page{status: formStatus(err == nil), title: t.Title, template: "tool.html", keeps: true, body: t}
	if t.Advice != "" {
		p.car = t.Car
	}
	return p
}

// show shows an answer, its first block above the form.
func (t *toolPage) show(answer, doubts, beside document.Document) {
	t.Headline, t.Answer = slices.Concat(answer[:1], doubts).HTML(), append(slices.Clone(answer[1:]), beside...).HTML()
}

// groupOf returns fields as a group that is folded or not: those that have one of the names, or
// all where none is given.
func groupOf(title string, folded bool, fields []field, names ...string) group {
	g := group{Title: title, Folded: folded}
	for i := range fields {
		if f := &fields[i]; names == nil || slices.Contains(names, f.Name) {
			g.Fields, g.Open = append(g.Fields, f), g.Open || f.Asked || f.Error != ""
		}
	}
	return g
}

// named returns the field of a name, or nil.
func named(fields []field, name string) *field {
	at := slices.IndexFunc(fields, func(f field) bool { return f.Name == name })
	if at < 0 {
		return nil
	}
	return &fields[at]
}

// mark marks the field that an error is about, whose name has an ending. Other errors it returns.
func mark(fields []field, ending string, err error) error {
	var wrong *ask.ValueError
	var missing *ask.MissingError
	name := ""
	switch {
	case errors.As(err, &wrong):
		name, err = wrong.Name, wrong.Err
	case errors.As(err, &missing):
		name = missing.Name
	}
	if f := named(fields, name+ending); f != nil {
		f.Error = err.Error()
		return errMarked
	}
	return err
}

// nextTool begins a page about a car's next run. What was asked on the advice page is kept; the
// names are of those of its fields that the page shows too, of which alone an error may tell.
func (r *request) nextTool(path string, shown ...string) (*toolPage, *app.Fitted, *whatIf, *ask.NextRun, error) {
	fitted, err := r.fitted()
	if err != nil {
		return nil, nil, nil, nil, err
	}
	form := new(whatIf)
	next, err := form.read(r, fitted)
	if form.fields == nil {
		return nil, nil, nil, nil, noAnswer(err)
	}
	t := &toolPage{Path: path, Car: fitted.Name, Units: form.Units, Live: true, Advice: r.sameQuestion("/advice", r.question())}
	for _, f := range form.fields {
		switch {
		case slices.Contains(shown, f.Name):
		case f.Error != "":
			return nil, nil, nil, nil, noAnswer(err)
		case f.Asked:
			t.Kept = append(t.Kept, f)
		}
	}
	return t, fitted, form, next, err
}

// nowOf ends the name of the field with what a part reads now.
const nowOf = "-now"

func rest(r *request) (reply, error) {
	t, fitted, form, next, err := r.nextTool("/rest", "ambient", "minutes")
	if t == nil {
		return nil, err
	}
	t.Title = "how long to run, how long to rest"
	var now run.Readings
	fields, wrong := r.read(func(u units.System) []field { return nowFields(fitted.Fit, u) }, func(f *field) ask.Value {
		value := ask.Readings("", "", &now)
		take := value.Take
		value.Take = func(text string) error { return take(strings.TrimSuffix(f.Name, nowOf) + "=" + text) }
		return value
	})
	err = cmp.Or(err, wrong)
	if err == nil {
		answer, problems, wrong := fitted.Answer(next)
		if err = mark(form.fields, "", wrong); err == nil {
			err = markColder(fields, now, answer.Next.Ambient, r.units)
		}
		if err == nil {
			rested := report.Rested{Advice: answer, Start: now, Notes: fitted.Notes}
			t.show(report.Rest(rested, r.units), doubts(problems, form.fields), beside(answer.Warnings, fitted.Name, fitted.Notes, fitted.Setup, r.units))
		}
	}
	t.Groups = []group{groupOf("The next run", false, form.fields, "ambient", "minutes"), groupOf("What parts read now", false, fields)}
	return t.page(err), nil
}

func nowFields(fit *analyze.Car, u units.System) []field {
	var fields []field
	for _, f := range fit.Fits() {
		name := f.Part.String() + nowOf
		fields = append(fields, field{ID: name, Name: name, Label: capital(f.Part.Word()) + " now", Unit: u.TemperatureUnit(), Keys: decimals})
	}
	return fields
}

// markColder marks what parts can't read in that air.
func markColder(fields []field, now run.Readings, air units.Celsius, u units.System) (err error) {
	for part, reads := range now.All() {
		if app.ColderThanAir(reads, air) {
			named(fields, part.String()+nowOf).Error = fmt.Sprintf("is below the air of %s: give the air too, or check the unit", u.Reading(air))
			err = errMarked
		}
	}
	return err
}

func compare(r *request) (reply, error) {
	t, fitted, form, next, err := r.nextTool("/compare")
	if t == nil {
		return nil, err
	}
	t.Title = "several next runs side by side"
	usual, problems, err := fitted.Answer(next)
	if err != nil {
		return nil, noAnswer(mark(form.fields, "", err))
	}
	all, told := report.Compared{Runs: []report.NextRun{{Advice: usual}}, Notes: fitted.Notes}, doubts(problems, form.fields)
	circumstances := slices.DeleteFunc(slices.Clone(form.fields), func(f field) bool { return !slices.Contains(ask.Circumstances, f.Name) })
	t.Intro = "The next run: " + fieldsInWords(circumstances, ", ") + ". Say what is different in up to three others."
	for n := 1; n < ask.MostCompared; n++ {
		other, ending := *next, "-"+strconv.Itoa(n)
		fields, wrong := r.read(func(units.System) []field { return otherFields(circumstances, ending) }, func(f *field) ask.Value {
			as := field{Name: strings.TrimSuffix(f.Name, ending)}
			return as.value(&other)
		})
		isAsked := slices.ContainsFunc(fields, asked)
		if isAsked && wrong == nil {
			var advice *advise.Advice
			advice, problems, wrong = fitted.Answer(&other)
			wrong = mark(fields, ending, wrong)
			all.Runs = append(all.Runs, report.NextRun{Different: fieldsInWords(slices.DeleteFunc(slices.Clone(fields), func(f field) bool { return !f.Asked }), ","), Advice: advice})
			told = append(told, doubts(problems, fields)...)
		}
		err = cmp.Or(err, wrong)
		t.Groups = append(t.Groups, groupOf(fmt.Sprintf("Other run %d", n), n > 1, fields))
	}
	if err == nil && len(all.Runs) > 1 {
		t.show(report.Compare(all, r.units), told, beside(report.WarningsOfAll(all.Runs), fitted.Name, fitted.Notes, fitted.Setup, r.units))
	}
	return t.page(err), nil
}

// otherFields are blank fields of what can differ.
func otherFields(circumstances []field, ending string) []field {
	fields := slices.Clone(circumstances)
	for i := range fields {
		f := &fields[i]
		f.ID, f.Name, f.Value, f.Slider, f.Asked = f.ID+ending, f.Name+ending, "", nil, false
	}
	return fields
}

// fieldsInWords tells what stands in fields: "air 35 °C".
func fieldsInWords(fields []field, between string) string {
	words := make([]string, len(fields))
	for i, f := range fields {
		words[i] = strings.Replace(strings.ToLower(f.Label), "esc ", "ESC ", 1) + " " + f.Value
		if _, err := units.ParseNumber(f.Value); err == nil && f.Unit != "" {
			words[i] += " " + f.Unit
		}
	}
	return strings.Join(words, between)
}

// knownCar is what is known of a car that may have no log.
type knownCar struct {
	fit   *analyze.Car // nil without a log
	notes app.Notes    // of the log
	setup app.Setup
}

// carTool begins a page about the car of the address, or about any.
func (r *request) carTool(path string) (*toolPage, *knownCar, error) {
	name := r.URL.Query().Get("car")
	t := &toolPage{Path: path, Car: name, Units: r.units.String()}
	logs, err := r.logs()
	if err != nil {
		return nil, nil, err
	}
	setup, err := r.Setup(name)
	if err != nil {
		return nil, nil, ofCar(name, err)
	}
	if name == "" {
		file, err := r.Cars()
		t.Cars = logs.Names
		for _, name := range slices.Sorted(maps.Keys(file.Cars)) {
			if _, driven := analyze.CarNamed(name, logs.Names); !driven {
				t.Cars = append(t.Cars, name)
			}
		}
		return t, &knownCar{setup: setup}, err
	}
	car, err := logs.Choose(name, true)
	if err != nil {
		return t, &knownCar{setup: setup}, nil // it was not driven yet
	}
	t.Car, t.Advice = car.Name, address("/advice", "car", car.Name)
	fit, err := analyze.FitCar(car.Runs)
	if errors.Is(err, analyze.ErrNoRuns) {
		err = nil
	}
	return t, &knownCar{fit, car.Notes, setup}, err
}

// submitted reports whether something was asked, or the form sent as it was shown.
func (r *request) submitted(fields []field) bool {
	return r.URL.Query().Has("units") || slices.ContainsFunc(fields, asked)
}

func start(r *request) (reply, error) {
	t, car, err := r.carTool("/start")
	if err != nil {
		return nil, err
	}
	t.Title = "new tires, battery or motor: what to run first"
	change := new(ask.Change)
	fields, err := r.read(func(u units.System) []field { return changeFields(car, u) }, func(f *field) ask.Value {
		value, _ := ask.Named(change.Values(), f.Name)
		return value
	})
	if err == nil && r.submitted(fields) {
		answer, of, wrong := change.Answer(car.fit, car.setup.Car)
		if err = markChange(fields, wrong); err == nil {
			var warnings []analyze.Warning
			if car.fit != nil {
				warnings = car.fit.Warnings()
			}
			t.show(report.Start(report.Started{Start: answer, Known: of, Notes: car.notes}, r.units, report.OnPage),
				doubts(change.Problems(car.setup.Car), fields), beside(warnings, t.Car, car.notes, car.setup, r.units))
		}
	}
	t.Groups = []group{
		groupOf("What changes", false, fields, "from-tire", "tire", "pinion", "spur"),
		groupOf("Another battery or motor", true, fields, "from-cells", "cells", "from-kv", "kv"),
		groupOf("What is at hand, and the air", true, fields, "pinions", "internal-ratio", "ambient"),
	}
	return t.page(err), nil
}

// changeFields are the fields of a change. They hold what is known of the car before it.
func changeFields(car *knownCar, u units.System) []field {
	usual, of, _ := new(ask.Change).Request(car.fit, car.setup.Car) // nothing changes yet
	tires := slices.Sorted(maps.Keys(car.setup.Tires))
	fields := []field{
		{Name: "from-tire", Label: "Tire before", Unit: u.LengthUnit(), Keys: decimals, List: tires},
		{Name: "tire", Label: "Tire after", Unit: u.LengthUnit(), Keys: decimals, List: tires},
		{Name: "pinion", Label: "Pinion before", Keys: digits, Value: shown(usual.Fitted.Pinion), Needed: true},
		{Name: "spur", Label: "Spur before", Keys: digits, Value: shown(usual.Fitted.Spur), Needed: true},
		{Name: "from-cells", Label: "Cells before", Keys: digits, Value: shown(usual.Before.Cells)},
		{Name: "cells", Label: "Cells after", Keys: digits},
		{Name: "from-kv", Label: "kV before", Keys: decimals, Value: shown(usual.Before.KV)},
		{Name: "kv", Label: "kV after", Keys: decimals, Hint: "turns a minute for each volt"},
		{Name: "pinions", Label: "Pinions at hand", Hint: "as in 11-16 or 11,13,15"},
		{Name: "internal-ratio", Label: "Internal ratio", Keys: decimals, Hint: "1 if there is none"},
		{Name: "ambient", Label: "Air", Unit: u.TemperatureUnit(), Keys: decimals},
	}
	set := func(name string, is bool, value string) {
		if f := named(fields, name); is {
			f.Value = value
		}
	}
	set("from-tire", usual.Before.Tire > 0, u.TireNumber(usual.Before.Tire))
	set("pinions", of.Pinions, teethList(usual.Gears.Boxes[0].Pinions))
	set("internal-ratio", of.Internal != advise.Default, shown(usual.Fitted.Internal))
	set("ambient", of.Ambient, u.ReadingNumber(usual.Run.Ambient))
	for i := range fields {
		fields[i].ID = fields[i].Name
	}
	return fields
}

// shown writes what is known, to the last digit; "" stands for 0.
func shown[T int | float64](value T) string {
	if value == 0 {
		return ""
	}
	return strconv.FormatFloat(float64(value), 'f', -1, 64)
}

// markChange marks the field that an error of a change is about.
func markChange(fields []field, err error) error {
	if !errors.Is(err, ask.ErrNothingChanges) {
		return mark(fields, "", err)
	}
	after, before := named(fields, "tire"), named(fields, "from-tire")
	if after.Error = "nothing changes yet: give another tire, or other cells or kV below"; after.Value != "" && before.Value == "" {
		after.Error, before.Error = "", "which tire was it before?"
	}
	return errMarked
}

func table(r *request) (reply, error) {
	t, car, err := r.carTool("/table")
	if err != nil {
		return nil, err
	}
	t.Title = "every pinion and spur"
	var last *analyze.Conditions
	if car.fit != nil {
		of := analyze.ConditionsOf(car.fit.Last)
		last = &of
	}
	hand := new(ask.AtHand)
	usual, _ := hand.Table(car.setup.Car, last)
	fields, err := r.read(func(u units.System) []field { return handFields(usual, car.setup.Car, u) }, func(f *field) ask.Value {
		name := f.Name
		if strings.HasPrefix(name, "tire") {
			name = "tire"
		}
		value, _ := ask.Named(hand.Values(), name)
		return value
	})
	if err == nil && (r.submitted(fields) || len(usual.Rows) > 0) {
		answer, wrong := hand.Table(car.setup.Car, last)
		if unknown := new(ask.ValueError); errors.As(wrong, &unknown) { // a tire, which stands in one of several fields
			unknown.Name = fields[slices.IndexFunc(fields, func(f field) bool { return f.Value == unknown.Text })].Name
		}
		if err = mark(fields, "", wrong); err == nil {
			t.Headline = doubts(hand.Problems(car.setup.Car), fields).HTML()
			t.Answer = append(report.Table(report.GearTable{GearTable: answer}, r.units, report.OnPage), ofSetup(car.setup)...).HTML()
		}
	}
	t.Groups = []group{groupOf("Gears and tires", false, fields)}
	return t.page(err), nil
}

// handFields are the fields of what is at hand. They hold what is known of the gears.
func handFields(usual *ask.GearTable, setup *carfile.Car, u units.System) []field {
	var gearings []drivetrain.Gearing
	for _, row := range usual.Rows {
		if row.Pitch == usual.Pitch {
			gearings = append(gearings, row.Gearing)
		}
	}
	fields := []field{
		{Name: "pinions", Label: "Pinions", Hint: "as in 11-16 or 11,13,15", Needed: true,
			Value: teethList(teethOf(gearings, func(g drivetrain.Gearing) int { return g.Pinion }))},
		{Name: "spurs", Label: "Spurs", Needed: true,
			Value: teethList(teethOf(gearings, func(g drivetrain.Gearing) int { return g.Spur }))},
		{Name: "internal-ratio", Label: "Internal ratio", Keys: decimals, Hint: "1 if there is none"},
	}
	if !usual.NoInternal {
		fields[2].Value = shown(usual.Internal)
	}
	for n, label := range []string{"Tire", "Another tire", "A third tire"} {
		fields = append(fields, field{Name: "tire-" + strconv.Itoa(n+1), Label: label, Unit: u.LengthUnit(), Keys: decimals,
			List: slices.Sorted(maps.Keys(setup.Tires))})
	}
	for i := range fields {
		fields[i].ID = fields[i].Name
	}
	return fields
}
