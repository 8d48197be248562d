package web

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/cmd/regear/internal/report"
)

// snapshot is the log book and the car file as one request finds them.
type snapshot struct {
	logbook.Snapshot
	names []string // of the cars
	byCar map[string][]run.Run
	cars  *carfile.File
	// carsErr is why the car file can't be read. A run can be logged without it; an answer
	// without the driver's own limits would be another.
	carsErr error
}

func (r *request) snapshot() (*snapshot, error) {
	book, err := r.site.Book.Snapshot()
	if err != nil {
		return nil, err
	}
	s := &snapshot{Snapshot: book}
	if s.cars, s.carsErr = r.site.Cars(); s.carsErr != nil {
		s.cars = &carfile.File{}
	}
	s.hidePath()
	s.names, s.byCar = analyze.Cars(book.Log.Runs)
	return s, nil
}

// hidePath puts the places of all that was read into shownBook.
func (s *snapshot) hidePath() {
	for i := range s.Log.Runs {
		s.Log.Runs[i].File = shownBook
	}
	for _, problems := range [][]run.Problem{s.Log.Problems, s.Log.Warnings} {
		for i := range problems {
			problems[i].File = shownBook
			// The book's own headers are never mapped.
			problems[i].Do, _, _ = strings.Cut(problems[i].Do, " or use --column")
		}
	}
}

// noticed returns what was noticed while the book was read.
func (s *snapshot) noticed() report.Noticed {
	return report.Noticed{LeftOut: s.Log.Problems, Doubtful: s.Log.Warnings}
}

// carOf returns the car that an address asks about, or the only one.
func (s *snapshot) carOf(query url.Values) (string, error) {
	asked := query.Get("car")
	name, known := analyze.CarNamed(asked, s.names)
	switch {
	case query.Has("car") && !known:
		return "", &problem{http.StatusNotFound, "There is no such car",
			errors.New("the log book holds no run of a car called “" + asked + "”"), &link{"/", "To the cars"}}
	case query.Has("car"):
		return name, nil
	case len(s.names) == 1:
		return s.names[0], nil
	case len(s.names) == 0:
		return "", &problem{http.StatusNotFound, "The log book is empty",
			errors.New("log a run or import a log first"), &link{"/log", "Log a run"}}
	}
	return "", &problem{http.StatusBadRequest, "Which car?",
		errors.New("the log book holds several cars: choose one"), &link{"/", "To the cars"}}
}

// setup returns what the car file says of a car, and what there is to say about that.
func (s *snapshot) setup(name string) (setup *carfile.Car, note string, err error) {
	if s.carsErr != nil {
		return nil, "", &problem{http.StatusInternalServerError, "The car file can't be read",
			fmt.Errorf("%w\nMend it on the computer. Runs can be logged and imported meanwhile", s.carsErr), &link{forCar("/log", name), "Log a run"}}
	}
	setup, note = s.cars.Of(name)
	return setup, note, nil
}

// car returns the book and the car that a page is about.
func (r *request) car() (*snapshot, string, error) {
	s, err := r.snapshot()
	if err != nil {
		return nil, "", err
	}
	name, err := s.carOf(r.URL.Query())
	return s, name, err
}

// carOrAll returns the book and the car that is asked for, "" where all are.
func (r *request) carOrAll() (*snapshot, string, error) {
	if r.URL.Query().Get("car") != "" {
		return r.car()
	}
	s, err := r.snapshot()
	return s, "", err
}

// fitted returns the book and the car that a page is about, with its fits.
func (r *request) fitted() (*snapshot, string, *analyze.Car, error) {
	s, name, err := r.car()
	if err != nil {
		return nil, "", nil, err
	}
	car, err := analyze.FitCar(s.byCar[name])
	if err != nil {
		return nil, "", nil, noFit(name, err)
	}
	return s, name, car, nil
}

// noFit words that a car has no run that a fit can use.
func noFit(name string, err error) error {
	if errors.Is(err, analyze.ErrNoRuns) {
		err = errors.New(report.NoUsableRun("no run of " + name))
	}
	return &problem{http.StatusUnprocessableEntity, "There is no answer yet", err, &link{forCar("/log", name), "Log a run"}}
}
