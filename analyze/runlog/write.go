package runlog

import (
	"encoding/csv"
	"io"
	"strconv"

	"github.com/gocarina/gocsv"

	"regear/analyze/run"
)

// Write writes runs as a log: UTF-8 with commas, decimal points and line feeds,
// temperatures in °C and lengths in mm. [Read] gives the same runs back, to the
// last bit, but for their positions. A text that a spreadsheet would take for a
// formula gets an apostrophe in front, which Read takes off.
func Write(w io.Writer, runs []run.Run) error {
	records := make([]Record, len(runs))
	for i := range runs {
		records[i] = recordOf(&runs[i])
	}
	return gocsv.MarshalCSV(records, csv.NewWriter(w))
}

// recordOf returns r as cells.
func recordOf(r *run.Run) Record {
	var cells row
	for i := range columns {
		if c := &columns[i]; c.Written() {
			*c.cell(&cells) = c.write(r)
		}
	}
	return cells.Record
}

func formatText(text string) string { return EscapeFormula(trim(foldLines(text))) }

func number[T ~float64](v T) string { return strconv.FormatFloat(float64(v), 'f', -1, 64) }

func formatYes(yes bool) string {
	if yes {
		return "yes"
	}
	return ""
}

// countIfAny writes a count, and nothing for none.
func countIfAny(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}
