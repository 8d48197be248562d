package web

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"regear/advise"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

type whatIf struct {
	Units    string // that bare numbers in the fields are in
	MoreOpen bool
	Asked    bool // something differs from the last run

	fields      []field
	First, More []field // of them: those that are asked about most, and those that are folded
}

const firstFields = 4

// errMarked reports that what was asked makes no sense, and that the fields say why.
var errMarked = errors.New("something that was asked for makes no sense: correct it on the advice page")

// read reads the form. It fails with [errMarked], or where there is no answer whatever is
// asked, and then without fields.
//
// A field that stands as it was shown says nothing: what was not said is to be named
// in the answer as assumed. What was said in other units than are shown keeps its unit.
func (w *whatIf) read(r *request, car *app.Fitted) (*ask.NextRun, error) {
	usual, err := new(ask.NextRun).Request(car.Fit, car.Setup.Car)
	if err != nil {
		return nil, err
	}
	said, query := r.askedUnits(), r.URL.Query()
	w.Units = r.units.String()
	w.fields = whatIfFields(car, &usual, r.units)
	w.First, w.More = w.fields[:firstFields], w.fields[firstFields:]
	untouched := whatIfFields(car, &usual, said)
	next := new(ask.NextRun)
	for i := range w.fields {
		f := &w.fields[i]
		text := f.typed(query.Get(f.Name))
		if text == untouched[i].Value || text == "" {
			continue
		}
		w.Asked, w.MoreOpen = true, w.MoreOpen || i >= firstFields
		if f.Value = text; said != r.units {
			f.Value = withUnit(f.Name, text, said)
		}
		if wrong := say(next, f.Name, withUnit(f.Name, text, said)); wrong != nil {
			f.Error, err = wrong.Error(), errMarked
		}
	}
	return next, err
}

func (w *whatIf) mark(err error) error {
	var wrong *ask.ValueError
	if !errors.As(err, &wrong) {
		return err
	}
	for i := range w.fields {
		if f := &w.fields[i]; f.Name == wrong.Name {
			f.Error = wrong.Err.Error()
		}
	}
	return errMarked
}

// limitOf begins the name of the field with the limit of a part.
const limitOf = "limit-"

func say(next *ask.NextRun, name, text string) error {
	if part, isLimit := strings.CutPrefix(name, limitOf); isLimit {
		return next.Set("limit", part+"="+text)
	}
	if name != "confidence" {
		return next.Set(name, text)
	}
	if next.Set(name, fromPercent(text)) != nil {
		return errors.New("write a chance above 0 and below 100 %, as in 80")
	}
	return nil
}

func withUnit(name, text string, u units.System) string {
	if strings.HasPrefix(name, limitOf) {
		name = "limit"
	}
	value, _ := ask.Named(new(ask.NextRun).Values(), name)
	return value.Units.Behind(text, u)
}

// fromPercent returns a share of what stands in a field of percent; a share such as 0.8
// is taken for what it is.
func fromPercent(text string) string {
	percent, err := strconv.ParseFloat(text, 64)
	if err != nil || percent < 1 {
		return text
	}
	return strconv.FormatFloat(percent/100, 'f', -1, 64)
}

func whatIfFields(car *app.Fitted, usual *advise.Request, u units.System) []field {
	next := usual.Next
	degrees, length := u.TemperatureUnit(), u.LengthUnit()
	air := &slider{-10, 45, 1}
	tire := &slider{40, 250, 1}
	if u == units.US {
		air, tire = &slider{10, 115, 1}, &slider{1.5, 10, 0.05}
	}
	fields := []field{
		{Name: "ambient", Label: "Air", Unit: degrees, Value: u.ReadingNumber(next.Ambient), Keys: decimals, Slider: air},
		{Name: "minutes", Label: "Run", Unit: "min", Value: units.Trimmed(float64(next.Minutes), 1), Keys: decimals, Slider: &slider{1, 60, 1}},
		{Name: "tire", Label: "Tire", Unit: length, Value: u.TireNumber(next.Tire), Keys: decimals, Slider: tire},
		{Name: "confidence", Label: "Wanted chance", Unit: "%", Value: report.PercentNumber(usual.Confidence), Keys: decimals, Slider: &slider{50, 99, 1}},
	}
	for _, part := range run.Parts {
		if car.Fit.Fit(part) == nil {
			continue
		}
		f := field{Name: limitOf + part.String(), Label: capital(part.Word()) + " under", Unit: degrees, Keys: decimals, Value: "none"}
		if limit, isLimited := usual.Limits.Of(part); isLimited {
			f.Value = u.ReadingNumber(limit.Temperature)
		}
		fields = append(fields, f)
	}
	fields = append(fields,
		field{Name: "pinions", Label: "Pinions to choose from", Hint: "as in 11-16 or 11,13,15",
			Value: teethList(usual.Gearings, func(g drivetrain.Gearing) int { return g.Pinion })},
		field{Name: "spurs", Label: "Spurs to choose from",
			Value: teethList(usual.Gearings, func(g drivetrain.Gearing) int { return g.Spur })},
		field{Name: "max-step-up", Label: "Most teeth up", Value: strconv.Itoa(usual.MaxStepUp), Keys: digits, Hint: "above the tallest gearing already run; 0 is no bound"},
	)
	if next.Cells > 0 {
		fields = append(fields, field{Name: "cells", Label: "Cells", Value: strconv.Itoa(next.Cells), Keys: digits})
	}
	for _, f := range []field{{Name: "surface", Label: "Surface", Value: next.Surface, label: surface}, {Name: "cooling", Label: "Cooling", Value: next.Cooling, label: cooling}} {
		if f.listLabels(car.Runs); len(f.List) > 0 {
			fields = append(fields, f)
		}
	}
	for i := range fields {
		fields[i].ID = "if-" + fields[i].Name
	}
	return fields
}

// teethList writes the teeth of gears as they would be typed.
func teethList(of []drivetrain.Gearing, teeth func(drivetrain.Gearing) int) string {
	var all []int
	for _, g := range of {
		all = append(all, teeth(g))
	}
	slices.Sort(all)
	all = slices.Compact(all)
	if n := len(all); n > 2 && all[n-1]-all[0] == n-1 {
		return fmt.Sprintf("%d-%d", all[0], all[n-1])
	}
	words := make([]string, len(all))
	for i, t := range all {
		words[i] = strconv.Itoa(t)
	}
	return strings.Join(words, ",")
}
