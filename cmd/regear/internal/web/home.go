package web

import (
	"errors"
	"html/template"

	"regear/advise"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// homePage is the advice for each car in one sentence.
type homePage struct {
	Cars            []homeCar
	Notes, Cautions template.HTML
}

type homeCar struct{ Name, Headline, Why, Total string }

func home(r *request) (reply, error) {
	logs, err := r.logs()
	if err != nil {
		return nil, err
	}
	body := homePage{Notes: report.Noted(logs.Notes).HTML()}
	for _, name := range logs.Names {
		body.Cars = append(body.Cars, r.homeCar(&app.Car{Name: name, Runs: logs.ByCar[name]}))
	}
	if len(body.Cars) > 0 {
		body.Cautions = report.CautionNotes(r.units).HTML()
	}
	return &page{title: "Your cars", template: "home.html", body: body}, nil
}

// homeCar says what a car should run next, or why that can't be said.
func (r *request) homeCar(car *app.Car) homeCar {
	shown := homeCar{Name: car.Name, Total: report.Total(car.Name, car.Runs)}
	fitted, err := r.site.Fit(car)
	var advice *advise.Advice
	if err == nil {
		advice, _, err = fitted.Answer(new(ask.NextRun))
	}
	switch {
	case err == nil:
		shown.Headline = report.Headline(advice, r.units)
	case errors.As(err, new(*app.CarFileError)):
		shown.Why = "The car file can't be read, so there is no answer: mend it on the computer."
	default:
		shown.Why = ofCar(car.Name, report.NoAnswer(err)).Error()
	}
	return shown
}
