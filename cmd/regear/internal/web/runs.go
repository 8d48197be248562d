package web

import (
	"fmt"
	"html/template"

	"regear/analyze"
	"regear/analyze/run"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/document"
	"regear/cmd/regear/internal/report"
)

// mostListed is how many runs stand on one page, the latest ones: a book of many seasons
// would be more than a phone can show.
const mostListed = 200

type runsPage struct {
	Car            string
	Cars           []string
	Since, Pinions field
	Answer         template.HTML
	CSV            string
}

func runs(r *request) (reply, error) {
	logs, car, err := r.carOrAll()
	if err != nil {
		return nil, err
	}
	body := runsPage{Car: car.Name, Cars: logs.Names, CSV: r.sameQuestion("/runs.csv", r.URL.Query()),
		Since:   field{ID: "since", Name: "since", Label: "Since", Kind: "date"},
		Pinions: field{ID: "pinion", Name: "pinion", Label: "Pinion", Hint: "as in 16 or 14-16"}}
	var filter ask.RunFilter
	isFine := true
	for _, f := range []*field{&body.Since, &body.Pinions} {
		if f.Value = r.URL.Query().Get(f.Name); f.Value == "" {
			continue
		}
		value, _ := ask.Named(filter.Values(), f.Name)
		if err := value.Set(f.Value); err != nil {
			f.Error, isFine = err.Error(), false
		}
	}
	if isFine {
		cars := logs.Names
		if car.Name != "" {
			cars = []string{car.Name}
		}
		answer := r.listing(logs, cars, app.Listed(car.Runs, &filter))
		if lines := report.Noted(logs.Notes); len(lines) > 0 {
			answer = append(answer, document.Section{ID: "noticed", Title: "Noticed in the log book", Body: lines})
		}
		body.Answer = answer.HTML()
	}
	return &page{status: formStatus(isFine), title: "Runs", car: car.Name, template: "runs.html", body: body}, nil
}

func (r *request) listing(logs *app.Logs, cars []string, wanted []run.Run) document.Document {
	flags := map[run.Position][]string{}
	var notes document.Document
	for _, name := range cars {
		fitted, err := analyze.FitCar(logs.ByCar[name])
		if err != nil {
			notes = append(notes, document.Paragraph(ofCar(name, err).Error()))
			continue
		}
		for at, words := range report.RunFlags(fitted) {
			flags[at] = words
		}
	}
	var doc document.Document
	if more := len(wanted) - mostListed; more > 0 {
		doc = append(doc, document.Paragraph(fmt.Sprintf("The latest %d runs; %d earlier ones are in the CSV file.", mostListed, more)))
		wanted = wanted[more:]
	}
	return append(append(doc, report.FlaggedRuns(wanted, flags, r.units)...), notes...)
}
