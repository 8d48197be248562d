package runlog

import (
	"fmt"
	"io"
	"math"
	"time"

	"regear/analyze/run"
	"regear/analyze/units"
)

// Sheet is the cells of a spreadsheet, row by row.
type Sheet struct {
	// Next returns the next row, blank ones included. It returns io.EOF behind the
	// last one.
	Next func() ([]string, error)
	// From1904 says that days are counted from 1904 instead of 1900.
	From1904 bool
}

// ReadSheet reads a run log from the rows of a spreadsheet. It differs from [Read]
// in nothing but where rows come from and in dates: those that the sheet holds as
// counts of days are turned into dates. Lines are the sheet's rows.
func ReadSheet(name string, sheet Sheet, opts Options) (*Log, error) {
	own, err := newOwnColumns(opts.Columns)
	if err != nil {
		return nil, err
	}
	var rows []rawRow
	for line := 1; ; line++ {
		cells, err := sheet.Next()
		if err == io.EOF {
			return readRows(name, rows, 0, own, opts)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		if !blank(cells) {
			r := rawRow{line: line, cells: cells, sheet: &sheet}
			r.problem, r.place = unreadable(cells)
			rows = append(rows, r)
		}
	}
}

// dated turns a cell that holds a count of days into a date.
func (s *Sheet) dated(cell string) string {
	count, err := units.ParseNumber(cell)
	if err != nil || !isDayCount(count) {
		return cell
	}
	when, hasTime := dayCounted(count, s.From1904)
	return run.Run{When: when, HasTime: hasTime}.Date()
}

// isDayCount reports whether a number is one of days rather than a date in the
// basic format of ISO 8601, 20260314. The bounds are 1927 and 2173, or 1931 and
// 2177.
func isDayCount(n float64) bool { return n >= 10_000 && n < 100_000 }

// dayCounted returns the moment of a spreadsheet's count of days: days since
// 1899-12-30, or since 1904-01-01, with the time of day as their fraction, as
// github.com/xuri/excelize/v2 reads them too. Counts before March 1900, where the former
// has a day too many, fail isDayCount.
func dayCounted(n float64, from1904 bool) (when time.Time, hasTime bool) {
	epoch := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	if from1904 {
		epoch = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	days, fraction := math.Modf(n)
	seconds := math.Round(fraction * 24 * 60 * 60)
	when = epoch.AddDate(0, 0, int(days)).Add(time.Duration(seconds) * time.Second)
	return when, seconds != 0
}
