package runlog

import (
	"fmt"
	"math"
	"strings"
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
	own, err := ownColumns(opts.Columns)
	if err != nil {
		return nil, err
	}
	src := &sheetRows{rowAfter: sheet.Next}
	first := firstRows(src, previewRows)
	dated := &datedRows{rows: &replay{first, src}, date: -1, from1904: sheet.From1904}
	if len(first) > 0 {
		if lay, _, err := findHeader(name, first, own); err == nil {
			dated.date = lay.date
		}
	}
	return readRows(name, dated, origin{}, own, opts)
}

// sheetRows counts the rows of a sheet and judges their cells as text.
type sheetRows struct {
	rowAfter func() ([]string, error)
	line     int
}

func (s *sheetRows) next() (row, error) {
	for {
		cells, err := s.rowAfter()
		if err != nil {
			return row{}, err
		}
		s.line++
		if len(cells) > 0 && !blank(cells) {
			return row{line: s.line, cells: cells, fault: unfit(cells)}, nil
		}
	}
}

// unfit returns what is wrong with the cells of a sheet's row as text.
func unfit(cells []string) fault {
	if f := unreadable(cells); !f.none() {
		return f
	}
	for i, cell := range cells {
		if len(cell) > maxCellBytes {
			return fault{excerpt(cell), fmt.Sprintf("is longer than %d bytes", maxCellBytes), "shorten it", i + 1}
		}
	}
	return fault{}
}

// datedRows turns the counts of days in one column into dates.
type datedRows struct {
	rows
	date     int // the column's place, -1 while it is not known
	from1904 bool
}

func (d *datedRows) next() (row, error) {
	r, err := d.rows.next()
	if err == nil && d.date >= 0 && d.date < len(r.cells) {
		if count, err := units.ParseNumber(strings.TrimSpace(r.cells[d.date])); err == nil && isDayCount(count) {
			when, hasTime := dayCounted(count, d.from1904)
			r.cells[d.date] = run.Run{When: when, HasTime: hasTime}.Date()
		}
	}
	return r, err
}

// isDayCount reports whether a number is one of days rather than a date in the
// basic format of ISO 8601, 20260314. The bounds are 1927 and 2173, or 1931 and
// 2177.
func isDayCount(n float64) bool { return n >= 10_000 && n < 100_000 }

// dayCounted returns the moment of a spreadsheet's count of days: days since
// 1899-12-30, or since 1904-01-01, with the time of day as their fraction
// (ECMA-376 part 1, 18.17.4.1, from memory). Counts before March 1900, where the
// former has a day too many, fail isDayCount.
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
