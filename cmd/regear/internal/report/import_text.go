package report

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/document"
)

// Import is what became of an import.
type Import struct {
	Book string // where it lies; "" where the reader need not know
	Logs []ImportedLog
	logbook.Merged
	DryRun      bool
	Rejects     string   // where refused rows were asked for, "" if nowhere
	RejectFiles []string // where they were written
}

// ImportedLog is one log of an import.
type ImportedLog struct {
	*runlog.Log
	Contents logbook.Contents
}

// Contents returns what the logs of an import hold.
func Contents(logs []ImportedLog) []logbook.Contents {
	all := make([]logbook.Contents, len(logs))
	for i, l := range logs {
		all[i] = l.Contents
	}
	return all
}

// ToAsk returns what to ask about before the logs of an import are taken.
func ToAsk(logs []ImportedLog) []run.Problem {
	var all []run.Problem
	for _, l := range logs {
		for _, w := range l.Warnings {
			if w.Ask {
				all = append(all, w)
			}
		}
	}
	return all
}

// AnyRun returns an error if no log of an import has a run that can be used.
func AnyRun(logs []ImportedLog) error {
	if slices.ContainsFunc(logs, func(l ImportedLog) bool { return len(l.Contents.Entries) > 0 }) {
		return nil
	}
	return errors.New("no usable run: nothing was imported")
}

// Rejects returns the refused rows of an import's logs, each table with the name of its
// file: that of the first is as given, and the others are numbered.
func Rejects(logs []ImportedLog, name string) (names []string, tables []logbook.RejectTable) {
	read := make([]*runlog.Log, len(logs))
	for i, l := range logs {
		read[i] = l.Log
	}
	tables = logbook.Rejects(read)
	ending := filepath.Ext(name)
	for i := range tables {
		numbered := name
		if i > 0 {
			numbered = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(name, ending), i+1, ending)
		}
		names = append(names, numbered)
	}
	return names, tables
}

// Imported says what became of an import: how each log was understood, what of it was
// added, known and refused, and what the book holds now.
func Imported(m *Import) document.Document {
	var doc document.Document
	for i, l := range m.Logs {
		doc = append(doc, m.log(l, m.Tallies[i]))
	}
	for _, c := range m.Conflicts {
		doc = append(doc, conflict(c))
	}
	return append(doc, document.Lines{Items: m.outcome()})
}

// ImportText writes what became of an import as text.
func ImportText(w io.Writer, m *Import) error { return Imported(m).Text(w, document.Layout{}) }

// mostShown is how many findings of one log are shown on the screen.
const mostShown = 20

func (m *Import) log(l ImportedLog, t logbook.Tally) document.Lines {
	about := document.Lines{Head: fmt.Sprintf("%s: %s", l.Name, l.Format)}
	if units := unitsIn(l.Columns); units != "" {
		about.Head += ", " + units
	}
	if len(m.Conflicts) == 0 {
		about.Items = append(about.Items, fmt.Sprintf("%s: %s", count(l.Rows, "row"), m.tally(l, t)))
	}
	if len(l.Contents.Extra) > 0 {
		about.Items = append(about.Items, "kept beside the columns that are read: "+quotedList(l.Contents.Extra))
	}
	about.Items = append(about.Items, findings("refused", l.Problems, m.whereRefused())...)
	about.Items = append(about.Items, findings("noticed", l.Warnings, "")...)
	return about
}

func (m *Import) whereRefused() string {
	switch {
	case len(m.RejectFiles) > 0:
		return "all are in " + list(m.RejectFiles) + " to be mended"
	case m.Rejects != "":
		return "all will be in " + m.Rejects + " once imported"
	}
	return "--rejects FILE writes all of them"
}

func findings(what string, found []run.Problem, whereAll string) []string {
	var lines []string
	for _, p := range found[:min(len(found), mostShown)] {
		lines = append(lines, fmt.Sprintf("%s: %s", what, p))
	}
	if more := len(found) - mostShown; more > 0 {
		rest := fmt.Sprintf("and %d more", more)
		if whereAll != "" {
			rest += "; " + whereAll
		}
		lines = append(lines, rest)
	}
	return lines
}

func (m *Import) tally(l ImportedLog, t logbook.Tally) string {
	added := "added"
	if m.DryRun {
		added = "to be added"
	}
	parts := []string{fmt.Sprintf("%d %s", t.Added, added), fmt.Sprintf("%d known already", t.Known)}
	if t.Completed > 0 {
		parts = append(parts, fmt.Sprintf("%d known with cells blank that are filled now", t.Completed))
	}
	if t.Replaced > 0 {
		parts = append(parts, fmt.Sprintf("%d replaced", t.Replaced))
	}
	parts = append(parts, fmt.Sprintf("%d refused", l.Rows-len(l.Contents.Entries)))
	return list(parts)
}

// unitsIn lists the units of temperatures and lengths that a log was read in.
func unitsIn(columns []runlog.Heading) string {
	var units []string
	for _, unit := range []string{"°C", "°F", "mm", "in"} {
		if slices.ContainsFunc(columns, func(c runlog.Heading) bool { return c.Name != "" && c.Unit == unit }) {
			units = append(units, unit)
		}
	}
	return list(units)
}

func quotedList(words []string) string {
	quoted := make([]string, len(words))
	for i, w := range words {
		quoted[i] = fmt.Sprintf("%q", w)
	}
	return list(quoted)
}

// conflict shows two sets of values of one run side by side.
func conflict(c logbook.Conflict) document.Section {
	day := c.New.When.Format(dateLayout)
	if c.New.HasTime {
		day = c.New.When.Format(dateLayout + " 15:04:05")
	}
	table := document.Table{
		Caption: "What the two say of this run",
		Columns: []document.Column{
			{Full: "column", Kind: document.Label},
			{Head: short(c.Kept.Position), Kind: document.Label}, {Head: short(c.New.Position), Kind: document.Label},
		},
	}
	for _, d := range c.Differences {
		table.Rows = append(table.Rows, document.Row{Cells: []string{d.Column, shown(d.Kept), shown(d.New)}})
	}
	return document.Section{Body: document.Document{
		document.Lines{Items: []string{fmt.Sprintf("conflict: %s, run of %s: %s and %s", c.New.Car, day, c.Kept.Position, c.New.Position)}},
		table,
	}}
}

// short writes a position without its folder, as the head of a column.
func short(p run.Position) string {
	p.File = filepath.Base(p.File)
	return p.String()
}

func shown(cell string) string {
	if cell == "" {
		return "(blank)"
	}
	return strings.ReplaceAll(cell, "\n", " / ")
}

func (m *Import) outcome() []string {
	holds := fmt.Sprintf("%s of %s", count(len(m.Entries), "run"), count(carsIn(m.Entries), "car"))
	text := "The log book: "
	if m.Book != "" {
		text = fmt.Sprintf("Log book %s: ", m.Book)
	}
	switch {
	case len(m.Conflicts) > 0:
		text += fmt.Sprintf("nothing was changed, it holds %s.", holds)
	case !m.Changed:
		text += fmt.Sprintf("nothing to change, it holds %s.", holds)
	case m.DryRun:
		text += fmt.Sprintf("would hold %s; nothing was written.", holds)
	default:
		text += fmt.Sprintf("holds %s now.", holds)
	}
	lines := []string{text}
	if len(m.RejectFiles) > 0 {
		lines = append(lines, fmt.Sprintf("Refused rows: %s. Mend them there and import the file again.", list(m.RejectFiles)))
	}
	return lines
}

func carsIn(entries []logbook.Entry) int {
	cars := map[string]bool{}
	for i := range entries {
		cars[entries[i].Car] = true
	}
	return len(cars)
}

// Undecided is the error of an import that was stopped by conflicts.
func Undecided(n int) error {
	runs, disagree := "runs", "disagree"
	if n == 1 {
		runs, disagree = "run", "disagrees"
	}
	return fmt.Errorf("%d %s %s with what the log book or another row has, so nothing was changed: mend the log, "+
		"or decide with --replace (the log's values, but not between rows of one log) or --keep-both", n, runs, disagree)
}
