package web

import (
	"errors"
	"fmt"
	"html/template"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/document"
	"regear/cmd/regear/internal/report"
)

type advicePage struct {
	Car      string
	Done     *done
	Headline template.HTML
	Picture  template.HTML
	Answer   template.HTML // what to choose from, and what to know first
	Folded   template.HTML // why, what is assumed, and more pictures
	whatIf
	Rest, Compare, Report string // their addresses
}

func advice(r *request) (reply, error) {
	logs, car, err := r.car()
	if err != nil {
		return nil, err
	}
	body := advicePage{Car: car.Name, Done: r.doneTo(logs), Rest: r.sameQuestion("/rest", r.question()),
		Compare: r.sameQuestion("/compare", r.question()), Report: r.sameQuestion("/report", r.question())}
	fitted, err := r.Fit(car)
	if err != nil {
		return nil, afterSaving(body.Done, ofCar(car.Name, err))
	}
	next, err := body.read(r, fitted)
	var answer *advise.Advice
	var problems []run.Problem
	if err == nil {
		answer, problems, err = fitted.Answer(next)
		err = mark(body.fields, "", err)
	}
	isFine := err == nil
	switch {
	case body.fields == nil: // there is no answer, whatever is asked
		return nil, noAnswer(err)
	case isFine:
		err = body.fill(answer, fitted, problems, r.units)
		if err != nil {
			return nil, err
		}
	default:
		body.Headline = document.Document{document.Paragraph(whyNoAnswer(err))}.HTML()
	}
	return &page{status: formStatus(isFine), title: car.Name + ": the next run", car: car.Name,
		back: r.sameQuestion("/advice", r.question()), template: "advice.html", keeps: true, body: body}, nil
}

func afterSaving(saved *done, err error) error {
	var p *problem
	if saved == nil || !errors.As(err, &p) {
		return err
	}
	told := *p
	told.err = fmt.Errorf("%s\n%w", saved.Text, p.err)
	return &told
}

func whyNoAnswer(err error) string {
	switch {
	case errors.Is(err, errMarked):
		return "Mend what is marked below; then the answer stands here."
	case errors.Is(err, advise.ErrNoLimit):
		err = fmt.Errorf("%w: give one below", err)
	}
	return "There is no answer: " + report.NoAnswer(err).Error() + "."
}

func (r *request) question() url.Values {
	query := r.URL.Query()
	query.Set("units", r.askedUnits().String())
	return query
}

// askedUnits returns the units of the bare numbers in the address: another browser may have
// made it, or this one before other units were chosen.
func (r *request) askedUnits() units.System { return unitsNamed(r.URL.Query().Get("units"), r.units) }

func (r *request) sameQuestion(path string, query url.Values) string {
	for told := range doneVerbs {
		query.Del(told)
	}
	return path + "?" + query.Encode()
}

// fill makes the page's answer. The problems are of what was asked.
func (p *advicePage) fill(a *advise.Advice, car *app.Fitted, problems []run.Problem, u units.System) error {
	figures, err := report.AdviceFigures(a, u)
	if err != nil {
		return err
	}
	// The pick and what to read early stand above what can be asked.
	answer := report.Advice(a, u)
	first := slices.IndexFunc(answer, func(b document.Block) bool { _, section := b.(document.Section); return section })
	head := slices.Clone(answer[:first])
	head = slices.Insert(head, 1, document.Block(document.Paragraph(report.Conditions(a, u))))
	head = append(head, doubts(problems, p.fields)...)
	var known, rest document.Document
	for _, b := range answer[first:] {
		if section := b.(document.Section); section.ID == "why" || section.ID == "assumed" {
			rest = append(rest, section)
		} else {
			known = append(known, section)
		}
	}
	rest = append(rest, document.Section{ID: "figures", Title: "Chance, and minutes", Body: document.Document{figures[1:]}})
	p.Headline, p.Picture, p.Folded = head.HTML(), document.Document{figures[:1]}.HTML(), rest.HTML()
	p.Answer = append(known, beside(a.Warnings, car.Name, car.Notes, car.Setup, u)...).HTML()
	return nil
}

// doubts tells what is doubtful in what was asked.
func doubts(problems []run.Problem, fields []field) document.Document {
	var doc document.Document
	for _, p := range problems {
		label := p.File
		if at := slices.IndexFunc(fields, func(f field) bool { return f.Name == p.File }); at >= 0 {
			label = fields[at].Label
		}
		doc = append(doc, document.Paragraph(fmt.Sprintf("%s: %s %s.", capital(label), p.Value, whatAndDo(p))))
	}
	return doc
}

// beside is what stands below every answer about a car.
func beside(warnings []analyze.Warning, car string, n app.Notes, setup app.Setup, u units.System) document.Document {
	return slices.Concat(report.WarningNotes(warnings, u, report.OnPage, settles(car)), report.Noted(n), ofSetup(setup), report.CautionNotes(u))
}

// ofSetup says why the car file says nothing of a car, if it has others.
func ofSetup(setup app.Setup) document.Document {
	if setup.Note == "" {
		return nil
	}
	return document.Document{document.Paragraph("The car file: " + setup.Note + ".")}
}

// settles returns where warnings about the answers for a car can be settled for good.
func settles(car string) report.Links {
	return report.Links{analyze.LimitAssumed{}.Code(): {Path: address(carPath, "car", car), Words: "Give the limits of " + car}}
}

type whatIf struct {
	Units    string // that bare numbers in the fields are in
	MoreOpen bool
	Asked    string // what differs from the last run, as in "air 38 °C"

	fields      []field
	First, More []field // of them: those that are asked about most, and those that are folded
}

const firstFields = 4

// errMarked reports that what was asked makes no sense, and that the fields say why.
var errMarked = errors.New("something that was asked for makes no sense: correct it on the advice page")

// read reads the form. It fails with [errMarked], or where there is no answer whatever is
// asked, and then without fields.
func (w *whatIf) read(r *request, car *app.Fitted) (*ask.NextRun, error) {
	usual, err := new(ask.NextRun).Request(car.Fit, car.Setup.Car)
	if err != nil {
		return nil, err
	}
	next := new(ask.NextRun)
	w.Units = r.units.String()
	w.fields, err = r.read(func(u units.System) []field { return whatIfFields(car, &usual, u) },
		func(f *field) ask.Value { return f.value(next) })
	w.First, w.More = w.fields[:firstFields], w.fields[firstFields:]
	w.MoreOpen = slices.ContainsFunc(w.More, asked)
	w.Asked = fieldsInWords(slices.DeleteFunc(slices.Clone(w.fields), func(f field) bool { return !f.Asked }), ", ")
	return next, err
}

// limitOf begins the name of the field with the limit of a part.
const limitOf = "limit-"

// value returns what the field says of a next run.
func (f *field) value(next *ask.NextRun) ask.Value {
	part, isLimit := strings.CutPrefix(f.Name, limitOf)
	name := f.Name
	if isLimit {
		name = "limit"
	}
	value, _ := ask.Named(next.Values(), name)
	take := value.Take
	switch {
	case isLimit:
		value.Take = func(text string) error { return take(part + "=" + text) }
	case name == "confidence":
		value.Take = func(text string) error {
			if take(fromPercent(text)) != nil {
				return errors.New("write a chance above 0 and below 100 %, as in 80")
			}
			return nil
		}
	}
	return value
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

func whatIfFields(car *app.Fitted, usual *advise.Request, u units.System) []field {
	next := usual.Next
	degrees, length := u.TemperatureUnit(), u.LengthUnit()
	air := &slider{-10, 45, 1}
	if u == units.US {
		air = &slider{10, 115, 1}
	}
	// A tire within a fifth of the one that is fitted.
	step := [...]float64{units.Metric: 1, units.US: 0.05}[u]
	inSteps := func(m units.Millimeters) float64 { return math.Round(u.Length(m)/step) * step }
	tire := &slider{inSteps(next.Tire * 0.8), inSteps(next.Tire * 1.2), step}
	fields := []field{
		{Name: "ambient", Label: "Air", Unit: degrees, Value: u.ReadingNumber(next.Ambient), Keys: decimals, Slider: air},
		{Name: "minutes", Label: "Run", Unit: "min", Value: units.Trimmed(float64(next.Minutes), 1), Keys: decimals, Slider: &slider{1, 60, 1}},
		{Name: "tire", Label: "Tire", Unit: length, Value: u.TireNumber(next.Tire), Keys: decimals, Slider: tire},
		{Name: "confidence", Label: "Wanted chance", Unit: "%", Value: report.PercentNumber(usual.Confidence), Keys: decimals, Slider: &slider{50, 99, 1}},
	}
	for _, part := range run.Parts {
		if car.Fit.Fit(part) == nil {
			continue
		}
		f := field{Name: limitOf + part.String(), Label: capital(part.Word()) + " under", Unit: degrees, Keys: decimals, Value: "none"}
		if limit, isLimited := usual.Limits.Of(part); isLimited {
			f.Value = u.ReadingNumber(limit.Temperature)
		}
		fields = append(fields, f)
	}
	fields = append(fields,
		field{Name: "pinions", Label: "Pinions to choose from", Hint: "as in 11-16 or 11,13,15",
			Value: teethList(teethOf(usual.Gearings, func(g drivetrain.Gearing) int { return g.Pinion }))},
		field{Name: "spurs", Label: "Spurs to choose from",
			Value: teethList(teethOf(usual.Gearings, func(g drivetrain.Gearing) int { return g.Spur }))},
		field{Name: "max-step-up", Label: "Most teeth up", Value: strconv.Itoa(usual.MaxStepUp), Keys: digits, Hint: "above the tallest gearing already run; 0 is no bound"},
	)
	if next.Cells > 0 {
		fields = append(fields, field{Name: "cells", Label: "Cells", Value: strconv.Itoa(next.Cells), Keys: digits})
	}
	for _, f := range []field{{Name: "surface", Label: "Surface", Value: next.Surface, label: surface}, {Name: "cooling", Label: "Cooling", Value: next.Cooling, label: cooling}} {
		if f.listLabels(car.Runs); len(f.List) > 0 {
			fields = append(fields, f)
		}
	}
	for i := range fields {
		fields[i].ID = "if-" + fields[i].Name
	}
	return fields
}

func teethOf(gearings []drivetrain.Gearing, teeth func(drivetrain.Gearing) int) []int {
	var all []int
	for _, g := range gearings {
		all = append(all, teeth(g))
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// teethList writes teeth as they would be typed.
func teethList(all []int) string {
	if n := len(all); n > 2 && all[n-1]-all[0] == n-1 {
		return fmt.Sprintf("%d-%d", all[0], all[n-1])
	}
	words := make([]string, len(all))
	for i, t := range all {
		words[i] = strconv.Itoa(t)
	}
	return strings.Join(words, ",")
}
