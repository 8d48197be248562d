// Package entry is a run as a driver enters it, whether by flags, by answers to questions
// or in the fields of a form: what there is to enter, how each text is read, and what
// stands where nothing was entered.
//
// A run in the making is held as [Cells]. What is wrong with one value shows at once;
// whether the values make a run is for package runlog to say, as it does of any log.
package entry

import (
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
)

// Field is one thing to enter: a flag, a column of the log, and a question at once.
type Field struct {
	Name   string // of the flag, and of a form's field
	Column string // that the cell stands in
	Usage  string
	// Needed is true where no run can do without the field. Of the peaks one will do.
	Needed bool
	// FromLast is true where a field rarely changes: blank, it is as in the last run.
	FromLast bool

	kind kind
}

// Cells are the cells of a run in the making, as they would stand in a log, by their
// column. A cell that was left blank on purpose is "", one that was not entered is absent.
type Cells map[string]string

// kind is a kind of field: how its text becomes a cell.
type kind struct {
	name  string
	units [2]string
	cell  func(text string) (string, error)
}

// in returns the kind of the fields that hold values of kind k, called name in a help.
func in[T any](name string, k ask.Kind[T], written func(T) string) kind {
	return kind{name, k.Units, func(text string) (string, error) {
		value, err := k.Parse(text)
		return written(value), err
	}}
}

var (
	moment  = in("DATE", ask.Kind[string]{Parse: parseMoment}, asItIs)
	gear    = in("N", ask.Gear, strconv.Itoa)
	ratio   = in("N", ask.Kind[float64]{Parse: units.ParseNumber}, decimal)
	tire    = in(ask.TireChoice.Name, ask.TireChoice, func(ask.Tire) string { return "" }) // takes the car: see Cell
	minutes = in("N", ask.RunMinutes, decimal)
	reading = in("TEMP", ask.Kind[units.Celsius]{Parse: parseReading, Units: ask.Air.Units}, decimal)
	cells   = in("N", ask.Cells, strconv.Itoa)
	name    = in("NAME", ask.Text, asItIs)
	text    = in("TEXT", ask.Text, asItIs)
	mark    = in("bool", ask.Text, asItIs)
)

// Fields are in the order in which a driver thinks of them after a run.
var Fields = []Field{
	{"car", "car", "which car", true, true, name},
	{"date", "date", "when the run ended, as in 2026-05-16T15:04 or 2026-05-16", false, false, moment},
	{"pinion", "pinion_teeth", "teeth of the pinion", true, true, gear},
	{"spur", "spur_teeth", "teeth of the spur", true, true, gear},
	{"internal-ratio", "internal_ratio", "reduction behind the spur, 1 if there is none", true, true, ratio},
	{"tire", tireColumn, "tire diameter, as in 118mm or 4.65in, or its name in the car file", true, true, tire},
	{"minutes", "run_minutes", "how long the car was driven, as in 12.5 or 12:30", true, false, minutes},
	{"ambient", "ambient_c", "air temperature, as in 24C or 75F", true, false, reading},
	{"motor-peak", "motor_peak_c", "the motor's peak, as in 78C or 172F; leave out what was not measured", false, false, reading},
	{"esc-peak", "esc_peak_c", "the ESC's peak", false, false, reading},
	{"battery-peak", "battery_peak_c", "the battery's peak", false, false, reading},
	{"motor-start", "motor_start_c", "the motor before the run, if it was still warm", false, false, reading},
	{"esc-start", "esc_start_c", "the ESC before the run, if it was still warm", false, false, reading},
	{"battery-start", "battery_start_c", "the battery before the run, if it was still warm", false, false, reading},
	{"cells", "cells", "battery cells in series", false, true, cells},
	{"motor", "motor", "which motor", false, true, text},
	{"surface", "surface", "what the car ran on", false, true, text},
	{"cooling", "cooling", "fans and the like", false, true, text},
	{"note", "note", "anything worth knowing", false, false, text},
	{"stopped-by-heat", "stopped_by_heat", "heat cut the run short", false, false, mark},
	{"skip", "skip", "keep the run in the book, and out of fits", false, false, mark},
}

// ByColumn returns the field of a column, and whether there is one.
func ByColumn(column string) (Field, bool) {
	at := slices.IndexFunc(Fields, func(f Field) bool { return f.Column == column })
	if at < 0 {
		return Field{}, false
	}
	return Fields[at], true
}

const (
	tireColumn = "tire_diameter_mm"
	momentForm = "2006-01-02T15:04:05"
)

// Kind returns how a help names what f holds: TEMP, LENGTH.
func (f Field) Kind() string { return f.kind.name }

// IsMark reports whether f says yes by being there at all.
func (f Field) IsMark() bool { return f.kind.name == mark.name }

// IsPeak reports whether f is what a part read after the run. A run needs one at least.
func (f Field) IsPeak() bool { return strings.HasSuffix(f.Name, "-peak") }

// Check says what is wrong with a text, whatever the car.
func (f Field) Check(text string) error {
	text = strings.TrimSpace(text)
	switch {
	case text == "" && f.Needed:
		return errors.New("is needed")
	case text == "":
		return nil
	}
	_, err := f.kind.cell(text)
	return err
}

// Cell turns what a driver enters of a car into what f's column holds: °C and mm, and for
// a tire's name the diameter that the car file has of it.
func (f Field) Cell(text string, own *carfile.Car) (string, error) {
	text = strings.TrimSpace(text)
	if err := f.Check(text); err != nil || text == "" {
		return "", err
	}
	if f.Column != tireColumn {
		return f.kind.cell(text)
	}
	choice, err := ask.TireChoice.Parse(text)
	if err != nil {
		return "", err
	}
	diameter, err := choice.Of(own)
	if err != nil {
		return "", err
	}
	return decimal(diameter), nil
}

// Doubt returns what to ask about a text that a driver enters of a car and that f takes,
// and whether there is anything to ask. What shows in its cell is for [Cells.Read] to doubt.
func (f Field) Doubt(text string, own *carfile.Car) (run.Problem, bool) {
	if f.Column != tireColumn {
		return run.Problem{}, false
	}
	choice, err := ask.TireChoice.Parse(text)
	doubt, any := choice.Doubt("", own)
	doubt.Column = f.Column
	return doubt, any && err == nil
}

// WithUnit returns a text with its unit in a system behind it where it is a bare number of
// a field that needs one: see [ask.Value.WithUnit].
func (f Field) WithUnit(text string, system units.System) string {
	return ask.WithUnit(text, f.kind.units, system)
}

// Defaults returns what stands in the fields of a car that rarely change, where nothing
// is entered: as in its last run among known or, if there is none, as in the car file.
// What neither says is absent.
func Defaults(known []run.Run, car string, own *carfile.Car) Cells {
	var last *run.Run
	for i := range known {
		if r := &known[i]; run.Fold(r.Car) == run.Fold(car) && (last == nil || !r.When.Before(last.When)) {
			last = r
		}
	}
	if last == nil {
		return fromCarFile(own)
	}
	return ofRun(last)
}

// ofRun returns the cells of a run that rarely change.
func ofRun(r *run.Run) Cells {
	c := Cells{}
	written := runlog.Written(*r)
	for i, column := range runlog.WrittenColumns() {
		if f, known := ByColumn(column); known && f.FromLast && written[i] != "" {
			c[column] = written[i]
		}
	}
	return c
}

// fromCarFile returns what a car file says that stands in a run.
func fromCarFile(own *carfile.Car) Cells {
	c := Cells{}
	if len(own.Boxes) > 0 && len(own.Boxes[0].Spurs) == 1 {
		c["spur_teeth"] = strconv.Itoa(own.Boxes[0].Spurs[0])
	}
	if own.Internal > 0 {
		c["internal_ratio"] = decimal(own.Internal)
	}
	if own.Cells > 0 {
		c["cells"] = strconv.Itoa(own.Cells)
	}
	return c
}

// CarOf returns the car of a run that was entered without one: the only one among the runs
// known or, where none is known, in the car file. "" is that there is no such car.
func CarOf(known []run.Run, file *carfile.File) string {
	names, _ := analyze.Cars(known)
	only := file.Only()
	switch {
	case len(names) == 1:
		return names[0]
	case len(names) == 0 && only != nil:
		return only.Name
	}
	return ""
}

// FreeMoment returns, as the column date holds it, now on the log's clock, to the second,
// or the first second after it at which no known run ended: two runs logged in one breath
// are two runs.
func FreeMoment(now time.Time, known []run.Run) string {
	moment := time.Date(now.Year(), now.Month(), now.Day(), now.Hour(), now.Minute(), now.Second(), 0, time.UTC)
	for slices.ContainsFunc(known, func(r run.Run) bool { return r.When.Equal(moment) }) {
		moment = moment.Add(time.Second)
	}
	return moment.Format(momentForm)
}

// Missing returns the fields without which the cells make no run. That a peak is needed
// is for [Cells.HasPeak] to say.
func (c Cells) Missing() []Field {
	var missing []Field
	for _, f := range Fields {
		if f.Needed && c[f.Column] == "" {
			missing = append(missing, f)
		}
	}
	return missing
}

// HasPeak reports whether some part's peak was entered.
func (c Cells) HasPeak() bool {
	return slices.ContainsFunc(Fields, func(f Field) bool { return f.IsPeak() && c[f.Column] != "" })
}

// Read reads cells as a log of one row. What an import refuses it refuses, with a
// [run.Problem], and what an import doubts is among the log's warnings.
func (c Cells) Read() (*runlog.Log, error) {
	header := runlog.WrittenColumns()
	row := make([]string, len(header))
	for i, column := range header {
		row[i] = c[column]
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
	log, err := runlog.ReadSheet("this run", runlog.Sheet{Next: next}, runlog.Options{KeepCells: true})
	if err != nil {
		return nil, err
	}
	if len(log.Problems) > 0 {
		p := log.Problems[0]
		p.Line = 0
		return nil, p
	}
	return log, nil
}

// parseReading refuses what nobody can have read.
func parseReading(text string) (units.Celsius, error) {
	c, err := units.ParseTemperature(text)
	if err == nil {
		err = runlog.CheckReading(c)
	}
	return c, err
}

// parseMoment refuses what is not a day or a moment as ISO 8601 writes them.
func parseMoment(text string) (string, error) {
	for _, form := range []string{time.DateOnly, "2006-01-02T15:04", "2006-01-02 15:04", momentForm, "2006-01-02T15:04Z07:00"} {
		if _, err := time.Parse(form, text); err == nil {
			return text, nil
		}
	}
	return "", errors.New("write it as 2026-05-16T15:04, or 2026-05-16")
}

func asItIs(text string) string { return text }

func decimal[T ~float64](x T) string { return strconv.FormatFloat(float64(x), 'f', -1, 64) }
