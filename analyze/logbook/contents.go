// Package logbook keeps all runs of all cars in one file, the log book: a CSV file in
// runlog's columns, °C and mm, that any spreadsheet opens. Columns that runlog does not
// read are kept beside the others.
//
// [Merge] is pure and says what becomes of a book and logs; [Book] reads and replaces
// the file, so that a run that was once reported as added is never lost and a half-written
// book is never seen.
package logbook

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// Contents is what a book or a log holds.
type Contents struct {
	// Comments are lines that begin with #. A book keeps them, on top.
	Comments []string
	// Extra are the headers of the columns that runlog does not read.
	Extra   []string
	Entries []Entry
}

// Entry is one run. Entries of several contents may share it, so it is not to be
// changed.
type Entry struct {
	*run.Run
	// Extra are the cells under the headers of Contents.Extra, without blank ones.
	Extra map[string]string
}

// ReasonColumn is the header under which refused rows carry why they were refused. It
// is never kept, so that mended rows can be imported as they are.
const ReasonColumn = "refused_because"

// FromLog returns what a log holds, for the book: its runs, whose numbers it rounds as
// the book has them, and the columns that runlog does not read and that hold something.
// Such a column needs a header of its own; one without is called by its number, and the
// second of a name gets its number too. The log must have been read with KeepCells.
//
// A run whose further cells can't stand in a book joins the log's refused rows.
func FromLog(log *runlog.Log) Contents {
	return contentsOf(log, func(i int) bool { return holdsSomething(log.Cells, i) })
}

// contentsOf returns what a log holds, with the further columns that are wanted.
func contentsOf(log *runlog.Log, wanted func(at int) bool) Contents {
	at, headers := extraColumns(log, wanted)
	c := Contents{Extra: headers, Entries: make([]Entry, 0, len(log.Runs))}
	for i := range log.Runs {
		e := Entry{Run: &log.Runs[i]}
		round(e.Run)
		if len(at) > 0 {
			var problem *run.Problem
			if e.Extra, problem = extraCells(log.Cells[i], at, headers); problem != nil {
				problem.Position = e.Position
				log.Problems = append(log.Problems, *problem)
				log.Refused = append(log.Refused, runlog.Row{Position: e.Position, Cells: log.Cells[i]})
				continue
			}
		}
		c.Entries = append(c.Entries, e)
	}
	return c
}

// extraColumns finds the wanted ones of the columns that are not read.
func extraColumns(log *runlog.Log, wanted func(at int) bool) (at []int, headers []string) {
	for i, column := range log.Columns {
		if column.Name != "" || runlog.SameHeader(column.Header, ReasonColumn) || !wanted(i) {
			continue
		}
		// A byte that is no text would make the whole book one of another encoding.
		header := cleanExtra(strings.ToValidUTF8(column.Header, "\uFFFD"))
		for header == "" || slices.Contains(headers, header) {
			header = strings.TrimSpace(fmt.Sprintf("%s column %d", header, i+1))
		}
		at, headers = append(at, i), append(headers, header)
	}
	return at, headers
}

func holdsSomething(rows [][]string, at int) bool {
	return slices.ContainsFunc(rows, func(cells []string) bool { return at < len(cells) && cleanExtra(cells[at]) != "" })
}

// maxExtraBytes keeps a cell well below what runlog takes for a quote that never closes.
const maxExtraBytes = 16 << 10

// extraCells returns the cells of a row at some places, under their headers.
func extraCells(cells []string, at []int, headers []string) (map[string]string, *run.Problem) {
	extra := map[string]string{}
	for k, i := range at {
		if i >= len(cells) {
			continue
		}
		cell := cleanExtra(cells[i])
		if len(cell) > maxExtraBytes {
			return nil, &run.Problem{Column: headers[k], What: fmt.Sprintf("is longer than %d bytes", maxExtraBytes), Do: "shorten it"}
		}
		if cell != "" {
			extra[headers[k]] = strings.Clone(cell)
		}
	}
	return extra, nil
}

// cleanExtra returns what a cell says: without blanks around it, on lines that end in
// line feeds, and without the apostrophe that keeps it from being a formula.
func cleanExtra(cell string) string {
	cell = strings.ReplaceAll(strings.ReplaceAll(cell, "\r\n", "\n"), "\r", "\n")
	return strings.TrimSpace(runlog.UnescapeFormula(strings.TrimSpace(cell)))
}

// round makes a run what the book has of it. A spreadsheet saves what it shows, which is
// about ten digits: 180 °F kept as 82.22222222222223 °C would come back as another
// number, and the run as another run. Four decimals lie far below what any thermometer
// or tape measure reads.
func round(r *run.Run) {
	r.Gearing.Internal = decimals(r.Gearing.Internal, 6)
	r.Tire = units.Millimeters(decimals(float64(r.Tire), 4))
	r.Ambient = units.Celsius(decimals(float64(r.Ambient), 4))
	r.Minutes = units.Minutes(decimals(float64(r.Minutes), 4))
	for _, of := range []*run.Readings{&r.Peak, &r.Start} {
		for _, p := range run.Parts {
			if c, taken := of.Of(p); taken {
				of.Set(p, units.Celsius(decimals(float64(c), 4)))
			}
		}
	}
}

func decimals(x float64, n int) float64 {
	scale := math.Pow10(n)
	return math.Round(x*scale)/scale + 0 // adding 0 turns -0 into 0
}

// sort puts entries in the order of time. Those of one moment, or of one day without a
// time, stay in the order in which they are.
func (c *Contents) sort() {
	slices.SortStableFunc(c.Entries, func(a, b Entry) int { return a.When.Compare(b.When) })
}

// write writes c as a book.
func (c *Contents) write(w io.Writer) error {
	for _, line := range c.Comments {
		if _, err := io.WriteString(w, line+"\n"); err != nil {
			return err
		}
	}
	out := csv.NewWriter(w)
	header := runlog.WrittenColumns()
	for _, h := range c.Extra {
		header = append(header, runlog.EscapeFormula(h))
	}
	if err := out.Write(header); err != nil {
		return err
	}
	for _, e := range c.Entries {
		cells := runlog.Written(*e.Run)
		for _, h := range c.Extra {
			cells = append(cells, runlog.EscapeFormula(e.Extra[h]))
		}
		if err := out.Write(cells); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// commentLines returns the lines of a text that begin with # and are no part of a row.
func commentLines(text []byte, log *runlog.Log) []string {
	if isPlain(text) {
		return nil
	}
	// A cell of several lines may have one that begins with #.
	inside := map[int]bool{}
	mark := func(at run.Position, cells []string) {
		for k := range 1 + strings.Count(strings.Join(cells, ""), "\n") {
			inside[at.Line+k] = true
		}
	}
	for i, r := range log.Runs {
		mark(r.Position, log.Cells[i])
	}
	for _, r := range log.Refused {
		mark(r.Position, r.Cells)
	}
	var comments []string
	number := 0
	for line := range strings.Lines(string(bytes.TrimPrefix(text, []byte("\uFEFF")))) {
		number++
		if line[0] == '#' && !inside[number] {
			comments = append(comments, strings.TrimRight(line, "\r\n"))
		}
	}
	return comments
}

// moment tells moments apart. A time without a zone is on a clock of its own.
type moment struct {
	when  time.Time // in UTC
	timed bool
	zoned bool
}

func momentOf(r *run.Run) moment {
	return moment{r.When.UTC(), r.HasTime, r.When.Location() != time.UTC}
}
