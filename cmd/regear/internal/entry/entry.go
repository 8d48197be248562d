// Package entry is a run as a driver enters it, whether by flags, by answers to questions
// or in the fields of a form: what there is to enter, how each text is read, and what
// stands where nothing was entered.
//
// A run in the making is a [Draft]. What is wrong with one value shows at once; whether
// the values make a run is for package runlog to say, as it does of any log.
package entry

import (
	"errors"
	"io"
	"slices"
	"strings"
	"time"

	"regear/advise/carfile"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
)

// Field is one thing to enter: a flag, a column of the log, and a question at once.
type Field struct {
	Name   string // of the flag, and of a form's field
	Column string // that a log holds it in
	Usage  string
	// Needed is true where no run can do without the field. Of the peaks one will do.
	Needed bool
	// FromLast is true where a field rarely changes: blank, it is as in the last run.
	FromLast bool

	kind
}

type kind struct {
	Kind  string // as a help names it: TEMP, LENGTH
	Units ask.Units
	set   func(to *run.Run, text string, setup *carfile.Car) error
}

func in[T any](name string, k ask.Kind[T], at func(*run.Run) *T) kind {
	return kind{name, k.Units, func(to *run.Run, text string, _ *carfile.Car) error {
		value, err := k.Parse(text)
		if err == nil {
			*at(to) = value
		}
		return err
	}}
}

var moment = kind{Kind: "DATE",
	set: func(to *run.Run, text string, _ *carfile.Car) (err error) {
		to.When, to.HasTime, err = parseMoment(text)
		return err
	},
}

var tire = kind{Kind: ask.TireChoice.Name, Units: ask.TireChoice.Units,
	set: func(to *run.Run, text string, setup *carfile.Car) error {
		choice, err := ask.TireChoice.Parse(text)
		if err == nil && setup != nil {
			to.Tire, err = choice.Of(setup)
		}
		return err
	},
}

func reading(part run.Part, of func(*run.Run) *run.Readings) kind {
	return kind{Kind: "TEMP", Units: ask.Air.Units, set: func(to *run.Run, text string, _ *carfile.Car) error {
		c, err := checked(units.ParseTemperature, runlog.CheckReading)(text)
		if err == nil {
			of(to).Set(part, c)
		}
		return err
	}}
}

func peaks(r *run.Run) *run.Readings  { return &r.Peak }
func starts(r *run.Run) *run.Readings { return &r.Start }

func label(at func(*run.Run) *string) kind { return in("TEXT", ask.Text, at) }

func mark(at func(*run.Run) *bool) kind {
	return in(markName, ask.Kind[bool]{Parse: parseYesNo}, at)
}

const markName = "bool"

var (
	air     = ask.Kind[units.Celsius]{Parse: checked(units.ParseTemperature, runlog.CheckAir), Units: ask.Air.Units}
	minutes = ask.Kind[units.Minutes]{Parse: checked(units.ParseMinutes, runlog.CheckMinutes)}
	ratio   = ask.Kind[float64]{Parse: units.ParseNumber}
)

// Car is which car was driven.
var Car = Field{"car", "car", "which car", true, true, in("NAME", ask.Text, func(r *run.Run) *string { return &r.Car })}

// InternalRatio says what the internal ratio is and where to find it.
const InternalRatio = "turns of the spur for one turn of both wheels: see the\ncar's manual, or count them; 1 if there is no gear behind the spur"

// Fields are in the order in which a driver thinks of them after a run.
var Fields = []Field{
	Car,
	{"date", dateColumn, "when the run ended, as in 2026-05-16T15:04 or 2026-05-16", false, false, moment},
	{"pinion", "pinion_teeth", "teeth of the pinion", true, true, in("N", ask.Gear, func(r *run.Run) *int { return &r.Gearing.Pinion })},
	{"spur", "spur_teeth", "teeth of the spur", true, true, in("N", ask.Gear, func(r *run.Run) *int { return &r.Gearing.Spur })},
	{"internal-ratio", "internal_ratio", "internal ratio, " + InternalRatio, true, true, in("N", ratio, func(r *run.Run) *float64 { return &r.Gearing.Internal })},
	{"tire", tireColumn, "tire diameter, as in 118mm or 4.65in, or its name in the car file", true, true, tire},
	{"minutes", "run_minutes", "how long the car was driven, as in 12.5 or 12:30", true, false, in("N", minutes, func(r *run.Run) *units.Minutes { return &r.Minutes })},
	{"ambient", "ambient_c", "air temperature, as in 24C or 75F", true, false, in("TEMP", air, func(r *run.Run) *units.Celsius { return &r.Ambient })},
	{"motor-peak", "motor_peak_c", "the motor's peak, as in 78C or 172F; leave out what was not measured", false, false, reading(run.Motor, peaks)},
	{"esc-peak", "esc_peak_c", "the ESC's peak", false, false, reading(run.ESC, peaks)},
	{"battery-peak", "battery_peak_c", "the battery's peak", false, false, reading(run.Battery, peaks)},
	{"motor-start", "motor_start_c", "the motor before the run, if it was still warm", false, false, reading(run.Motor, starts)},
	{"esc-start", "esc_start_c", "the ESC before the run, if it was still warm", false, false, reading(run.ESC, starts)},
	{"battery-start", "battery_start_c", "the battery before the run, if it was still warm", false, false, reading(run.Battery, starts)},
	{"cells", "cells", "battery cells in series", false, true, in("N", ask.Cells, func(r *run.Run) *int { return &r.Cells })},
	{"motor", "motor", "which motor", false, true, label(func(r *run.Run) *string { return &r.Motor })},
	{"surface", "surface", "what the car ran on", false, true, label(func(r *run.Run) *string { return &r.Surface })},
	{"cooling", "cooling", "fans and the like", false, true, label(func(r *run.Run) *string { return &r.Cooling })},
	{"note", "note", "anything worth knowing", false, false, label(func(r *run.Run) *string { return &r.Note })},
	{"stopped-by-heat", "stopped_by_heat", "heat cut the run short", false, false, mark(func(r *run.Run) *bool { return &r.StoppedByHeat })},
	{"skip", "skip", "keep the run in the book, and out of fits", false, false, mark(func(r *run.Run) *bool { return &r.Skip })},
}

// ByColumn returns the field of a column in any unit, and whether there is one.
func ByColumn(column string) (Field, bool) {
	return fieldWhere(func(f Field) bool { return slices.Contains(f.column().Names, column) })
}

// ByName returns the field of a name, and whether there is one.
func ByName(name string) (Field, bool) {
	return fieldWhere(func(f Field) bool { return f.Name == name })
}

func fieldWhere(is func(Field) bool) (Field, bool) {
	at := slices.IndexFunc(Fields, is)
	if at < 0 {
		return Field{}, false
	}
	return Fields[at], true
}

const (
	dateColumn = "date"
	tireColumn = "tire_diameter_mm"
)

var columns = func() map[string]runlog.Column {
	all := map[string]runlog.Column{}
	for _, c := range runlog.Columns() {
		all[c.Name()] = c
	}
	return all
}()

func (f Field) column() *runlog.Column {
	c := columns[f.Column]
	return &c
}

// IsMark reports whether f is yes or no. Named without a value, it says yes.
func (f Field) IsMark() bool { return f.Kind == markName }

// IsPeak reports whether f is what a part read after the run. A run needs one at least.
func (f Field) IsPeak() bool { return strings.HasSuffix(f.Name, "-peak") }

// Check says what is wrong with a text, whatever the car.
func (f Field) Check(text string) error { return new(Draft).Enter(f, text, nil) }

// Problems returns what to ask about a text that a driver enters of a car and that f takes.
// What shows in the run itself is for [Draft.Read] to warn of.
func (f Field) Problems(text string, setup *carfile.Car) []run.Problem {
	if f.Column != tireColumn {
		return nil
	}
	choice, _ := ask.TireChoice.Parse(text)
	problems := choice.Problems("", setup)
	for i := range problems {
		problems[i].Column = f.Column
	}
	return problems
}

// Draft is a run in the making. The zero Draft holds nothing.
type Draft struct {
	run   run.Run
	held  map[string]bool   // by column: whether run's value is one
	typed map[string]string // by column: what was entered, with its unit
}

// Has reports whether d holds something in a field.
func (d *Draft) Has(f Field) bool { return d.held[f.Column] }

// Text returns what d holds in a field as a log has it, in °C and mm; "" for nothing.
func (d *Draft) Text(f Field) string {
	if !d.Has(f) {
		return ""
	}
	return f.column().Of(&d.run)
}

// Typed returns what was entered in a field, with its unit; "" for what was taken from elsewhere.
func (d *Draft) Typed(f Field) string { return d.typed[f.Column] }

// Enter takes what a driver enters in a field, and fails without taking it if it makes no
// sense. A blank text takes away what d holds there. setup is what the car file says of the
// car, which knows tires by their names; without it a name is taken for a tire.
func (d *Draft) Enter(f Field, text string, setup *carfile.Car) error {
	text = strings.TrimSpace(text)
	switch {
	case text == "" && f.Needed:
		return errors.New("is needed")
	case text == "":
		d.hold(f, false, "")
		return nil
	}
	err := f.set(&d.run, text, setup)
	if err == nil {
		d.hold(f, true, text)
	}
	return err
}

// Take takes what a draft of usual values holds in a field.
func (d *Draft) Take(f Field, usual *Draft) {
	if d.hold(f, usual.Has(f), ""); usual.Has(f) {
		f.column().Copy(&d.run, &usual.run)
	}
}

func (d *Draft) hold(f Field, held bool, typed string) {
	if d.held == nil {
		d.held, d.typed = map[string]bool{}, map[string]string{}
	}
	d.held[f.Column], d.typed[f.Column] = held, typed
}

// Of returns a draft that holds all of a run.
func Of(r *run.Run) *Draft {
	d := &Draft{run: *r}
	for _, f := range Fields {
		d.hold(f, f.column().Of(r) != "", "")
	}
	return d
}

// Usual returns what stands in the fields of a car that rarely change, where nothing
// is entered: as in its last run among known or, if there is none, as in the car file.
func Usual(known []run.Run, car string, setup *carfile.Car) *Draft {
	var last *run.Run
	for i := range known {
		if r := &known[i]; run.Fold(r.Car) == run.Fold(car) && (last == nil || !r.When.Before(last.When)) {
			last = r
		}
	}
	if last == nil {
		return fromCarFile(setup)
	}
	usual := &Draft{run: *last}
	for _, f := range Fields {
		usual.hold(f, f.FromLast && f.column().Of(last) != "", "")
	}
	return usual
}

func fromCarFile(setup *carfile.Car) *Draft {
	d := &Draft{run: run.Run{Cells: setup.Cells}}
	gearing := &d.run.Gearing
	gearing.Internal = setup.Internal
	if len(setup.Boxes) > 0 && len(setup.Boxes[0].Spurs) == 1 {
		gearing.Spur = setup.Boxes[0].Spurs[0]
	}
	for column, held := range map[string]bool{"spur_teeth": gearing.Spur > 0, "internal_ratio": gearing.Internal > 0, "cells": d.run.Cells > 0} {
		d.hold(Field{Column: column}, held, "")
	}
	return d
}

// SetEnd takes for the end of the run now, on the log's clock, to the second, or the first
// second after it at which no known run ended: two runs logged in one breath are two runs.
func (d *Draft) SetEnd(now time.Time, known []run.Run) {
	end := time.Date(now.Year(), now.Month(), now.Day(), now.Hour(), now.Minute(), now.Second(), 0, time.UTC)
	for slices.ContainsFunc(known, func(r run.Run) bool { return r.When.Equal(end) }) {
		end = end.Add(time.Second)
	}
	d.run.When, d.run.HasTime = end, true
	d.hold(Field{Column: dateColumn}, true, "")
}

// Missing returns the fields without which d makes no run. That a peak is needed is for
// [Draft.HasPeak] to say.
func (d *Draft) Missing() []Field {
	var missing []Field
	for _, f := range Fields {
		if f.Needed && !d.Has(f) {
			missing = append(missing, f)
		}
	}
	return missing
}

// HasPeak reports whether d holds some part's peak.
func (d *Draft) HasPeak() bool {
	return slices.ContainsFunc(Fields, func(f Field) bool { return f.IsPeak() && d.Has(f) })
}

// Read reads d as a log of one row, at a moment. What an import refuses it refuses, with a
// [run.Problem], and what an import warns of is among the log's warnings, but for what
// [Field.Problems] tells. Both speak of what was typed, in its unit and its digits.
func (d *Draft) Read(now time.Time) (*runlog.Log, error) {
	var header, row []string
	for _, f := range Fields {
		column, cell := d.cell(f)
		header, row = append(header, column), append(row, cell)
	}
	given := [][]string{header, row}
	next := func() ([]string, error) {
		if len(given) == 0 {
			return nil, io.EOF
		}
		cells := given[0]
		given = given[1:]
		return cells, nil
	}
	log, err := runlog.ReadSheet("this run", runlog.Sheet{Next: next}, runlog.Options{KeepCells: true, RefuseImpossible: true, Now: now})
	if err != nil {
		return nil, err
	}
	if len(log.Problems) > 0 {
		p := log.Problems[0]
		p.Line = 0
		return nil, p
	}
	log.Warnings = slices.DeleteFunc(log.Warnings, func(p run.Problem) bool { return p.What == drivetrain.RimSize })
	return log, nil
}

// cell returns the column and the cell of a field: as it was typed where that is a number, with
// the decimal point of a log, and else as a log is written.
func (d *Draft) cell(f Field) (column, cell string) {
	c, typed := f.column(), d.Typed(f)
	isNumber := f.Units != (ask.Units{}) || slices.Contains([]string{"internal_ratio", "run_minutes"}, f.Column)
	if typed == "" || !isNumber {
		return c.Name(), d.Text(f)
	}
	number, system, hasUnit := units.Cut(typed)
	_, notPlain := units.ParseNumber(number)
	switch {
	case f.Units == ask.Units{}:
		return c.Name(), strings.ReplaceAll(typed, ",", ".")
	case !hasUnit: // a tire by its name, or in cm
		return c.Name(), d.Text(f)
	case notPlain != nil: // a fraction of an inch
		return c.Names[system], units.Trimmed(system.Length(d.run.Tire), 4)
	}
	return c.Names[system], strings.ReplaceAll(typed, ",", ".")
}

// checked refuses what parse takes and no run can have, with a [runlog.Impossible].
func checked[T any](parse func(string) (T, error), check func(T) error) func(string) (T, error) {
	return func(text string) (T, error) {
		value, err := parse(text)
		if err == nil {
			err = check(value)
		}
		return value, err
	}
}

func parseYesNo(text string) (bool, error) {
	yes, ok := runlog.ParseYesNo(text)
	if !ok {
		return false, errors.New("write yes or no")
	}
	return yes, nil
}

// parseMoment refuses what is not a day or a moment as ISO 8601 writes them.
func parseMoment(text string) (when time.Time, hasTime bool, err error) {
	if when, err = time.Parse(time.DateOnly, text); err == nil {
		return when, false, nil
	}
	for _, form := range []string{"2006-01-02T15:04", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02T15:04Z07:00"} {
		if when, err = time.Parse(form, text); err == nil {
			return when, true, nil
		}
	}
	return time.Time{}, false, errors.New("write it as 2026-05-16T15:04, or 2026-05-16")
}
