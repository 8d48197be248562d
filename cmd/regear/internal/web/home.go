package web

import (
	"html/template"

	"regear/analyze"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// homePage is the advice for each car in one sentence.
type homePage struct {
	Cars     []homeCar
	Notes    []template.HTML
	Cautions template.HTML
}

type homeCar struct {
	Name, Headline, Why, Total string
	Log, Advice                string
}

func home(v *visit) (reply, error) {
	g, err := v.garage()
	if err != nil {
		return nil, err
	}
	page := homePage{Cautions: report.CautionNotes(v.units).HTML()}
	for _, name := range g.names {
		page.Cars = append(page.Cars, v.homeCar(g, name))
	}
	if notes := report.Noted(g.noticed()); len(notes) > 0 {
		page.Notes = append(page.Notes, notes.HTML())
	}
	if len(page.Cars) == 0 {
		page.Cautions = ""
	}
	return &view{title: "Your cars", template: "home.html", body: page}, nil
}

// homeCar says what a car should run next, or why that can't be said.
func (v *visit) homeCar(g *garage, name string) homeCar {
	c := homeCar{Name: name, Total: report.Total(name, g.byCar[name]), Log: forCar("/log", name), Advice: forCar("/advice", name)}
	car, err := analyze.FitCar(g.byCar[name])
	if err != nil {
		c.Why = noFit(name, err).Error()
		return c
	}
	own, _, err := g.own(name)
	if err != nil {
		c.Why = "The car file can't be read, so there is no answer: mend it on the computer."
		return c
	}
	answer, err := new(ask.NextRun).Answer(car, own)
	if err != nil {
		c.Why = report.NoAnswer(err).Error()
		return c
	}
	c.Headline = report.Headline(answer, v.units)
	return c
}
