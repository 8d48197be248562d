package web

import (
	"bytes"
	"errors"
	"html/template"

	"regear/advise"
	"regear/analyze"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/document"
	"regear/cmd/regear/internal/report"
)

// answerPage shows an answer without a form, and the way back to the advice.
func answerPage(title, car string, answer document.Document) *page {
	return &page{title: title, car: car, template: "answer.html", body: struct {
		Title  string
		Answer template.HTML
		Next   link
	}{title, answer.HTML(), link{forCar("/advice", car), "To the advice"}}}
}

// fit shows how a car's heat follows its gearing.
func fit(r *request) (reply, error) {
	_, name, car, err := r.fitted()
	if err != nil {
		return nil, err
	}
	answer := append(report.Fit(car, r.units), report.WarningNotes(car.Warnings(), r.units, report.OnPage)...)
	return answerPage(name+": how its heat follows the gearing", name, answer), nil
}

// hindsight shows how a car's forecasts would have fared.
func hindsight(r *request) (reply, error) {
	s, name, err := r.car()
	if err != nil {
		return nil, err
	}
	title := name + ": hindsight"
	setup, _, err := s.setup(name)
	if err != nil {
		return nil, err
	}
	replay, err := analyze.LookBack(s.byCar[name], advise.Temperatures(new(ask.Limits).Complete(setup)))
	if errors.Is(err, analyze.ErrTooFewRuns) {
		return answerPage(title, name, document.Document{document.Headline("Too few runs to look back yet."),
			document.Paragraph("Hindsight foresees each run from the earlier ones alone, so it takes two usable runs of a part at least. Log more runs.")}), nil
	}
	if err != nil {
		return nil, err
	}
	figures, err := report.HindsightFigures(replay, r.units)
	return answerPage(title, name, append(report.Hindsight(replay, r.units), figures)), err
}

// keepReport is the answer to the question of the advice page as a file to keep.
func keepReport(r *request) (reply, error) {
	s, name, car, err := r.fitted()
	if err != nil {
		return nil, err
	}
	setup, _, err := s.setup(name)
	if err != nil {
		return nil, err
	}
	var form whatIf
	answer, err := form.ask(r, car, s.byCar[name], setup)
	if answer == nil && err == nil {
		err = errors.New("something that was asked for makes no sense: mend it on the page of the advice")
	}
	if err != nil {
		return nil, noAnswer(err)
	}
	replay, err := analyze.LookBack(s.byCar[name], advise.Temperatures(answer.Limits))
	if err != nil && !errors.Is(err, analyze.ErrTooFewRuns) {
		return nil, err
	}
	record := report.Record{Answer: answer, Hindsight: replay, Runs: s.byCar[name], Noticed: withWarnings(s.noticed(), form.warnings),
		Units: r.units, Reader: report.OnPage, Version: r.site.Version, Made: r.site.Now()}
	var text bytes.Buffer
	err = record.HTML(&text)
	return download{"regear-report.html", "text/html; charset=utf-8", text.Bytes()}, err
}
