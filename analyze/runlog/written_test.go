package runlog

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"regear/analyze/run"
	"regear/analyze/units"
)

// Written and WrittenColumns are what Write writes.
func TestWrittenIsWhatWriteWrites(t *testing.T) {
	file, err := os.Open(filepath.Join(corpus, "plain.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	log, err := Read("plain.csv", file, Options{})
	if err != nil || len(log.Runs) == 0 {
		t.Fatal(err, "no runs")
	}
	// One run has another value in every column.
	full := log.Runs[0]
	for i, p := range run.Parts {
		full.Peak.Set(p, units.Celsius(60+i))
		full.Start.Set(p, units.Celsius(30+i))
	}
	full.StoppedByHeat, full.Cells, full.Skip = true, 3, true
	full.Motor, full.Surface, full.Cooling, full.Note = "can", "grass", "fan", "windy"
	runs := append(log.Runs, full)
	var text bytes.Buffer
	if err := Write(&text, runs); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&text).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(rows[0], WrittenColumns()) {
		t.Errorf("header %q", rows[0])
	}
	for i, r := range runs {
		if !slices.Equal(rows[i+1], Written(r)) {
			t.Errorf("run %d: %q, Write has %q", i, Written(r), rows[i+1])
		}
	}
}
