package logbook

import (
	"bufio"
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// Workbook reads an .xlsx workbook, as workbook.Read does: a log for each sheet that has a usable
// header, or for the one that opts names.
type Workbook func(name string, r io.Reader, opts runlog.Options) ([]*runlog.Log, error)

// ReadLogs reads the logs of one input: one of a CSV text, and of an .xlsx workbook what workbook
// reads of it. Whether it is one is seen from its content. Where workbook is nil, it is refused.
func ReadLogs(name string, r io.Reader, opts runlog.Options, workbook Workbook) ([]*runlog.Log, error) {
	// A workbook is a zip archive (ECMA-376 part 2), which begins with its first local header.
	const signature = "PK\x03\x04"
	ahead := bufio.NewReader(r)
	switch start, err := ahead.Peek(len(signature)); {
	case string(start) == signature && workbook == nil:
		return nil, run.Problem{Position: run.Position{File: name}, What: "is an .xlsx sheet, which can't be read here", Do: "save the sheet as CSV"}
	case string(start) == signature:
		return workbook(name, ahead, opts)
	case opts.Sheet != "":
		return nil, run.Problem{Position: run.Position{File: name}, What: "is no workbook, so it has no sheet to choose"}
	case err == nil || err == io.EOF:
		r = ahead
	} // and what can't be read, such as a folder, is runlog's to judge
	log, err := runlog.Read(name, r, opts)
	if err != nil {
		return nil, err
	}
	return []*runlog.Log{log}, nil
}

// RejectTable holds rows that logs were refused, each with the reason in front, under one
// header. Once mended they can be imported as they are.
type RejectTable struct {
	Header []string
	Rows   [][]string
}

// Rejects returns the refused rows of logs, which must have been read with KeepCells. Rows
// of logs with other headers, perhaps in other units, can't stand in the same table.
func Rejects(logs []*runlog.Log) []RejectTable {
	var all []RejectTable
	for _, log := range logs {
		if len(log.Refused) == 0 {
			continue
		}
		// The columns that are read go by their own names, which carry the unit wherever the
		// log had it from. The reason comes first: a row may have more cells than there are
		// headers.
		header := []string{ReasonColumn}
		for _, c := range log.Columns {
			name := cmp.Or(c.Name, runlog.EscapeFormula(c.Header))
			if slices.Contains(header, name) { // a time of day belongs to the date, and keeps its header
				name = runlog.EscapeFormula(c.Header)
			}
			header = append(header, name)
		}
		at := slices.IndexFunc(all, func(t RejectTable) bool { return slices.Equal(t.Header, header) })
		if at < 0 {
			at = len(all)
			all = append(all, RejectTable{Header: header})
		}
		reasons := map[int][]string{} // by line
		for _, p := range log.Problems {
			reasons[p.Line] = append(reasons[p.Line], p.String())
		}
		for _, row := range log.Refused {
			cells := []string{strings.Join(reasons[row.Line], "; ")}
			for _, cell := range row.Cells {
				cells = append(cells, runlog.EscapeFormula(cell))
			}
			all[at].Rows = append(all[at].Rows, cells)
		}
	}
	return all
}

// Write writes t as a log.
func (t RejectTable) Write(w io.Writer) error {
	out := csv.NewWriter(w)
	return errors.Join(out.Write(t.Header), out.WriteAll(t.Rows))
}

// NameCar gives the runs of a log that names no car the name that was given, as the runs
// of a book need one. A log names its car in every run or in none; one that does is left
// alone. Where no name was given, the error is a [run.Problem] of the whole log, which
// says what was found and which columns may name the car.
func NameCar(log *runlog.Log, car string) error {
	if len(log.Runs) == 0 || log.Runs[0].Car != "" {
		return nil
	}
	if car = strings.TrimSpace(car); car == "" {
		return noCar(log)
	}
	for i := range log.Runs {
		log.Runs[i].Car = car
	}
	return nil
}

func noCar(log *runlog.Log) run.Problem {
	p := run.Problem{Position: run.Position{File: log.Name}, What: "has no column that names the car",
		Remedy: run.Remedy{Kind: run.NameCar}}
	if at := slices.IndexFunc(log.Columns, func(c runlog.Heading) bool { return c.Name == "car" }); at >= 0 {
		p.What = fmt.Sprintf("names no car: its column %q is blank", log.Columns[at].Header)
		return p
	}
	var may []string
	for at, c := range log.Columns {
		if example := nameIn(log.Cells, at); c.Name == "" && c.From == runlog.ByName && c.Header != "" && example != "" {
			may = append(may, fmt.Sprintf("%q, as in %q", c.Header, example))
			if p.Remedy.Header == "" {
				p.Remedy.Header = c.Header
			}
		}
	}
	const most = 3
	if len(may) > 0 {
		p.What = "has no column called car; it may be " + strings.Join(may[:min(len(may), most)], ", or ")
	}
	return p
}

// nameIn returns the first cell of a column whose cells could all be names, else "".
func nameIn(rows [][]string, column int) (name string) {
	const longestName = 80
	for _, cells := range rows {
		if column >= len(cells) {
			return ""
		}
		cell := strings.TrimSpace(cells[column])
		if _, err := units.ParseNumber(cell); cell == "" || len(cell) > longestName || err == nil {
			return ""
		}
		name = cmp.Or(name, cell)
	}
	return name
}
