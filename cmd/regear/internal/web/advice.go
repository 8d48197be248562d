package web

import (
	"errors"
	"fmt"
	"html/template"
	"net/url"
	"slices"

	"regear/advise"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/document"
	"regear/cmd/regear/internal/report"
)

type advicePage struct {
	Car      string
	Saved    string // which run was just saved
	Headline template.HTML
	Answer   template.HTML
	whatIf
	Report string // its address
}

func advice(r *request) (reply, error) {
	logs, car, err := r.car()
	if err != nil {
		return nil, err
	}
	body := advicePage{Car: car.Name, Saved: r.saved(logs, car), Report: r.sameQuestion("/report", r.question())}
	fitted, err := r.site.Fit(car)
	if err != nil {
		return nil, afterSaving(body.Saved, ofCar(car.Name, err))
	}
	next, err := body.read(r, fitted)
	var answer *advise.Advice
	var problems []run.Problem
	if err == nil {
		answer, problems, err = fitted.Answer(next)
		err = body.mark(err)
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
		back: r.sameQuestion("/advice", r.question()), template: "advice.html", body: body}, nil
}

func afterSaving(saved string, err error) error {
	var p *problem
	if saved == "" || !errors.As(err, &p) {
		return err
	}
	told := *p
	told.err = fmt.Errorf("%s\n%w", saved, p.err)
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
	query.Del("saved")
	return path + "?" + query.Encode()
}

// saved says which run was just saved, if the address claims so and the book has it.
func (r *request) saved(logs *app.Logs, car *app.Car) string {
	date := r.URL.Query().Get("saved")
	at := slices.IndexFunc(car.Runs, func(saved run.Run) bool { return saved.Date() == date })
	if date == "" || at < 0 {
		return ""
	}
	return report.Saved(&car.Runs[at], len(logs.Runs), r.units)
}

// fill makes the page's answer. The problems are of what was asked.
func (p *advicePage) fill(a *advise.Advice, car *app.Fitted, problems []run.Problem, u units.System) error {
	figures, err := report.AdviceFigures(a, u)
	if err != nil {
		return err
	}
	answer := report.Advice(a, u)
	// The pick and what to read early stand above what can be asked.
	first := slices.IndexFunc(answer, func(b document.Block) bool { _, section := b.(document.Section); return section })
	head, rest := slices.Clone(answer[:first]), answer[first:]
	for _, p := range problems {
		head = append(head, document.Paragraph(fmt.Sprintf("%s: %s %s.", capital(p.File), p.Value, whatAndDo(p))))
	}
	p.Headline = head.HTML()
	rest = append(rest, document.Section{ID: "figures", Title: "The figures", Body: document.Document{figures}})
	rest = append(rest, report.WarningNotes(a.Warnings, u, report.OnPage)...)
	rest = append(rest, report.Noted(car.Notes)...)
	if car.Setup.Note != "" {
		rest = append(rest, document.Paragraph("The car file: "+car.Setup.Note+"."))
	}
	p.Answer = append(rest, report.CautionNotes(u)...).HTML()
	return nil
}
