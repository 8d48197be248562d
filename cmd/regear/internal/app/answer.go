package app

import (
	"errors"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/cmd/regear/internal/ask"
)

// Fitted is a car with its fits, and with what the car file says of it.
type Fitted struct {
	*Car
	Fit   *analyze.Car
	Setup Setup
}

// Fit fits a car's runs. It fails with [analyze.ErrNoRuns] or a [*CarFileError].
func (a *App) Fit(car *Car) (*Fitted, error) {
	fit, err := analyze.FitCar(car.Runs)
	if err != nil {
		return nil, err
	}
	setup, err := a.Setup(car.Name)
	return &Fitted{car, fit, setup}, err
}

// Answer answers for a next run. The problems are of what was asked, each in the place of a
// value of ask.NextRun, and are returned with an error too: the run was answered for all the
// same, or the error is of something else. It fails as [ask.NextRun.Answer] does.
func (f *Fitted) Answer(next *ask.NextRun) (*advise.Advice, []run.Problem, error) {
	advice, err := next.Answer(f.Fit, f.Setup.Car)
	return advice, next.Problems(f.Setup.Car), err
}

// LookBack foresees each run of a car from the earlier ones alone, and judges the forecasts
// against limits. It fails with [analyze.ErrTooFewRuns] or a [*CarFileError].
func (a *App) LookBack(car *Car, limits *ask.Limits) (*analyze.Hindsight, Setup, error) {
	setup, err := a.Setup(car.Name)
	if err != nil {
		return nil, setup, err
	}
	hindsight, err := analyze.LookBack(car.Runs, advise.Temperatures(limits.Complete(setup.Car)))
	return hindsight, setup, err
}

// Report is all there is to say of one answer.
type Report struct {
	Advice    *advise.Advice
	Hindsight *analyze.Hindsight // nil where no run has an earlier one to be foreseen from
	Problems  []run.Problem      // of what was asked: see [Fitted.Answer]
}

// Report answers for a next run and looks back. It fails as [Fitted.Answer] does.
func (f *Fitted) Report(next *ask.NextRun) (*Report, error) {
	advice, problems, err := f.Answer(next)
	if err != nil {
		return &Report{Problems: problems}, err
	}
	hindsight, err := analyze.LookBack(f.Runs, advise.Temperatures(advice.Limits))
	if errors.Is(err, analyze.ErrTooFewRuns) {
		err = nil
	}
	return &Report{advice, hindsight, problems}, err
}
