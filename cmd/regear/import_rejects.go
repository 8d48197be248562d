package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"regear/analyze/logbook"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/report"
)

// rejects are refused rows under one header. Rows of logs with other headers, perhaps
// in other units, can't stand in the same file.
type rejects struct {
	header []string
	rows   [][]string
}

// writeRejects writes the refused rows of all logs, one file for each header, and
// returns the files' names.
func (o *importOptions) writeRejects(logs []report.ImportedLog) ([]string, error) {
	if o.rejects == "" {
		return nil, nil
	}
	var names []string
	for i, r := range collectRejects(logs) {
		name := o.rejects
		if i > 0 {
			ending := filepath.Ext(name)
			name = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(name, ending), i+1, ending)
		}
		if err := r.write(name); err != nil {
			return names, withoutCall(err)
		}
		names = append(names, name)
	}
	return names, nil
}

func collectRejects(logs []report.ImportedLog) []*rejects {
	var all []*rejects
	for _, l := range logs {
		if len(l.Refused) == 0 {
			continue
		}
		header := rejectsHeader(l.Log)
		at := slices.IndexFunc(all, func(r *rejects) bool { return slices.Equal(r.header, header) })
		if at < 0 {
			at = len(all)
			all = append(all, &rejects{header: header})
		}
		reasons := reasonsByLine(l.Problems)
		for _, row := range l.Refused {
			cells := []string{reasons[row.Line]}
			for _, cell := range row.Cells {
				cells = append(cells, runlog.EscapeFormula(cell))
			}
			all[at].rows = append(all[at].rows, cells)
		}
	}
	return all
}

// rejectsHeader names the columns that are read by their own names, which carry the
// unit wherever the log had it from. The reason comes first: a row may have more cells
// than there are headers.
func rejectsHeader(log *runlog.Log) []string {
	header := []string{logbook.ReasonColumn}
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

func (r *rejects) write(name string) error {
	file, err := os.Create(name)
	if err != nil {
		return err
	}
	out := csv.NewWriter(file)
	err = errors.Join(out.Write(r.header), out.WriteAll(r.rows))
	return errors.Join(err, file.Close())
}
