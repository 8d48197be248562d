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
	"math"
	"slices"
	"strings"

	"regear/analyze/run"
	"regear/analyze/runlog"
)

// Contents is what a book or a log holds.
type Contents struct {
	// Comments are lines that begin with #. A book keeps them, on top.
	Comments []string
	// Extra are the headers of the columns that runlog does not read.
	Extra   []string
	Entries []Entry

	numbered bool  // rows were given numbers that the text lacks
	keys     *keys // of the runs of a book or of a copy of one, nil where they are of no matter
}

// IsCopy reports whether c is a copy of a book, as [ReadCopy] reads it.
func (c *Contents) IsCopy() bool { return c.keys != nil }

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
// second of a name, or one that the book would read, gets its number too. The log must have been read with KeepCells.
//
// A run whose further cells can't stand in a book joins the log's refused rows.
func FromLog(log *runlog.Log) Contents {
	return contentsOf(log, func(i int) bool {
		return slices.ContainsFunc(log.Cells, func(cells []string) bool { return i < len(cells) && cleanExtra(cells[i]) != "" })
	})
}

// contentsOf returns what a log holds, with the further columns that are wanted.
func contentsOf(log *runlog.Log, wanted func(at int) bool) Contents {
	var at []int
	c := Contents{Entries: make([]Entry, 0, len(log.Runs))}
	for i, column := range log.Columns {
		if column.Name != "" || runlog.SameHeader(column.Header, ReasonColumn) || !wanted(i) {
			continue
		}
		// A byte that is no text would make the whole book one of another encoding.
		header := cleanExtra(strings.ToValidUTF8(column.Header, "\uFFFD"))
		for header == "" || slices.Contains(c.Extra, header) || runlog.IsColumn(header) {
			header = strings.TrimSpace(fmt.Sprintf("%s column %d", header, i+1))
		}
		at, c.Extra = append(at, i), append(c.Extra, header)
	}
	for i := range log.Runs {
		e := Entry{Run: &log.Runs[i]}
		roundAll(e.Run)
		if len(at) > 0 {
			var problem *run.Problem
			if e.Extra, problem = extraCells(log.Cells[i], at, c.Extra); problem != nil {
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

// extraCells returns the cells of a row at some places, under their headers.
func extraCells(cells []string, at []int, headers []string) (map[string]string, *run.Problem) {
	const most = 16 << 10 // well below what runlog takes for a quote that never closes
	extra := map[string]string{}
	for k, i := range at {
		if i >= len(cells) {
			continue
		}
		cell := cleanExtra(cells[i])
		if len(cell) > most {
			return nil, &run.Problem{Column: headers[k], What: fmt.Sprintf("is longer than %d bytes", most), Do: "shorten it"}
		}
		if cell != "" {
			extra[headers[k]] = cell
		}
	}
	return extra, nil
}

// cleanExtra returns what a cell says: without blanks around it, on lines that end in
// line feeds, and without the apostrophe that keeps it from being a formula.
func cleanExtra(cell string) string {
	return strings.TrimSpace(runlog.UnescapeFormula(strings.TrimSpace(runlog.FoldLines(cell))))
}

// roundAll makes a run what the book has of it. A spreadsheet saves what it shows, which is
// about ten digits: 180 °F kept as 82.22222222222223 °C would come back as another
// number, and the run as another run. Four decimals lie far below what any thermometer
// or tape measure reads.
func roundAll(r *run.Run) {
	round(&r.Gearing.Internal, 6)
	round(&r.Tire, 4)
	round(&r.Ambient, 4)
	round(&r.Minutes, 4)
	for _, readings := range []*run.Readings{&r.Peak, &r.Start} {
		for part, c := range readings.All() {
			round(&c, 4)
			readings.Set(part, c)
		}
	}
}

func round[T ~float64](x *T, decimals int) {
	scale := math.Pow10(decimals)
	*x = T(math.Round(float64(*x)*scale)/scale + 0) // adding 0 turns -0 into 0
}

// text returns c as the text of a book.
func (c *Contents) text() []byte {
	var text bytes.Buffer
	for _, line := range c.Comments {
		text.WriteString(line + "\n")
	}
	out := csv.NewWriter(&text) // which can't fail: it writes to memory
	write := func(cells []string, extra func(header string) string) {
		for _, h := range c.Extra {
			cells = append(cells, runlog.EscapeFormula(extra(h)))
		}
		out.Write(cells)
	}
	write(runlog.WrittenColumns(), func(header string) string { return header })
	for _, e := range c.Entries {
		write(runlog.Written(*e.Run), func(header string) string { return e.Extra[header] })
	}
	out.Flush()
	return text.Bytes()
}
