package web

import (
	"errors"
	"fmt"
	"net/http"

	"regear/analyze"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/report"
)

// logs returns the log book as it is now.
func (r *request) logs() (*app.Logs, error) { return r.site.ReadBook() }

// car returns the book and the car that the address asks about, or the only one.
func (r *request) car() (*app.Logs, *app.Car, error) {
	logs, err := r.logs()
	if err != nil {
		return nil, nil, err
	}
	query := r.URL.Query()
	car, err := logs.Choose(query.Get("car"), query.Has("car"))
	toCars := &link{"/", "To the cars"}
	switch {
	case errors.Is(err, app.ErrNoUsableRun):
		err = &problem{http.StatusNotFound, "The log book is empty", errors.New("log a run or import a log first"), &link{"/log", "Log a run"}}
	case errors.Is(err, app.ErrNoSuchCar):
		err = &problem{http.StatusNotFound, "There is no such car", fmt.Errorf("the log book holds no run of a car called “%s”", query.Get("car")), toCars}
	case errors.Is(err, app.ErrWhichCar):
		err = &problem{http.StatusBadRequest, "Which car?", errors.New("the log book holds several cars: choose one"), toCars}
	}
	return logs, car, err
}

// carOrAll returns the book and the car that the address asks about, or the runs of all as
// those of a car without a name.
func (r *request) carOrAll() (*app.Logs, *app.Car, error) {
	if r.URL.Query().Get("car") != "" {
		return r.car()
	}
	logs, err := r.logs()
	if err != nil {
		return nil, nil, err
	}
	return logs, &app.Car{Runs: logs.Runs, Notes: logs.Notes}, nil
}

// fitted returns the car that the address asks about, with its fits.
func (r *request) fitted() (*app.Fitted, error) {
	_, car, err := r.car()
	if err != nil {
		return nil, err
	}
	fitted, err := r.site.Fit(car)
	return fitted, ofCar(car.Name, err)
}

// ofCar says what the reader can do about an error of a car.
func ofCar(name string, err error) error {
	logOne := &link{address("/log", "car", name), "Log a run"}
	var file *app.CarFileError
	switch {
	case errors.Is(err, analyze.ErrNoRuns):
		return &problem{http.StatusUnprocessableEntity, "There is no answer yet", errors.New(report.NoUsableRun("no run of " + name)), logOne}
	case errors.As(err, &file):
		return &problem{http.StatusInternalServerError, "The car file can't be read",
			fmt.Errorf("%w\nMend it on the computer. Runs can be logged and imported meanwhile", file), logOne}
	}
	return err
}

// noAnswer says that what was asked has no answer, and why.
func noAnswer(err error) error {
	return &problem{http.StatusUnprocessableEntity, "There is no answer", report.NoAnswer(err), nil}
}
