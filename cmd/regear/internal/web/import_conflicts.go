package web

import (
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"regear/analyze/logbook"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// Deciding is the part of the page of imports that asks which values of a run count.
type Deciding struct {
	Conflicts []conflict
	Later     int // how many more are asked about once these are decided
	// What was decided before: for all, and of single runs, one a line.
	ForAll, Decided string
	InBook          bool // all of them are between the log book and a file
}

// conflict is a run with two sets of values, side by side.
type conflict struct {
	Name                 string // of its field
	Run, KeptOf, NewOf   string
	Rows                 []difference
	Loses                bool // the file's values are blank where the others are not
	Book, File, Both     bool // which choice is made
	BookWords, FileWords string
}

type difference struct{ What, Kept, New string }

// blanks counts the sides that say nothing.
func (d difference) blanks() (n int) {
	for _, side := range []string{d.Kept, d.New} {
		if side == blank {
			n++
		}
	}
	return n
}

const blank = "(blank)"

var decisions = map[string]logbook.Decision{"keep-book": logbook.KeepBook, "replace": logbook.Replace, "keep-both": logbook.KeepBoth}

// decider decides conflicts as a form says: one by one by the place of the file's run, and the rest
// in one way. What is said for all comes first where the driver has just said it.
type decider struct {
	each     map[string]logbook.Decision
	all      logbook.Decision
	allFirst bool
	made     map[string]logbook.Decision // what of each was carried out
}

// runPrefix begins the names of the fields of single conflicts, before the place of the file's run.
const runPrefix = "run:"

func deciderOf(form url.Values) decider {
	d := decider{each: map[string]logbook.Decision{}, made: map[string]logbook.Decision{}, all: decisions[form.Get("all")]}
	if all, isForAll := decisions[form.Get("decide")]; isForAll {
		d.all, d.allFirst = all, true
	}
	for name := range form {
		if decision, isOne := decisions[form.Get(name)]; isOne && strings.HasPrefix(name, runPrefix) {
			d.each[strings.TrimPrefix(name, runPrefix)] = decision
		}
	}
	for line := range strings.Lines(form.Get("decided")) { // a form has a thousand fields at most
		name, place, _ := strings.Cut(strings.TrimSpace(line), " ")
		if decision, isOne := decisions[name]; isOne && d.each[place] == logbook.Undecided {
			d.each[place] = decision
		}
	}
	return d
}

func (d decider) isNone() bool { return len(d.each) == 0 && d.all == logbook.Undecided }

// Decide decides one conflict, if the form says how.
func (d decider) Decide(c logbook.Conflict) logbook.Decision {
	one, all := d.each[placeOf(c)], d.all.Decide(c)
	if one == logbook.Undecided || d.allFirst && all != logbook.Undecided {
		return all
	}
	d.made[placeOf(c)] = one
	return one
}

func placeOf(c logbook.Conflict) string { return c.New.Position.String() }

// askAboutConflicts shows the conflicts that are open, with what was chosen of them on a page
// before. The other choices stay.
func (i *importing) askAboutConflicts(open []logbook.Conflict) {
	const most = 30 // of a page
	i.Later = max(0, len(open)-most)
	i.InBook = true
	for _, c := range open[:min(len(open), most)] {
		i.InBook = i.InBook && c.InBook
		i.Conflicts = append(i.Conflicts, i.conflictOf(c))
	}
	name := func(d logbook.Decision) string {
		for name, decision := range decisions {
			if decision == d {
				return name
			}
		}
		return ""
	}
	i.ForAll = name(i.decide.all)
	for _, place := range slices.Sorted(maps.Keys(i.decide.made)) {
		i.Decided += name(i.decide.made[place]) + " " + place + "\n"
	}
	if i.PostForm.Get("decide") == "each" && len(i.Problems) == 0 {
		i.Problems = []string{"Nothing was changed yet: some runs are still open. Say what counts for each of them."}
	}
}

func (i *importing) conflictOf(c logbook.Conflict) conflict {
	lineOf := func(e logbook.Entry) string { return fmt.Sprintf("%s, line %d", e.File, e.Line) }
	one := i.decide.each[placeOf(c)]
	shown := conflict{
		Name: runPrefix + placeOf(c), Run: c.New.Car + ", " + strings.Replace(c.New.Date(), "T", " ", 1),
		KeptOf: lineOf(c.Kept), NewOf: lineOf(c.New),
		Book: one == logbook.KeepBook, File: one == logbook.Replace, Both: one == logbook.KeepBoth,
		BookWords: fmt.Sprintf("Line %d's", c.Kept.Line), FileWords: fmt.Sprintf("Line %d's", c.New.Line),
	}
	switch {
	case c.InBook:
		shown.KeptOf, shown.BookWords, shown.FileWords = "The log book", "The book's", "The file's"
	case c.Kept.File != c.New.File:
		shown.BookWords, shown.FileWords = c.Kept.File+"'s", c.New.File+"'s"
	}
	for _, d := range c.Differences {
		kept, other := i.valueOf(d.Column, d.Kept), i.valueOf(d.Column, d.New)
		if kept == other {
			kept, other = d.Kept, d.New // they differ by less than is shown
		}
		quantity, _ := columnOf(d.Column)
		shown.Rows = append(shown.Rows, difference{capital(wordsOf(quantity)), kept, other})
		shown.Loses = shown.Loses || d.New == "" && runlog.IsColumn(d.Column) // other columns keep what they have
	}
	slices.SortStableFunc(shown.Rows, func(a, b difference) int { return a.blanks() - b.blanks() }) // what contradicts comes first
	return shown
}

// valueOf returns a cell of the log book as the page shows it, with its unit.
func (r *request) valueOf(column, cell string) string {
	value, err := strconv.ParseFloat(cell, 64)
	_, unit := columnOf(column)
	switch {
	case cell == "":
		return blank
	case err != nil:
		return cell
	case column == "run_minutes":
		return cell + " min"
	case unit == "°C":
		return units.Trimmed(r.units.Temperature(units.Celsius(value)), 2) + " " + r.units.TemperatureUnit()
	case unit == "mm":
		return units.Trimmed(r.units.Length(units.Millimeters(value)), 2) + " " + r.units.LengthUnit()
	}
	return cell
}
