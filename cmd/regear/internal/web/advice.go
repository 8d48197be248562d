package web

import (
	"errors"
	"fmt"
	"html/template"
	"net/url"
	"slices"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/runlog"
	"regear/analyze/units"
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

func advice(r *request) (reply, error) {
	s, name, err := r.car()
	if err != nil {
		return nil, err
	}
	body := advicePage{Car: name, Saved: r.saved(s, name),
		Log: forCar("/log", name), Fit: forCar("/fit", name), Hindsight: forCar("/hindsight", name),
		Report: r.sameQuestion("/report", r.question()), AsItIs: forCar("/advice", name)}
	setup, note, err := s.setup(name)
	if err != nil {
		return nil, afterSaving(body.Saved, err)
	}
	car, err := analyze.FitCar(s.byCar[name])
	if err != nil {
		return nil, afterSaving(body.Saved, noFit(name, err))
	}
	answer, err := body.ask(r, car, s.byCar[name], setup)
	switch {
	case err != nil && body.fields == nil: // whatever is asked
		return nil, noAnswer(err)
	case answer == nil:
		body.Headline = document.Document{document.Paragraph(whyNoAnswer(err))}.HTML()
	default:
		err = body.fill(answer, s, note, r.units)
		if err != nil {
			return nil, err
		}
	}
	return &page{status: formStatus(answer != nil), title: name + ": the next run", car: name,
		back: r.sameQuestion("/advice", r.question()), template: "advice.html", body: body}, nil
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

// whyNoAnswer says why what was asked has no answer, where err is nil because of a field.
func whyNoAnswer(err error) string {
	switch {
	case err == nil:
		return "Mend what is marked below; then the answer stands here."
	case errors.Is(err, advise.ErrNoLimit):
		err = fmt.Errorf("%w: give one below", err)
	}
	return "There is no answer: " + err.Error() + "."
}

// question returns what is asked, with the units in which it is.
func (r *request) question() url.Values {
	query := r.URL.Query()
	query.Set("units", r.askedUnits().String())
	return query
}

// askedUnits returns the units of the bare numbers in the address: another browser may have
// made it, or this one before other units were chosen.
func (r *request) askedUnits() units.System { return unitsNamed(r.URL.Query().Get("units"), r.units) }

// sameQuestion returns the address of another page that asks the same.
func (r *request) sameQuestion(path string, query url.Values) string {
	query.Del("saved")
	return path + "?" + query.Encode()
}

// saved says which run was just saved, if the address claims so and the book has it.
func (r *request) saved(s *snapshot, car string) string {
	date := r.URL.Query().Get("saved")
	if date == "" {
		return ""
	}
	for _, saved := range s.byCar[car] {
		if runlog.Written(saved)[0] == date {
			return report.Saved(&saved, len(s.Log.Runs), r.units)
		}
	}
	return ""
}

// fill makes the page's answer.
func (p *advicePage) fill(a *advise.Advice, s *snapshot, note string, u units.System) error {
	figures, err := report.AdviceFigures(a, u)
	if err != nil {
		return err
	}
	answer := report.Advice(a, u)
	// The pick and what to read early stand above what can be asked.
	first := slices.IndexFunc(answer, func(b document.Block) bool { _, section := b.(document.Section); return section })
	p.Headline = append(slices.Clone(answer[:first]), p.whatIf.notes()...).HTML()
	rest := append(answer[first:], document.Section{ID: "figures", Title: "The figures", Body: document.Document{figures}})
	rest = append(rest, report.WarningNotes(a.Warnings, u, report.OnPage)...)
	rest = append(rest, report.Noted(s.noticed())...)
	if note != "" {
		rest = append(rest, document.Paragraph("The car file: "+note+"."))
	}
	p.Answer = append(rest, report.CautionNotes(u)...).HTML()
	return nil
}
