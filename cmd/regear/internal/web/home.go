package web

import (
	"html/template"

	"regear/analyze"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// homePage is the advice for each car in one sentence.
type homePage struct {
	Cars            []homeCar
	Notes, Cautions template.HTML
}

type homeCar struct {
	Name, Headline, Why, Total string
	Log, Advice                string
}

func home(r *request) (reply, error) {
	s, err := r.snapshot()
	if err != nil {
		return nil, err
	}
	body := homePage{Notes: report.Noted(s.noticed()).HTML()}
	for _, name := range s.names {
		body.Cars = append(body.Cars, r.homeCar(s, name))
	}
	if len(body.Cars) > 0 {
		body.Cautions = report.CautionNotes(r.units).HTML()
	}
	return &page{title: "Your cars", template: "home.html", body: body}, nil
}

// homeCar says what a car should run next, or why that can't be said.
func (r *request) homeCar(s *snapshot, name string) homeCar {
	c := homeCar{Name: name, Total: report.Total(name, s.byCar[name]), Log: forCar("/log", name), Advice: forCar("/advice", name)}
	car, err := analyze.FitCar(s.byCar[name])
	if err != nil {
		c.Why = noFit(name, err).Error()
		return c
	}
	setup, _, err := s.setup(name)
	if err != nil {
		c.Why = "The car file can't be read, so there is no answer: mend it on the computer."
		return c
	}
	answer, err := new(ask.NextRun).Answer(car, setup)
	if err != nil {
		c.Why = err.Error()
		return c
	}
	c.Headline = report.Headline(answer, r.units)
	return c
}
