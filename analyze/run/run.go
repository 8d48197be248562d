// Package run holds what the program is about: one run of one car, the parts that
// heat is read from, and the place and the problems of a run in its log.
//
// It reads and writes nothing. Package runlog reads runs from files.
package run

import (
	"strings"
	"time"
	"unicode"

	"regear/analyze/drivetrain"
	"regear/analyze/units"
)

// Run is one run of one car.
//
// A run from a log has a valid gearing, a tire above 0 mm, minutes above 0 and at least
// one peak; all its numbers are finite.
type Run struct {
	Position
	Number int // in the log book, which gives each run one of its own for good; 0 where it has none

	When    time.Time // when the run ended, by the log's own clock; in UTC where the log names no zone
	HasTime bool      // false where the log gives a date alone

	Car     string // "" where the log names no car
	Gearing drivetrain.Gearing
	Tire    units.Millimeters // outer diameter

	Ambient units.Celsius
	Minutes units.Minutes
	Peak    Readings
	Start   Readings // a part without a reading started at the air's temperature

	StoppedByHeat bool // a full run would have read more
	Cells         int  // in series; 0 where not logged
	Skip          bool // kept in the log, left out of the fits

	// Setup labels, "" where not logged.
	Motor, Surface, Cooling string
	Note                    string
}

// Rollout returns the run's distance per motor turn.
func (r Run) Rollout() units.Millimeters { return r.Gearing.Rollout(r.Tire) }

// Date returns when the run ended as the column date holds it: a day, or a day with a time,
// which names its zone where the log does.
func (r Run) Date() string {
	form := "2006-01-02"
	if r.HasTime {
		form += "T15:04"
		if r.When.Second() != 0 || r.When.Nanosecond() != 0 {
			form += ":05.999999999"
		}
		if r.When.Location() != time.UTC {
			form += "Z07:00"
		}
	}
	return r.When.Format(form)
}

// Day returns the calendar day on which the run ended.
func (r Run) Day() Day { return DayOf(r.When) }

// Day is a calendar day as the number yyyymmdd, so that days compare and sort.
type Day int32

// DayOf returns the calendar day of a moment, by its own clock.
func DayOf(t time.Time) Day {
	y, m, d := t.Date()
	return Day(y*10000 + int(m)*100 + d)
}

// Fold returns a label as it is compared: letter case and blanks make no other car,
// motor, surface or cooling.
func Fold(label string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return unicode.ToLower(r)
	}, label)
}
