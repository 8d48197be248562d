package web

import (
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/document"
	"regear/cmd/regear/internal/report"
)

// advicePage is the advice for one car: the pick, what if, and the rest.
type advicePage struct {
	Car      string
	Saved    string // which run was just saved
	Headline template.HTML
	Answer   template.HTML
	whatIf
	Log, Fit, Hindsight, Report, AsItIs string
}

func advice(v *visit) (reply, error) {
	g, name, err := v.garageOf()
	if err != nil {
		return nil, err
	}
	page := advicePage{Car: name, Saved: v.saved(g, name),
		Log: forCar("/log", name), Fit: forCar("/fit", name), Hindsight: forCar("/hindsight", name),
		Report: v.again("/report", v.asked()), AsItIs: forCar("/advice", name)}
	own, note, err := g.own(name)
	if err != nil {
		return nil, afterSaving(page.Saved, err)
	}
	car, err := analyze.FitCar(g.byCar[name])
	if err != nil {
		return nil, afterSaving(page.Saved, noFit(name, err))
	}
	answer, err := page.ask(v, car, g.byCar[name], own)
	if err != nil && page.fields == nil {
		return nil, badQuestion(err) // whatever is asked
	}
	status := 0
	if answer == nil {
		status = 422
		page.Headline = document.Document{document.Paragraph(noAnswer(err))}.HTML()
	} else if err := page.fill(answer, g, note, v.units); err != nil {
		return nil, err
	}
	return &view{status: status, title: name + ": the next run", car: name, back: v.again("/advice", v.asked()),
		template: "advice.html", body: page}, nil
}

// noFit words that a car has no run that a fit can use.
func noFit(name string, err error) error {
	if errors.Is(err, analyze.ErrNoRuns) {
		err = errors.New(report.NoUsableRun("no run of " + name))
	}
	return &problem{422, "There is no answer yet", err, &link{forCar("/log", name), "Log a run"}}
}

// afterSaving keeps what was saved in sight where there is no answer to show beside it.
func afterSaving(saved string, err error) error {
	var p *problem
	if saved == "" || !errors.As(err, &p) {
		return err
	}
	told := *p
	told.err = fmt.Errorf("%s\n%w", saved, p.err)
	return &told
}

// own returns what the car file says of a car, and what there is to say about that.
func (g *garage) own(name string) (own *carfile.Car, note string, err error) {
	if g.fileErr != nil {
		return nil, "", &problem{http.StatusInternalServerError, "The car file can't be read",
			fmt.Errorf("%w\nMend it on the computer. Runs can be logged and imported meanwhile", g.fileErr), &link{forCar("/log", name), "Log a run"}}
	}
	own, note = g.file.Of(name)
	return own, note, nil
}

// noAnswer says why what was asked has no answer, where err is nil because of a field.
func noAnswer(err error) string {
	switch {
	case err == nil:
		return "Mend what is marked below; then the answer stands here."
	case errors.Is(err, advise.ErrNoLimit):
		err = fmt.Errorf("%w: give one below", err)
	}
	return "There is no answer: " + report.NoAnswer(err).Error() + "."
}

// asked returns what is asked, with the units in which it is.
func (v *visit) asked() url.Values {
	query := v.URL.Query()
	query.Set("units", unitsName(v.askedUnits()))
	return query
}

// askedUnits returns the units of the bare numbers in the address: another browser may have
// made it, or this one before other units were chosen.
func (v *visit) askedUnits() units.System { return unitsNamed(v.URL.Query().Get("units"), v.units) }

// again returns the address of another page that asks the same.
func (v *visit) again(path string, query url.Values) string {
	query.Del("saved")
	return path + "?" + query.Encode()
}

// saved says which run was just saved, if the address claims so and the book has it.
func (v *visit) saved(g *garage, car string) string {
	date := v.URL.Query().Get("saved")
	if date == "" {
		return ""
	}
	for i := range g.byCar[car] {
		if r := &g.byCar[car][i]; r.Date() == date {
			return report.Saved(r, len(g.Log.Runs), v.units)
		}
	}
	return ""
}

// fill makes the page's answer.
func (p *advicePage) fill(a *advise.Advice, g *garage, note string, u units.System) error {
	figures, err := report.AdviceFigures(a, u)
	if err != nil {
		return err
	}
	answer := report.Advice(a, u)
	// The pick and what to read early stand above what can be asked.
	first := slices.IndexFunc(answer, func(b document.Block) bool { _, section := b.(document.Section); return section })
	p.Headline = append(slices.Clone(answer[:first]), p.asked()...).HTML()
	rest := append(answer[first:], document.Section{ID: "figures", Title: "The figures", Body: document.Document{figures}})
	rest = append(rest, report.WarningNotes(a.Warnings, u, report.OnPage)...)
	rest = append(rest, report.Noted(g.noticed())...)
	if note != "" {
		rest = append(rest, document.Paragraph("The car file: "+note+"."))
	}
	p.Answer = append(rest, report.CautionNotes(u)...).HTML()
	return nil
}

// asked says what is doubtful about what was asked.
func (w whatIf) asked() document.Document {
	var doc document.Document
	for _, d := range w.doubts {
		doc = append(doc, document.Paragraph(fmt.Sprintf("%s: %s %s.", capital(d.File), d.Value, advised(d))))
	}
	return doc
}

// whatIf is the form that asks about another next run.
type whatIf struct {
	Units    string // that bare numbers in the fields are in
	MoreOpen bool
	Asked    bool // something differs from the last run

	fields []field
	doubts []run.Problem // about what is asked
}

// firstFields is how many of the fields stand in sight; the others are folded.
const firstFields = 4

// First returns the fields that are asked about most.
func (w whatIf) First() []field { return w.fields[:min(firstFields, len(w.fields))] }

// More returns the others.
func (w whatIf) More() []field { return w.fields[len(w.First()):] }

// ask reads the form, and answers. There is no answer where a field is wrong.
//
// A field that stands as it was shown says nothing: what was not said is to be named
// in the answer as assumed. What was said in other units than are shown keeps its own.
func (w *whatIf) ask(v *visit, car *analyze.Car, runs []run.Run, own *carfile.Car) (*advise.Advice, error) {
	usual, err := new(ask.NextRun).Request(car, own)
	if err != nil {
		return nil, err
	}
	w.Units = unitsName(v.units)
	w.fields = whatIfFields(car, runs, &usual, v.units)
	units := v.askedUnits()
	shown := slices.Clone(w.fields)
	if units != v.units {
		shown = whatIfFields(car, runs, &usual, units)
	}
	next, query, wrong := new(ask.NextRun), v.URL.Query(), false
	for i := range w.fields {
		f := &w.fields[i]
		text := query.Get(f.Name)
		if f.Keys == decimals {
			text = typed(text)
		}
		if text == shown[i].Value || text == "" {
			continue
		}
		f.Value, w.Asked = text, true
		if units != v.units {
			f.Value = withUnit(f.Name, text, units)
		}
		if err := say(next, f.Name, withUnit(f.Name, text, units)); err != nil {
			f.Error, wrong = err.Error(), true
		}
		w.MoreOpen = w.MoreOpen || i >= firstFields
	}
	if wrong {
		return nil, nil
	}
	w.doubts = next.Problems(own)
	answer, err := next.Answer(car, own)
	var value *ask.ValueError
	if errors.As(err, &value) {
		w.blame(value)
		return nil, nil
	}
	return answer, err
}

// say sets what a field says.
func say(next *ask.NextRun, name, text string) error {
	value := valueOf(next, name)
	switch part, isLimit := strings.CutPrefix(name, limitOf); {
	case isLimit:
		text = part + "=" + text
	case name == "confidence":
		if value.Set(fromPercent(text)) != nil {
			return errors.New("write a chance above 0 and below 100 %, as in 80")
		}
		return nil
	}
	return value.Set(text)
}

// limitOf begins the name of a field that holds the limit of a part.
const limitOf = "limit-"

// valueOf returns the value that a field sets.
func valueOf(next *ask.NextRun, name string) ask.Value {
	if strings.HasPrefix(name, limitOf) {
		name = "limit"
	}
	value, _ := ask.Named(next.Values(), name)
	return value
}

// withUnit returns what a field says with its unit.
func withUnit(name, text string, u units.System) string {
	return valueOf(new(ask.NextRun), name).WithUnit(text, u)
}

// fromPercent returns a share of what stands in a field of percent; a share such as 0.8
// is taken for what it is.
func fromPercent(text string) string {
	percent, err := strconv.ParseFloat(text, 64)
	if err != nil || percent < 1 {
		return text
	}
	return strconv.FormatFloat(percent/100, 'f', -1, 64)
}

// blame marks the field whose value turned out wrong.
func (w *whatIf) blame(wrong *ask.ValueError) {
	for i := range w.fields {
		if w.fields[i].Name == wrong.Name {
			w.fields[i].Error = wrong.Err.Error()
		}
	}
}

// whatIfFields returns the fields as they stand if nothing is asked, firstFields and more.
func whatIfFields(car *analyze.Car, runs []run.Run, usual *advise.Request, u units.System) []field {
	next := usual.Next
	degrees, length := u.TemperatureUnit(), u.LengthUnit()
	air := &slider{-10, 45, 1}
	tire := &slider{40, 250, 1}
	if u == units.US {
		air, tire = &slider{10, 115, 1}, &slider{1.5, 10, 0.05}
	}
	fields := []field{
		{Name: "ambient", Label: "Air", Unit: degrees, Value: u.ReadingNumber(next.Ambient), Keys: decimals, Slider: air},
		{Name: "minutes", Label: "Run", Unit: "min", Value: units.Trimmed(float64(next.Minutes), 1), Keys: decimals, Slider: &slider{1, 60, 1}},
		{Name: "tire", Label: "Tire", Unit: length, Value: u.TireNumber(next.Tire), Keys: decimals, Slider: tire},
		{Name: "confidence", Label: "Wanted chance", Unit: "%", Value: report.PercentNumber(usual.Confidence), Keys: decimals, Slider: &slider{50, 99, 1}},
	}
	for _, part := range run.Parts {
		limit, isLimited := usual.Limits.Of(part)
		if car.Fit(part) == nil {
			continue
		}
		f := field{Name: limitOf + part.String(), Label: capital(part.Word()) + " under", Unit: degrees, Keys: decimals, Value: "none"}
		if isLimited {
			f.Value = u.ReadingNumber(limit.Temperature)
		}
		fields = append(fields, f)
	}
	fields = append(fields,
		field{Name: "pinions", Label: "Pinions to choose from", Hint: "as in 11-16 or 11,13,15",
			Value: teethList(usual.Gearings, func(g drivetrain.Gearing) int { return g.Pinion })},
		field{Name: "spurs", Label: "Spurs to choose from",
			Value: teethList(usual.Gearings, func(g drivetrain.Gearing) int { return g.Spur })},
		field{Name: "max-step-up", Label: "Most teeth up", Value: strconv.Itoa(usual.MaxStepUp), Keys: digits, Hint: "above the tallest gearing already run; 0 is no bound"},
	)
	if next.Cells > 0 {
		fields = append(fields, field{Name: "cells", Label: "Cells", Value: strconv.Itoa(next.Cells), Keys: digits})
	}
	if known := labels(runs, func(r *run.Run) string { return r.Surface }); len(known) > 0 {
		fields = append(fields, field{Name: "surface", Label: "Surface", Value: next.Surface, List: known})
	}
	if known := labels(runs, func(r *run.Run) string { return r.Cooling }); len(known) > 0 {
		fields = append(fields, field{Name: "cooling", Label: "Cooling", Value: next.Cooling, List: known})
	}
	for i := range fields {
		fields[i].ID = "if-" + fields[i].Name
	}
	return fields
}

// labels returns the labels of one kind that runs carry.
func labels(runs []run.Run, of func(*run.Run) string) []string {
	var all []string
	for i := range runs {
		if label := of(&runs[i]); label != "" && !slices.Contains(all, label) {
			all = append(all, label)
		}
	}
	slices.Sort(all)
	return all
}

// teethList writes the teeth of gears as they would be typed.
func teethList(of []drivetrain.Gearing, teeth func(drivetrain.Gearing) int) string {
	var all []int
	for _, g := range of {
		all = append(all, teeth(g))
	}
	slices.Sort(all)
	all = slices.Compact(all)
	if n := len(all); n > 2 && all[n-1]-all[0] == n-1 {
		return fmt.Sprintf("%d-%d", all[0], all[n-1])
	}
	words := make([]string, len(all))
	for i, t := range all {
		words[i] = strconv.Itoa(t)
	}
	return strings.Join(words, ",")
}

// capital writes a sentence with a capital first letter, whatever its script.
func capital(sentence string) string {
	first, size := utf8.DecodeRuneInString(sentence)
	if first == utf8.RuneError {
		return sentence
	}
	return string(unicode.ToUpper(first)) + sentence[size:]
}

// address returns an address with values.
func address(path string, pairs ...string) string {
	values := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		values.Set(pairs[i], pairs[i+1])
	}
	return path + "?" + values.Encode()
}
