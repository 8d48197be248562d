// Package runlog reads run logs, one run a row, from CSV files of many dialects.
//
// It is the only package that knows columns, dialects and gocsv. It yields every
// usable run, in SI-near units, and every unusable row as a [Problem] with its
// place; it never guesses a unit and never turns a blank into a zero.
package runlog

import (
	"fmt"
	"strings"
	"time"
	"unicode"

	"regear/analyze/drivetrain"
	"regear/analyze/units"
)

// Part is a place where heat is read.
type Part uint8

// The parts a driver reads after a run.
const (
	Motor Part = iota
	ESC
	Battery
	numParts
)

// Parts lists every part, in the order in which answers name them.
var Parts = [numParts]Part{Motor, ESC, Battery}

var partNames = [numParts]string{"motor", "esc", "battery"}

// String returns the part's name in columns, flags and JSON.
func (p Part) String() string { return partNames[p] }

var partWords = [numParts]string{"motor", "ESC", "battery"}

// Word returns the part's name in a sentence.
func (p Part) Word() string { return partWords[p] }

// ParsePart returns the part called name, as String writes it.
func ParsePart(name string) (Part, bool) {
	for p, n := range partNames {
		if n == name {
			return Part(p), true
		}
	}
	return 0, false
}

// Readings holds one temperature a part. A part that was not measured is absent,
// never zero; the zero Readings holds none.
type Readings struct {
	values [numParts]units.Celsius
	taken  [numParts]bool
}

// Set records a reading.
func (r *Readings) Set(p Part, c units.Celsius) { r.values[p], r.taken[p] = c, true }

// Of returns the reading of p, and whether it was taken.
func (r Readings) Of(p Part) (units.Celsius, bool) { return r.values[p], r.taken[p] }

// Position is where a run stands in the files it came from.
type Position struct {
	File string
	Line int // physical line, counted from 1
}

// String writes the position as "file:line", the form that editors jump to.
func (p Position) String() string { return fmt.Sprintf("%s:%d", p.File, p.Line) }

// Run is one run of one car.
//
// Runs from [Read] have a valid gearing, a tire above 0 mm, minutes above 0, and at
// least one peak; all numbers are finite.
type Run struct {
	Position

	When time.Time // when the run ended, by the log's own clock; in UTC where the log named no zone

	Car     string // "" where the log names no car
	Gearing drivetrain.Gearing
	Tire    units.Millimeters // outer diameter

	Ambient units.Celsius
	Minutes units.Minutes
	Peak    Readings
	Start   Readings // absent: started at ambient

	Cells int // in series; 0 where not logged

	// The flags stand side by side so that a million runs stay small in memory.

	HasTime       bool // false where the log gave a date alone
	StoppedByHeat bool // the peaks are lower bounds of a full run
	Skip          bool // kept in the log, left out of fits

	// Setup labels, "" where not logged.
	Motor, Surface, Cooling string
	Note                    string
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

// Day returns the calendar day on which the run ended.
func (r Run) Day() Day { return DayOf(r.When) }

// Day is a calendar day as the number yyyymmdd, so that days compare and sort.
type Day int32

// DayOf returns the calendar day of a moment, by its own clock.
func DayOf(t time.Time) Day {
	y, m, d := t.Date()
	return Day(y*10000 + int(m)*100 + d)
}

// Rollout returns the run's distance per motor turn.
func (r Run) Rollout() units.Millimeters { return r.Gearing.Rollout(r.Tire) }
