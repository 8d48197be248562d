package logbook

import (
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strings"

	"regear/analyze/runlog"
)

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
		header := rejectsHeader(log)
		at := slices.IndexFunc(all, func(t RejectTable) bool { return slices.Equal(t.Header, header) })
		if at < 0 {
			at = len(all)
			all = append(all, RejectTable{Header: header})
		}
		reasons := reasonsByLine(log.Problems)
		for _, row := range log.Refused {
			cells := []string{reasons[row.Line]}
			for _, cell := range row.Cells {
				cells = append(cells, runlog.EscapeFormula(cell))
			}
			all[at].Rows = append(all[at].Rows, cells)
		}
	}
	return all
}

// rejectsHeader names the columns that are read by their own names, which carry the
// unit wherever the log had it from. The reason comes first: a row may have more cells
// than there are headers.
func rejectsHeader(log *runlog.Log) []string {
	header := []string{ReasonColumn}
	for _, c := range log.Columns {
		name := c.Name
		if name == "" {
			name = runlog.EscapeFormula(c.Header)
		}
		header = append(header, name)
	}
	return header
}

// reasonsByLine joins all that is wrong with each row.
func reasonsByLine(problems []runlog.Problem) map[int]string {
	reasons := map[int]string{}
	for _, p := range problems {
		if reasons[p.Line] != "" {
			reasons[p.Line] += "; "
		}
		reasons[p.Line] += p.String()
	}
	return reasons
}

// Write writes t as a log.
func (t RejectTable) Write(w io.Writer) error {
	out := csv.NewWriter(w)
	return errors.Join(out.Write(t.Header), out.WriteAll(t.Rows))
}

// NameCar gives the runs of a log that names no car the name that was given, as the runs
// of a book need one. A log names its car in every run or in none; one that does is left
// alone. Where no name was given, the error is a [runlog.Problem] of the whole log.
func NameCar(log *runlog.Log, car string) error {
	if len(log.Runs) == 0 || log.Runs[0].Car != "" {
		return nil
	}
	car = strings.TrimSpace(car)
	if car == "" {
		return runlog.Problem{Position: runlog.Position{File: log.Name}, What: "names no car, and a log book holds several"}
	}
	for i := range log.Runs {
		log.Runs[i].Car = car
	}
	return nil
}
