package app

import (
	"bytes"
	"errors"
	"reflect"
	"slices"

	"regear/advise/carfile"
	"regear/analyze/run"
	"regear/analyze/units"
)

// What keeps a car from being saved. Nothing was changed then.
var (
	// ErrCarChanged reports that the car file describes the car otherwise by now.
	ErrCarChanged = errors.New("the car file has changed meanwhile: try again")
	// ErrNotMeant reports that something looks like a slip, and is not said to be meant.
	ErrNotMeant = errors.New("something looks odd: check it")
)

// SaveCar writes to the car file what a car is like, or adds the car to a file that lacks it.
// seen is what the file said of it. A new file shows answers in a system of units. isMeant is
// asked about what looks like a slip and was not in the file before.
//
// It fails with [ErrCarChanged], [ErrNotMeant], a [*CarFileError] where the file can't be read,
// with every [run.Problem] where it could not be read afterwards, or as the file's writer does.
func (a *App) SaveCar(seen, to carfile.Draft, system units.System, isMeant func(odd []run.Problem) bool) error {
	const name = "car file" // where it lies is nothing that a page should say
	return a.ChangeCars(func(before []byte) ([]byte, error) {
		file, err := carfile.Read(name, bytes.NewReader(before))
		if err != nil {
			return nil, &CarFileError{err}
		}
		if !reflect.DeepEqual(file.Draft(to.Name), seen) {
			return nil, ErrCarChanged
		}
		after, err := edited(name, file, before, to, system)
		if err != nil {
			return nil, err
		}
		now, err := carfile.Read(name, bytes.NewReader(after))
		if err != nil {
			return nil, err
		}
		known := file.Check()
		odd := slices.DeleteFunc(now.Check(), func(p run.Problem) bool {
			isKnown := func(k run.Problem) bool { return k.Column == p.Column && k.Value == p.Value && k.What == p.What }
			return !p.Ask || slices.ContainsFunc(known, isKnown)
		})
		if len(odd) > 0 && !isMeant(odd) {
			return nil, ErrNotMeant
		}
		return after, nil
	})
}

func edited(name string, file *carfile.File, text []byte, to carfile.Draft, system units.System) ([]byte, error) {
	if file.Cars[to.Name] == nil {
		return carfile.Add(name, text, to, system)
	}
	return carfile.Edit(name, text, to)
}
