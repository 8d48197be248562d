package runlog

import (
	"bytes"
	"encoding/csv"
	"errors"
	"slices"
	"testing"

	"regear/analyze/run"
	"regear/analyze/units"
)

// fullRun is a run that says something in every column.
func fullRun() run.Run {
	full := goodRun()
	for i, p := range run.Parts {
		full.Peak.Set(p, units.Celsius(60+i))
		full.Start.Set(p, units.Celsius(30+i))
	}
	full.StoppedByHeat, full.Cells, full.Skip = true, 3, true
	full.Motor, full.Surface, full.Cooling, full.Note = "can", "grass", "fan", "windy"
	return full
}

// Written and WrittenColumns are what Write writes.
func TestWrittenIsWhatWriteWrites(t *testing.T) {
	runs := []run.Run{goodRun(), fullRun()}
	var text bytes.Buffer
	writeErr := Write(&text, runs)
	rows, err := csv.NewReader(&text).ReadAll()
	if err := errors.Join(writeErr, err); err != nil {
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

// Each column is copied, and no other with it.
func TestColumnsAreCopied(t *testing.T) {
	full, blank := fullRun(), run.Run{}
	for _, c := range Columns() {
		if !c.Written() {
			continue
		}
		one := blank
		c.Copy(&one, &full)
		for _, other := range Columns() {
			want := other.Of(&blank)
			if other.Name() == c.Name() {
				want = other.Of(&full)
			}
			if got := other.Of(&one); got != want || c.Of(&full) == "" {
				t.Errorf("with %s copied, %s is %q, want %q", c.Name(), other.Name(), got, want)
			}
		}
		if c.Copy(&one, &blank); one != blank {
			t.Errorf("%s copied back: %+v", c.Name(), one)
		}
	}
}
