package report

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/document"
)

// Import is what became of an import, as it is shown.
type Import struct {
	*app.Import
	Book        string   // where it lies; "" where the reader need not know
	Rejects     string   // where refused rows were asked for, "" if nowhere
	RejectFiles []string // where they were written
	AskBeside   bool     // conflicts are not told, as they are asked about beside this
}

// Imported says what became of an import: how each log was understood, what of it was
// added, known and refused, and what the book holds now.
func Imported(m *Import) document.Document {
	var doc document.Document
	for i := range m.Logs {
		doc = append(doc, m.log(i))
	}
	if !m.AskBeside {
		for _, c := range m.Conflicts {
			doc = append(doc, conflict(c))
		}
	}
	if brought := broughtBy(&m.Told); len(m.Conflicts) == 0 && len(brought.Items) > 0 {
		doc = append(doc, brought)
	}
	return append(doc, document.Lines{Items: m.outcome()})
}

func (m *Import) log(i int) document.Lines {
	l, contents := m.Logs[i], m.Taken[i]
	if contents.IsCopy() {
		return document.Lines{Head: l.Name + ": a copy of the log book, " + count(len(contents.Entries), "run"), Items: []string{copied(m.Tallies[i])}}
	}
	about := document.Lines{Head: fmt.Sprintf("%s: %s", l.Name, l.Format)}
	units := map[string]bool{}
	for _, c := range l.Columns {
		units[c.Unit] = units[c.Unit] || c.Name != ""
	}
	if read := slices.DeleteFunc([]string{"°C", "°F", "mm", "in"}, func(unit string) bool { return !units[unit] }); len(read) > 0 {
		about.Head += ", " + list(read)
	}
	if len(m.Conflicts) == 0 {
		about.Items = append(about.Items, fmt.Sprintf("%s: %s", count(l.Rows, "row"), m.tally(m.Tallies[i], l.Rows-len(contents.Entries))))
	}
	if len(contents.Extra) > 0 {
		about.Items = append(about.Items, "kept beside the columns that are read: "+quotedList(contents.Extra))
	}
	about.Items = append(about.Items, problemsUnder("refused", l.Problems, m.whereRefused())...)
	about.Items = append(about.Items, problemsUnder("cell left out", l.Lost, "")...)
	about.Items = append(about.Items, problemsUnder("noticed", slices.Concat(l.Notices, l.Warnings), "")...)
	if len(l.Runs) > 0 && !slices.ContainsFunc(l.Columns, runlog.Heading.IsRatio) && !slices.ContainsFunc(l.Assumed, func(a runlog.Assumed) bool { return a.Column == "internal_ratio" }) {
		about.Items = append(about.Items, "no internal ratio and no final drive ratio in the file, so 1 was taken: that will do only while one car has "+
			"one ratio behind the spur, and its rollouts are then not the true ones")
	}
	return about
}

// Remembered lists what is remembered of logs.
func Remembered(m logbook.Remembered) document.Document {
	columns, constants := document.Lines{Head: "Headers of your own, and the columns as which they are read:"},
		document.Lines{Head: "What files lack, what is taken for it, and the header of the files:"}
	for _, header := range slices.Sorted(maps.Keys(m.Columns)) {
		columns.Items = append(columns.Items, header+"="+cmp.Or(m.Columns[header], " (kept, and not read)"))
	}
	for _, c := range m.Constants {
		constants.Items = append(constants.Items, fmt.Sprintf("%s: %s", c.Constant, c.Header))
	}
	var doc document.Document
	for _, lines := range []document.Lines{columns, constants} {
		if len(lines.Items) > 0 {
			doc = append(doc, lines)
		}
	}
	if len(doc) == 0 {
		return document.Document{document.Paragraph("Nothing is remembered.")}
	}
	return doc
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

func problemsUnder(what string, found []run.Problem, whereAll string) []string {
	const mostShown = 20
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

func (m *Import) tally(t logbook.Tally, refused int) string {
	added := "%d added"
	if m.DryRun {
		added = "%d to be added"
	}
	parts := []string{fmt.Sprintf(added, t.Added), fmt.Sprintf("%d known already", t.Known)}
	if t.Completed > 0 {
		parts = append(parts, fmt.Sprintf("%d known with blank cells filled in", t.Completed))
	}
	if t.Replaced > 0 {
		parts = append(parts, fmt.Sprintf("%d replaced", t.Replaced))
	}
	if t.LeftOut > 0 {
		parts = append(parts, fmt.Sprintf("%d left out, as other values of the same run count", t.LeftOut))
	}
	return list(append(parts, fmt.Sprintf("%d refused", refused)))
}

// copied says what became of the runs of a copy of the book.
func copied(t logbook.Tally) string {
	parts := []string{fmt.Sprintf("%d new", t.Added), fmt.Sprintf("%d changed there later", t.Replaced),
		fmt.Sprintf("%d deleted there", t.Deleted), fmt.Sprintf("%d as they are here", t.Known)}
	if parts = slices.DeleteFunc(parts, func(part string) bool { return strings.HasPrefix(part, "0 ") }); len(parts) == 0 {
		return "nothing new"
	}
	return list(parts)
}

// broughtBy says run by run what copies of the book changed in it. What counted no longer is in the
// history, as after any change.
func broughtBy(t *logbook.Told) document.Lines {
	lines := document.Lines{Head: "What the copy changed here:"}
	const mostShown = 20
	each := func(n int, line func(i int) string) {
		for i := range min(n, mostShown) {
			lines.Items = append(lines.Items, line(i))
		}
		if n > mostShown {
			lines.Items = append(lines.Items, fmt.Sprintf("and %d more", n-mostShown))
		}
	}
	brief := func(r *run.Run) string {
		return fmt.Sprintf("run %d: %s, %s, %s", r.Number, r.Car, whenOf(r), pair(r.Gearing))
	}
	each(len(t.Added), func(i int) string { return "new: " + brief(&t.Added[i]) })
	each(len(t.Edited), func(i int) string {
		e := &t.Edited[i]
		line := "changed there later: " + brief(&e.Run)
		for _, d := range e.Differences {
			line += fmt.Sprintf("; %s %s → %s", columnWords(d.Column), cellIn(d.Column, d.Kept, units.Metric), cellIn(d.Column, d.New, units.Metric))
		}
		return line
	})
	each(len(t.Deleted), func(i int) string { return "deleted there: " + brief(&t.Deleted[i]) })
	each(len(t.Renumbered), func(i int) string {
		return fmt.Sprintf("run %d is run %d now, as the number is another run's too", t.Renumbered[i].From, t.Renumbered[i].To)
	})
	return lines
}

// conflict shows two sets of values of one run side by side.
func conflict(c logbook.Conflict) document.Section {
	text := fmt.Sprintf("conflict: %s, run of %s: %s and %s", c.New.Car, toTheSecond(c.New.Run), c.Kept.Position, c.New.Position)
	return sideBySide(text, base(c.Kept.Position), base(c.New.Position), c.Differences)
}

func toTheSecond(r *run.Run) string {
	if r.HasTime {
		return r.When.Format(dateLayout + " 15:04:05")
	}
	return r.When.Format(dateLayout)
}

func sideBySide(text, kept, other string, differences []logbook.Difference) document.Section {
	table := document.Table{
		Caption: "What the two say of this run",
		Columns: []document.Column{
			{Full: "column", Kind: document.Label}, {Head: kept, Kind: document.Label}, {Head: other, Kind: document.Label},
		},
	}
	for _, d := range differences {
		table.Rows = append(table.Rows, document.Row{Cells: []string{d.Column, shown(d.Kept), shown(d.New)}})
	}
	return document.Section{Body: document.Document{document.Lines{Items: []string{text}}, table}}
}

func shown(cell string) string {
	if cell == "" {
		return "(blank)"
	}
	return strings.ReplaceAll(cell, "\n", " / ")
}

func (m *Import) outcome() []string {
	cars := map[string]bool{}
	for i := range m.Entries {
		cars[m.Entries[i].Car] = true
	}
	holds := fmt.Sprintf("%s of %s", count(len(m.Entries), "run"), count(len(cars), "car"))
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
