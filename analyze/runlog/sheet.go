package runlog

import (
	"fmt"
	"math"
	"slices"
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
	src := &sheetRows{Sheet: sheet, date: -1}
	first := firstRows(src, previewRows)
	if len(first) > 0 {
		if lay, _, err := findHeader(name, first, own); err == nil {
			src.date = lay.date
		}
	}
	for _, r := range first {
		src.dated(r.cells)
	}
	return readRows(name, &replay{first, src}, 0, own, opts)
}

// sheetRows counts the rows of a sheet, and judges their cells as text.
type sheetRows struct {
	Sheet
	line int
	date int // the place of the column date, -1 while it is not known
}

func (s *sheetRows) next() (rawRow, error) {
	for {
		cells, err := s.Next()
		if err != nil {
			return rawRow{}, err
		}
		s.line++
		if blank(cells) {
			continue
		}
		r := rawRow{line: s.line, cells: cells}
		if r.problem, r.place = unreadable(cells); r.problem == nil {
			r.problem, r.place = tooLong(cells)
		}
		s.dated(cells)
		return r, nil
	}
}

// tooLong returns what is wrong with a row that holds more than a cell of CSV may, and the
// cell.
func tooLong(cells []string) (*run.Problem, int) {
	at := slices.IndexFunc(cells, func(cell string) bool { return len(cell) > maxCellBytes })
	if at < 0 {
		return nil, 0
	}
	p := problem(fmt.Sprintf("is longer than %d bytes", maxCellBytes), "shorten it")
	p.Value = excerpt(cells[at])
	return p, at + 1
}

// dated turns the count of days in the column date into a date.
func (s *sheetRows) dated(cells []string) {
	if s.date < 0 || s.date >= len(cells) {
		return
	}
	if count, err := units.ParseNumber(cells[s.date]); err == nil && isDayCount(count) {
		when, hasTime := dayCounted(count, s.From1904)
		cells[s.date] = run.Run{When: when, HasTime: hasTime}.Date()
	}
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
