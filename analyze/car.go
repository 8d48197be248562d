package analyze

import (
	"errors"
	"maps"
	"slices"
	"sync"

	"regear/analyze/run"
)

// ErrNoRuns reports that no run of the car can be used by any fit.
var ErrNoRuns = errors.New("analyze: no usable run")

// Car is everything fitted for one car.
type Car struct {
	Name string
	// Last is the latest run that is not skipped: the gearing, tire and conditions
	// from which a driver goes on.
	Last *run.Run

	fits        run.ByPart[*Fit]
	correlation float64
	warnings    []Warning
}

// FitCar fits every part of one car. All runs must be of that car, and as a log gives them:
// see [run.Run]. Their order does not matter, except between runs of one moment, or of one day
// without a time, where the later in the log is the later run. It keeps pointers to the runs.
//
// It fails with ErrNoRuns if no run can be used.
func FitCar(runs []run.Run) (*Car, error) { return fitCar(runs, PriorOf) }

func fitCar(runs []run.Run, priorOf func(run.Part) Prior) (*Car, error) {
	last := lastRun(runs)
	if last == nil {
		return nil, ErrNoRuns
	}
	car := &Car{Name: last.Car, Last: last}
	var left []LeftOut
	otherMotor := 0
	same := make([]*run.Run, 0, len(runs))
	var others []*run.Run
	for i := range runs {
		r := &runs[i]
		if !r.Skip && alike(r.Motor, last.Motor) {
			same = append(same, r)
			continue
		}
		reason := Skipped
		if !r.Skip {
			reason = OtherMotor
			otherMotor++
		}
		left, others = append(left, LeftOut{r.Position, reason}), append(others, r)
	}
	all := newRows(same, others)

	var parts sync.WaitGroup
	var errs [len(run.Parts)]error
	for _, part := range run.Parts {
		parts.Go(func() {
			fit, err := fitPart(part, priorOf(part), all)
			if fit != nil {
				fit.LeftOut = slices.Concat(left, fit.LeftOut)
				car.fits.Set(part, fit)
			}
			errs[part] = err
		})
	}
	parts.Wait()
	if err := errors.Join(errs[:]...); err != nil {
		return nil, err
	}
	if car.fits.Len() == 0 {
		return nil, ErrNoRuns
	}
	car.correlation = residualCorrelation(same, car.Fits())
	car.warnings = car.diagnose(same, otherMotor)
	return car, nil
}

func lastRun(runs []run.Run) *run.Run {
	var last *run.Run
	for i := range runs {
		if r := &runs[i]; !r.Skip && (last == nil || !r.When.Before(last.When)) {
			last = r
		}
	}
	return last
}

// Fit returns the fit of a part, or nil if no usable run measured it.
func (c *Car) Fit(p run.Part) *Fit { return c.fits.At(p) }

// Fits returns the fits of all measured parts, one at least, in the order of run.Parts.
func (c *Car) Fits() []*Fit {
	var fits []*Fit
	for _, f := range c.fits.All() {
		fits = append(fits, f)
	}
	return fits
}

// alike reports whether two labels or names are one: letter case and blanks make no other.
func alike(a, b string) bool { return a == b || run.Fold(a) == run.Fold(b) }

// Cars splits runs by car and returns them by name, as each name was first written: letter
// case and blanks make no other car. The order within a car is kept; the runs of a log of
// one car are not copied.
func Cars(runs []run.Run) (names []string, byCar map[string][]run.Run) {
	first := map[string]string{}   // names by how they are compared
	written := map[string]string{} // the same by how they are written
	for i := range runs {
		car := runs[i].Car
		if _, known := written[car]; known {
			continue
		}
		folded := run.Fold(car)
		if _, known := first[folded]; !known {
			first[folded] = car
		}
		written[car] = first[folded]
	}
	names = slices.Sorted(maps.Values(first))
	if len(written) == 1 {
		return names, map[string][]run.Run{names[0]: runs}
	}
	byCar = make(map[string][]run.Run, len(names))
	for _, r := range runs {
		r.Car = written[r.Car]
		byCar[r.Car] = append(byCar[r.Car], r)
	}
	return names, byCar
}

// CarNamed returns the one of names that is meant, whatever its letter case and blanks.
func CarNamed(name string, names []string) (string, bool) {
	at := slices.IndexFunc(names, func(n string) bool { return alike(n, name) })
	if at < 0 {
		return "", false
	}
	return names[at], true
}

// Tested returns the span of rollouts that any fit has seen.
func (c *Car) Tested() Span {
	s := noSpan()
	for _, f := range c.fits.All() {
		s.include(f.Tested.Low)
		s.include(f.Tested.High)
	}
	return s
}
