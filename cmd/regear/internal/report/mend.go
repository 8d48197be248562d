package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"regear/analyze"
	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// Edited says what an edit changed of a run, in the units of a system.
func Edited(w io.Writer, e *logbook.Edited, u units.System) error {
	if len(e.Changed) == 0 {
		_, err := fmt.Fprintf(w, "Run %d is like that already: nothing was changed.\n", e.Run.Number)
		return err
	}
	_, err := fmt.Fprintf(w, "Changed run %d:\n%sIt is now: %s.\n%s\n", e.Run.Number, changedColumns(e.Changed, u), runLine(u, &e.Run), takeBack)
	return err
}

func changedColumns(changed []logbook.Difference, u units.System) string {
	var text strings.Builder
	for _, d := range changed {
		fmt.Fprintf(&text, "  %s: %s, was %s\n", columnWords(d.Column),
			cellIn(d.Column, d.New, u), cellIn(d.Column, d.Kept, u))
	}
	return text.String()
}

// columnWords returns the name of a column without its unit.
func columnWords(column string) string {
	return strings.ReplaceAll(strings.TrimSuffix(strings.TrimSuffix(column, "_c"), "_mm"), "_", " ")
}

// cellIn returns a cell of the log book in the units of a system.
func cellIn(column, cell string, u units.System) string {
	number, err := strconv.ParseFloat(cell, 64)
	switch {
	case err != nil:
		return shown(runlog.UnescapeFormula(cell))
	case strings.HasSuffix(column, "_c"):
		return u.Reading(units.Celsius(number))
	case strings.HasSuffix(column, "_mm"):
		return u.Tire(units.Millimeters(number))
	}
	return cell
}

const takeBack = "regear undo takes it back."

// EditConflict shows the run that an edit would make another one beside that other one.
func EditConflict(c *logbook.Conflict) document.Document {
	kept, edited := fmt.Sprintf("run %d", c.Kept.Number), fmt.Sprintf("run %d as edited", c.New.Number)
	text := fmt.Sprintf("conflict: the log book holds a run of %s of %s already:", c.New.Car, toTheSecond(c.New.Run))
	if len(c.Differences) == 0 {
		return document.Document{document.Lines{Items: []string{text + " " + kept + ", which says the same"}}}
	}
	return document.Document{sideBySide(text, kept, edited, c.Differences)}
}

// Deleted says which runs were deleted.
func Deleted(w io.Writer, runs []run.Run, left int, u units.System) error {
	var text strings.Builder
	for i := range runs {
		fmt.Fprintf(&text, "Deleted run %d: %s.\n", runs[i].Number, runLine(u, &runs[i]))
	}
	_, err := fmt.Fprintf(w, "%sThe log book holds %s now. %s\n", text.String(), count(left, "run"), takeBack)
	return err
}

// Undone says what was undone.
func Undone(w io.Writer, u *logbook.Undone, zone *time.Location) error {
	_, err := fmt.Fprintf(w, "Undone: %s (%s).\nThe log book holds %s now. To have it back: regear book restore %s\n",
		u.What, ChangedAt(&u.Change, zone), count(u.Runs, "run"), u.Kept)
	return err
}

// ChangedAt says when a change was made, in a time zone.
func ChangedAt(c *logbook.Change, zone *time.Location) string {
	return c.At.In(zone).Format("2006-01-02 15:04:05")
}

// Changes lists the changes that can be undone, newest first.
func Changes(changes []logbook.Change, zone *time.Location) document.Document {
	if len(changes) == 0 {
		return document.Document{document.Paragraph("There is no change to undo.")}
	}
	return document.Document{
		tableOf("Changes of the log book that can be undone, newest first", changes, columnsOf[logbook.Change]{
			{document.Column{Head: "when", Kind: document.Label}, func(c *logbook.Change) string { return ChangedAt(c, zone) }},
			{document.Column{Head: "what", Kind: document.Prose}, func(c *logbook.Change) string { return c.What }},
		}),
	}
}

// RunLines name runs, a line each.
func RunLines(runs []run.Run, u units.System) string {
	lines := make([]string, len(runs))
	for i := range runs {
		lines[i] = fmt.Sprintf("  %d: %s", runs[i].Number, runLine(u, &runs[i]))
	}
	return strings.Join(lines, "\n")
}

// BookPlaces are where a log book and what belongs to it lie, and what they hold.
type BookPlaces struct {
	Book, History, Cars, Columns   string
	Runs                           []run.Run
	Changes, CarCount, ColumnCount int
}

// Book says where a log book and what belongs to it lie.
func Book(p *BookPlaces) document.Document {
	names, _ := analyze.Cars(p.Runs)
	held := func(n int, what string) string {
		if n == 0 {
			return "none yet"
		}
		return count(n, what)
	}
	runs := held(len(p.Runs), "run")
	if len(names) > 1 {
		runs += " of " + count(len(names), "car")
	}
	return document.Document{document.Terms{
		{Word: "Log book", Meaning: p.Book + " (" + runs + ")"},
		{Word: "History", Meaning: p.History + " (" + held(p.Changes, "change") + ")"},
		{Word: "Car file", Meaning: p.Cars + " (" + held(p.CarCount, "car") + ")"},
		{Word: "Remembered headers", Meaning: p.Columns + " (" + held(p.ColumnCount, "header") + ")"},
	}}
}

// Restored says what was restored from a file.
func Restored(w io.Writer, from string, r *logbook.Restored) error {
	_, err := fmt.Fprintf(w, "Restored from %s: %s. The log book holds %s now. %s\n", from, list(r.Files), count(r.Runs, "run"), takeBack)
	return err
}
