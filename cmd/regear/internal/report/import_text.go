package report

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"

	"regear/analyze/logbook"
	"regear/analyze/runlog"
)

// Import is what became of an import.
type Import struct {
	Book string
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

// ImportText writes what became of an import: how each log was understood, what of it
// was added, known and refused, and what the book holds now.
func ImportText(w io.Writer, m *Import) error {
	var b strings.Builder
	for i, l := range m.Logs {
		b.WriteString(m.log(l, m.Tallies[i]) + "\n")
	}
	for _, c := range m.Conflicts {
		b.WriteString(conflict(c) + "\n")
	}
	b.WriteString(m.outcome())
	_, err := io.WriteString(w, b.String())
	return err
}

// mostShown is how many findings of one log are shown on the screen.
const mostShown = 20

func (m *Import) log(l ImportedLog, t logbook.Tally) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s", l.Name, l.Format)
	if units := unitsIn(l.Columns); units != "" {
		b.WriteString(", " + units)
	}
	b.WriteString("\n")
	if len(m.Conflicts) == 0 {
		fmt.Fprintf(&b, "  %s: %s\n", count(l.Rows, "row"), m.tally(l, t))
	}
	if len(l.Contents.Extra) > 0 {
		fmt.Fprintf(&b, "  kept beside the columns that are read: %s\n", quotedList(l.Contents.Extra))
	}
	writeFindings(&b, "refused", l.Problems, m.whereRefused())
	writeFindings(&b, "noticed", l.Warnings, "")
	return b.String()
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

func writeFindings(b *strings.Builder, what string, found []runlog.Problem, whereAll string) {
	for _, p := range found[:min(len(found), mostShown)] {
		fmt.Fprintf(b, "  %s: %s\n", what, p)
	}
	more := len(found) - mostShown
	switch {
	case more > 0 && whereAll != "":
		fmt.Fprintf(b, "  and %d more; %s\n", more, whereAll)
	case more > 0:
		fmt.Fprintf(b, "  and %d more\n", more)
	}
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
func unitsIn(columns []runlog.Column) string {
	var units []string
	for _, unit := range []string{"°C", "°F", "mm", "in"} {
		if slices.ContainsFunc(columns, func(c runlog.Column) bool { return c.Name != "" && c.Unit == unit }) {
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
func conflict(c logbook.Conflict) string {
	day := c.New.When.Format(dateLayout)
	if c.New.HasTime {
		day = c.New.When.Format(dateLayout + " 15:04:05")
	}
	rows := make([]table.Row, len(c.Differences))
	for i, d := range c.Differences {
		rows[i] = table.Row{d.Column, shown(d.Kept), shown(d.New)}
	}
	return fmt.Sprintf("conflict: %s, run of %s: %s and %s\n", c.New.Car, day, c.Kept.Position, c.New.Position) +
		Style{}.table(table.Row{"", short(c.Kept.Position), short(c.New.Position)}, rows)
}

// short writes a position without its folder, as the head of a column.
func short(p runlog.Position) string {
	p.File = filepath.Base(p.File)
	return p.String()
}

func shown(cell string) string {
	if cell == "" {
		return "(blank)"
	}
	return strings.ReplaceAll(cell, "\n", " / ")
}

func (m *Import) outcome() string {
	holds := fmt.Sprintf("%s of %s", count(len(m.Entries), "run"), count(carsIn(m.Entries), "car"))
	text := fmt.Sprintf("Log book %s: ", m.Book)
	switch {
	case len(m.Conflicts) > 0:
		text += fmt.Sprintf("nothing was changed, it holds %s.\n", holds)
	case !m.Changed:
		text += fmt.Sprintf("nothing to change, it holds %s.\n", holds)
	case m.DryRun:
		text += fmt.Sprintf("would hold %s; nothing was written.\n", holds)
	default:
		text += fmt.Sprintf("holds %s now.\n", holds)
	}
	if len(m.RejectFiles) > 0 {
		text += fmt.Sprintf("Refused rows: %s. Mend them there and import the file again.\n", list(m.RejectFiles))
	}
	return text
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
