package runlog

import (
	"io"
	"iter"
	"slices"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// Counts of days mean what github.com/xuri/excelize/v2, by others, makes of them.
func TestDayCounts(t *testing.T) {
	for _, from1904 := range []bool{false, true} {
		for count := 10_000.0; count < 100_000; count += 37.04321 {
			want, err := excelize.ExcelDateToTime(count, from1904)
			if err != nil {
				t.Fatal(err)
			}
			if got, _ := dayCounted(count, from1904); got.Sub(want).Abs() > time.Second {
				t.Fatalf("%v from 1904 %v: %v, want %v", count, from1904, got, want)
			}
		}
	}
}

// A sheet's rows are read as those of a text, and its counts of days as dates.
func TestReadSheet(t *testing.T) {
	rows := [][]string{{"", ""}, {"date", "pinion_teeth", "spur_teeth", "tire_diameter_mm", "ambient_c", "run_minutes", "motor_peak_c"},
		{"46097.5", "15", "68", "118", "21", "8", "66"}, {"2026-03-16", "15", "68", "118", "21", "8", "hot"}}
	pull, stop := iter.Pull(slices.Values(rows))
	defer stop()
	next := func() ([]string, error) {
		if row, more := pull(); more {
			return row, nil
		}
		return nil, io.EOF
	}
	log, err := ReadSheet("log.xlsx", Sheet{Next: next}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	checkAccounts(t, log)
	if len(log.Runs) != 1 || log.Runs[0].Date() != "2026-03-16T12:00" || log.Runs[0].Line != 3 || len(log.Problems) != 1 || log.Problems[0].Line != 4 {
		t.Errorf("%v, %v", log.Runs, log.Problems)
	}
}
