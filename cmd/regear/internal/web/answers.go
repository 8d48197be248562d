package web

import (
	"bytes"
	"errors"
	"fmt"
	"html/template"
	"slices"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/document"
	"regear/cmd/regear/internal/report"
)

// answerPage is an answer without a form.
type answerPage struct {
	Title  string
	Answer template.HTML
	Links  []link
}

func answerView(title, car string, answer document.Document, links ...link) *view {
	return &view{title: title, car: car, template: "answer.html", body: answerPage{title, answer.HTML(), links}}
}

// fit shows how a car's heat follows its gearing.
func fit(v *visit) (reply, error) {
	_, name, car, err := v.fitted()
	if err != nil {
		return nil, err
	}
	answer := append(report.Fit(car, v.units), report.WarningNotes(car.Warnings(), v.units, report.OnPage)...)
	return answerView(name+": how its heat follows the gearing", name, answer, link{forCar("/advice", name), "To the advice"}), nil
}

// hindsight shows how a car's forecasts would have fared.
func hindsight(v *visit) (reply, error) {
	g, name, err := v.garageOf()
	if err != nil {
		return nil, err
	}
	title, back := name+": hindsight", link{forCar("/advice", name), "To the advice"}
	own, _, err := g.own(name)
	if err != nil {
		return nil, err
	}
	replay, err := analyze.LookBack(g.byCar[name], advise.Temperatures(new(ask.Limits).Complete(own)))
	if errors.Is(err, analyze.ErrTooFewRuns) {
		return answerView(title, name, document.Document{document.Headline("Too few runs to look back yet."),
			document.Paragraph("Hindsight foresees each run from the earlier ones alone, so it takes two usable runs of a part at least. Log more runs.")}, back), nil
	}
	if err != nil {
		return nil, err
	}
	figures, err := report.HindsightFigures(replay, v.units)
	if err != nil {
		return nil, err
	}
	return answerView(title, name, append(report.Hindsight(replay, v.units), figures), back), nil
}

// mostListed is how many runs stand on one page, the latest ones: a book of many seasons
// would be more than a phone can show.
const mostListed = 200

// runsPage lists runs, and what keeps runs out of the fits.
type runsPage struct {
	Title, Car     string
	Cars           []string
	Since, Pinions field
	Answer         template.HTML
	CSV            string
}

// runs lists the runs of one car, or of all.
func runs(v *visit) (reply, error) {
	g, name, err := v.garageOfAny()
	if err != nil {
		return nil, err
	}
	page := runsPage{Title: "Runs", Car: name, Cars: g.names,
		Since:   field{ID: "since", Name: "since", Label: "Since", Kind: "date"},
		Pinions: field{ID: "pinion", Name: "pinion", Label: "Pinion", Hint: "as in 16 or 14-16"}}
	wanted, fine := v.wantedRuns(g, name, &page.Since, &page.Pinions)
	page.CSV = v.again("/runs.csv", v.URL.Query())
	if fine {
		page.Answer = v.listing(g, name, wanted).HTML()
	}
	status := 0
	if !fine {
		status = 422
	}
	return &view{status: status, title: page.Title, car: name, template: "runs.html", body: page}, nil
}

// wantedRuns returns the runs that pass the filters, in the order of time, and whether
// the filters make sense.
func (v *visit) wantedRuns(g *garage, name string, filters ...*field) ([]run.Run, bool) {
	var filter ask.RunFilter
	fine := true
	for _, f := range filters {
		f.Value = v.URL.Query().Get(f.Name)
		if f.Value == "" {
			continue
		}
		value, _ := ask.Named(filter.Values(), f.Name)
		if err := value.Set(value.WithUnit(f.Value, v.units)); err != nil {
			f.Error, fine = err.Error(), false
		}
	}
	return sortedRuns(g, name, &filter), fine
}

// sortedRuns returns the runs of a car, or of all, that pass a filter, in the order of
// time.
func sortedRuns(g *garage, name string, filter *ask.RunFilter) []run.Run {
	all := g.Log.Runs
	if name != "" {
		all = g.byCar[name]
	}
	var wanted []run.Run
	for i := range all {
		if filter.Wants(&all[i]) {
			wanted = append(wanted, all[i])
		}
	}
	slices.SortStableFunc(wanted, func(a, b run.Run) int { return a.When.Compare(b.When) })
	return wanted
}

// listing is the table of runs, and what was noticed.
func (v *visit) listing(g *garage, name string, wanted []run.Run) document.Document {
	flags := map[run.Position][]string{}
	var notes document.Document
	for _, of := range g.names {
		if name != "" && of != name {
			continue
		}
		car, err := analyze.FitCar(g.byCar[of])
		if err != nil {
			notes = append(notes, document.Paragraph(noFit(of, err).Error()))
			continue
		}
		for at, words := range report.RunFlags(car) {
			flags[at] = words
		}
	}
	var doc document.Document
	if more := len(wanted) - mostListed; more > 0 {
		doc = append(doc, document.Paragraph(fmt.Sprintf("The latest %d runs; %d earlier ones are in the CSV file.", mostListed, more)))
		wanted = wanted[more:]
	}
	doc = append(append(doc, report.FlaggedRuns(wanted, flags, v.units)...), notes...)
	if noted := report.Noted(g.noticed()); len(noted) > 0 {
		doc = append(doc, document.Section{ID: "noticed", Title: "Noticed in the log book", Body: noted})
	}
	return doc
}

// fitted returns the book and the car that a page is about, with its fits.
func (v *visit) fitted() (*garage, string, *analyze.Car, error) {
	g, name, err := v.garageOf()
	if err != nil {
		return nil, "", nil, err
	}
	car, err := analyze.FitCar(g.byCar[name])
	if err != nil {
		return nil, "", nil, noFit(name, err)
	}
	return g, name, car, nil
}

// garageOfAny returns the book and the car that is asked for, "" where all are.
func (v *visit) garageOfAny() (*garage, string, error) {
	if v.URL.Query().Get("car") != "" {
		return v.garageOf()
	}
	g, err := v.garage()
	return g, "", err
}

// garageOf returns the book and the car that a page is about.
func (v *visit) garageOf() (*garage, string, error) {
	g, err := v.garage()
	if err != nil {
		return nil, "", err
	}
	name, err := v.car(g)
	return g, name, err
}

// keepReport is the answer to the same question as a file to keep.
func keepReport(v *visit) (reply, error) {
	g, name, car, err := v.fitted()
	if err != nil {
		return nil, err
	}
	own, _, err := g.own(name)
	if err != nil {
		return nil, err
	}
	var form whatIf
	answer, err := form.ask(v, car, g.byCar[name], own)
	if answer == nil && err == nil {
		err = errors.New("something that was asked for makes no sense: mend it on the page of the advice")
	}
	if err != nil {
		return nil, badQuestion(err)
	}
	replay, err := analyze.LookBack(g.byCar[name], advise.Temperatures(answer.Limits))
	if err != nil && !errors.Is(err, analyze.ErrTooFewRuns) {
		return nil, err
	}
	record := report.Record{Answer: answer, Hindsight: replay, Runs: g.byCar[name], Noticed: withDoubts(g.noticed(), form.doubts),
		Units: v.units, Reader: report.OnPage, Version: v.site.Version, Made: v.site.Now()}
	var text bytes.Buffer
	if err := record.HTML(&text); err != nil {
		return nil, err
	}
	return download{"regear-report.html", "text/html; charset=utf-8", text.Bytes()}, nil
}
