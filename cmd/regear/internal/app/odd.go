package app

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"

	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/nearest"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/entry"
)

// What makes a run odd beside the car's earlier ones. The bounds are common practice, without a
// source, and wide: a usual next run, on another pinion, on a hotter day or in a shorter outing,
// lies within each.
const (
	// A tooth is 6 %, another tire seldom more than 25.
	farGearing = 0.4
	farAir     = units.Rise(12) // within a day
	nearlyAll  = 0.99           // of the peaks that a run may give
	farLength  = 4.
	farCells   = 2.
	// Clocks are rounded, and the next pack goes in while the last run is written down.
	littleOverlap = 5 * time.Minute
	// A wrong year is off by 365 days. Old runs that are written down later come together.
	longAgo, together = 300 * 24 * time.Hour, 30 * 24 * time.Hour
	// What the car did before is not odd.
	sameLength, sameMeasure, sameRollout = 1.25, 1.01, 1.2
	sameAir                              = units.Rise(5)
)

// oddRun finds what is odd in a run beside those of a book.
type oddRun struct {
	*run.Run
	draft *entry.Draft
	setup *carfile.Car
	now   time.Time
	book  []run.Run

	earlier []*run.Run // of the car
	found   []run.Problem
}

func ofCar(name string, runs []run.Run) (all []*run.Run) {
	for i := range runs {
		if run.Fold(runs[i].Car) == run.Fold(name) {
			all = append(all, &runs[i])
		}
	}
	return all
}

// problems returns what to ask about: what the reading of the run asked about, without what the
// book has already, and what is odd beside its runs.
func (o *oddRun) problems(reading []run.Problem) []run.Problem {
	o.earlier = ofCar(o.Car, o.book)
	for _, p := range reading {
		if !o.hadBefore(p.Column) {
			o.found = append(o.found, p)
		}
	}
	o.judgeDate()
	if len(o.earlier) > 0 {
		o.judgeGears()
		o.judgeDay()
		o.judgeMinutes()
		o.judgePeaks()
	}
	return o.found
}

// ask adds a question about a column.
func (o *oddRun) ask(column, what, do string) {
	p := run.Problem{Column: column, What: what, Do: do, Ask: true}
	if f, known := entry.ByColumn(column); known {
		p.Value = cmp.Or(o.draft.Typed(f), o.draft.Text(f))
	}
	o.found = append(o.found, p)
}

// asked reports whether something in one of some columns is asked about already.
func (o *oddRun) asked(columns ...string) bool {
	return slices.ContainsFunc(o.found, func(p run.Problem) bool { return slices.Contains(columns, p.Column) })
}

// hadBefore reports whether the book knows what a column of the run says, however odd it is in
// itself: crawlers run for hours, and some summers are hot.
func (o *oddRun) hadBefore(column string) bool {
	f, _ := entry.ByColumn(column)
	switch f.Name {
	case "minutes":
		return o.any(func(r *run.Run) bool { return within(o.Minutes, r.Minutes, sameLength) })
	case "tire":
		return o.any(func(r *run.Run) bool { return within(o.Tire, r.Tire, sameMeasure) })
	case "cells":
		return o.any(func(r *run.Run) bool { return r.Cells == o.Cells })
	case "ambient":
		return slices.ContainsFunc(o.book, func(r run.Run) bool { return apart(r.Ambient, o.Ambient) <= sameAir })
	case "":
		return o.any(func(r *run.Run) bool { return within(o.Rollout(), r.Rollout(), sameRollout) })
	}
	return false
}

func (o *oddRun) any(has func(*run.Run) bool) bool { return slices.ContainsFunc(o.earlier, has) }

// within reports whether two quantities differ by a factor at most.
func within[T ~float64 | ~int](a, b T, factor float64) bool {
	return float64(a) <= factor*float64(b) && float64(b) <= factor*float64(a)
}

func apart(a, b units.Celsius) units.Rise { return units.Rise(math.Abs(float64(a - b))) }

// judgeDate asks about a date of another year, unless old runs are being written down.
func (o *oddRun) judgeDate() {
	if o.now.Sub(o.When) > longAgo && !o.any(func(r *run.Run) bool { return o.When.Sub(r.When).Abs() <= together }) {
		o.ask("date", "lies long ago", "check the year")
	}
}

func (o *oddRun) judgeGears() {
	spur := func(r *run.Run) bool { return r.Gearing.Spur == o.Gearing.Spur }
	ownSpur := slices.ContainsFunc(o.setup.Boxes, func(box drivetrain.Box) bool { return slices.Contains(box.Spurs, o.Gearing.Spur) })
	if !ownSpur && !o.any(spur) {
		o.ask("spur_teeth", "is a spur that this car has not run before", "check its teeth")
	}
	internal := func(r *run.Run) bool { return within(o.Gearing.Internal, r.Gearing.Internal, sameMeasure) }
	if o.setup.Internal != o.Gearing.Internal && !o.any(internal) {
		o.ask("internal_ratio", "is another internal ratio than this car had before", "check it")
	}
	cells := func(r *run.Run) bool { return r.Cells == 0 || within(o.Cells, r.Cells, farCells) }
	if o.Cells != 0 && o.Cells != o.setup.Cells && !o.asked("cells") && !o.any(cells) {
		o.ask("cells", "is far from the cells that this car had before", "check that it is the number in series")
	}
	if o.asked("", "pinion_teeth", "spur_teeth", "internal_ratio", "tire_diameter_mm", "tire_diameter_in") {
		return // and that makes the gearing what it is
	}
	near := func(r *run.Run) bool { return math.Abs(float64(o.Rollout()/r.Rollout())-1) <= farGearing }
	if !o.any(near) {
		way := "shorter"
		if o.Rollout() > o.earlier[0].Rollout() {
			way = "taller"
		}
		o.ask("", fmt.Sprintf("this gearing and tire are far %s than all that this car has run", way), "check the teeth and the tire")
	}
}

// judgeDay asks about what does not go with the car's other runs of the day.
func (o *oddRun) judgeDay() {
	if at := slices.IndexFunc(o.earlier, o.overlaps); at >= 0 {
		o.ask("date", "overlaps the run that ended at "+o.earlier[at].When.Format("15:04"), "check when it ended, and the minutes")
	}
	var airs []units.Celsius
	for _, r := range o.earlier {
		if r.Day() == o.Day() {
			airs = append(airs, r.Ambient)
		}
	}
	if len(airs) == 0 || o.asked("ambient_c", "ambient_f") {
		return
	}
	low, high := slices.Min(airs), slices.Max(airs)
	if units.Rise(o.Ambient-high) > farAir || units.Rise(low-o.Ambient) > farAir {
		o.ask("ambient_c", "is far from the air of the day's other runs, "+o.span("ambient_c", low, high), checkReading)
	}
}

const checkReading = "check the reading and the unit"

// span writes two temperatures in the unit that was typed in a column.
func (o *oddRun) span(column string, low, high units.Celsius) string {
	system := o.unitsTyped(column)
	if from, to := system.Reading(low), system.Reading(high); from != to {
		return system.ReadingNumber(low) + " to " + to
	}
	return system.Reading(low)
}

func (o *oddRun) unitsTyped(column string) units.System {
	f, _ := entry.ByColumn(column)
	_, system, _ := units.Cut(o.draft.Typed(f))
	return system
}

// overlaps reports whether a car can't have driven both runs, as far as both have a time of day on
// one clock. When a run ended that was logged without a date nobody said: several may be logged in
// one sitting. Two that ended in the same moment are a conflict, and told as one.
func (o *oddRun) overlaps(r *run.Run) bool {
	zoned := func(r *run.Run) bool { return r.When.Location() != time.UTC }
	date, _ := entry.ByName("date")
	if o.draft.Typed(date) == "" || !o.HasTime || !r.HasTime || zoned(o.Run) != zoned(r) || o.When.Equal(r.When) {
		return false
	}
	first, second := o.Run, r
	if second.When.Before(first.When) {
		first, second = second, first
	}
	shared := min(lasting(first.Minutes), first.When.Sub(second.When.Add(-lasting(second.Minutes))))
	return shared > min(littleOverlap, lasting(min(first.Minutes, second.Minutes))/2)
}

func lasting(m units.Minutes) time.Duration { return time.Duration(float64(m) * float64(time.Minute)) }

func (o *oddRun) judgeMinutes() {
	if o.asked("run_minutes") {
		return
	}
	longer := func(r *run.Run) bool { return float64(o.Minutes) <= farLength*float64(r.Minutes) }
	shorter := func(r *run.Run) bool { return float64(r.Minutes) <= farLength*float64(o.Minutes) }
	switch {
	case !o.any(longer):
		o.ask("run_minutes", "is far longer than all that this car has run", "check the minutes")
	case !o.any(shorter):
		o.ask("run_minutes", "is far shorter than all that this car has run", "check the minutes")
	}
}

// judgePeaks asks about a part that read what next to no such run gives, by what the car's other
// runs foresee. Heat that ended a run is as high as it is.
func (o *oddRun) judgePeaks() {
	foreseen, err := analyze.Foresee(o.others(), o.Run)
	if err != nil {
		return // there is nothing to foresee it from
	}
	for _, f := range foreseen {
		peak, measured := o.Peak.Of(f.Part)
		column := f.Part.String() + "_peak_c"
		if !measured || o.asked(column, f.Part.String()+"_peak_f") {
			continue
		}
		low, high := f.Quantile((1-nearlyAll)/2), f.Quantile((1+nearlyAll)/2)
		if peak < low || peak > high && !o.StoppedByHeat {
			u := o.unitsTyped(column)
			o.ask(column, fmt.Sprintf("is outside %s to %s, where %.0f of 100 such runs would lie by this log", u.Peak(low), u.Forecast(high), nearlyAll*100), checkReading)
		}
	}
}

// others returns the car's other runs.
func (o *oddRun) others() (all []run.Run) {
	for _, r := range o.earlier {
		all = append(all, *r)
	}
	return all
}

// misspelt asks about a car that nobody knows and that is called almost as one that is known. Cars
// that differ by a number are numbered.
func misspelt(car string, known []string) []run.Problem {
	if slices.ContainsFunc(known, func(name string) bool { return run.Fold(name) == run.Fold(car) }) {
		return nil
	}
	const letters = 8 // to a typing error
	near := nearest.By(run.Fold, car, known, 1+len(car)/letters)
	unnumbered := func(name string) string {
		return strings.Map(func(r rune) rune {
			if unicode.IsDigit(r) {
				return -1
			}
			return r
		}, run.Fold(name))
	}
	if near == "" || unnumbered(near) == unnumbered(car) {
		return nil
	}
	return []run.Problem{{Column: entry.Car.Column, Value: car, What: "is a new car", Do: "check the name if it is " + near, Ask: true}}
}
