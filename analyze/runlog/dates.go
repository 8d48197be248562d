package runlog

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"

	"regear/analyze/run"
	"regear/analyze/units"
)

// DateOrder says how to read a date such as 03/04/2026, whose year stands last.
type DateOrder uint8

// The orders. ISO 8601 dates are read under each of them.
const (
	// OrderOfLog is the one order that all dates of the log fit. A date that fits one order
	// alone is read in it; where the log's dates leave both orders open, or some fit only
	// one and some only the other, a date that can be two days is refused.
	OrderOfLog DateOrder = iota
	DayFirst             // 3 April 2026
	MonthFirst           // 4 March 2026
)

var dateOrders = [...]string{OrderOfLog: "auto", DayFirst: "day-first", MonthFirst: "month-first"}

// String returns the order's name in flags.
func (o DateOrder) String() string { return dateOrders[o] }

// ParseDateOrder returns the order called name, as String writes it.
func ParseDateOrder(name string) (DateOrder, error) {
	if at := slices.Index(dateOrders[:], name); at >= 0 {
		return DateOrder(at), nil
	}
	return 0, fmt.Errorf("%q is no date order: write day-first or month-first", name)
}

const (
	writeISO = "write it as ISO 8601 does: 2026-03-14, or 2026-03-14T15:04"
	notADay  = "is a day that the calendar does not have"
)

// toRFC3339 completes the usual forms of ISO 8601, by their length: 2026-03-14, 2026-03-14T15:04
// and 2026-03-14T15:04:05. Package time reads RFC 3339 five times as fast as it reads other forms.
var toRFC3339 = map[int]string{10: "T00:00:00Z", 16: ":00Z", 19: "Z"}

// parseWhen reads a date or date-time in every accepted form. Under OrderOfLog a day that
// fits both orders is read day first.
func parseWhen(cell string, order DateOrder) (when time.Time, hasTime bool, fits fit, p *run.Problem) {
	switch {
	case cell == "":
		return when, false, 0, problem("is blank", "every run needs its date, as 2026-03-14")
	case startsSpreadsheetError(cell):
		return when, false, 0, problem(spreadsheetError, writeISO)
	}
	if rest, usual := toRFC3339[len(cell)]; usual {
		if when, err := time.Parse(time.RFC3339, cell+rest); err == nil {
			return when, len(cell) > len(time.DateOnly), fitsAny, nil
		}
	}
	text, clock := cell, ""
	if at := strings.IndexAny(cell, "Tt "); at >= 0 {
		text, clock = cell[:at], strings.TrimSpace(cell[at+1:])
	}
	day, fits, p := parseDay(text, order)
	if p != nil || clock == "" {
		return day, false, fits, p
	}
	c, ok := parseClock(clock)
	if !ok {
		return when, false, 0, problem("has a time of day that can't be read", "write it as 2026-03-14T15:04")
	}
	return time.Date(day.Year(), day.Month(), day.Day(), c.Hour(), c.Minute(), c.Second(), c.Nanosecond(), c.Location()), true, fits, nil
}

// fit is the set of orders that a date whose year stands last fits.
type fit uint8

const (
	fitsAny   fit = iota // the same day in both, or its order was named
	fitsDay              // day first alone
	fitsMonth            // month first alone
	fitsBoth  = fitsDay | fitsMonth
)

const yearLast = "year last"

// dayForms are the forms of a date: the first that fits tells the layout to read it by, or why
// it can't be read.
var dayForms = []struct {
	fits             *regexp.Regexp
	layout, what, do string
}{
	{regexp.MustCompile(`^\d{8}$`), "20060102", "", ""}, // the basic form of ISO 8601
	{regexp.MustCompile(`^\d{4}-\d{1,2}-\d{1,2}$`), "2006-1-2", "", ""},
	{regexp.MustCompile(`^\d{1,2}-\d{1,2}-\d{4}$`), yearLast, "", ""},
	{regexp.MustCompile(`^\d{5}$`), "", "is a spreadsheet's count of days, not a date", "format the column as a date before it is saved as CSV"},
	{regexp.MustCompile(`^\d{1,2}-\d{1,2}-\d{1,9}$`), "", "has no year of four digits", writeISO},
	{regexp.MustCompile(``), "", "is not a date", writeISO},
}

func parseDay(text string, order DateOrder) (day time.Time, fits fit, p *run.Problem) {
	for _, mark := range []string{"/", "."} {
		if !strings.Contains(text, "-") {
			text = strings.ReplaceAll(text, mark, "-")
		}
	}
	form := dayForms[0]
	for _, form = range dayForms {
		if form.fits.MatchString(text) {
			break
		}
	}
	switch form.layout {
	case "":
		return day, 0, problem(form.what, form.do)
	case yearLast:
		return parseYearLast(text, order)
	}
	day, err := time.Parse(form.layout, text)
	if err != nil {
		p = problem(notADay, "check the month and the day")
	}
	return day, fitsAny, p
}

func parseYearLast(text string, order DateOrder) (day time.Time, fits fit, p *run.Problem) {
	dayFirst, notDayFirst := time.Parse("2-1-2006", text)
	monthFirst, notMonthFirst := time.Parse("1-2-2006", text)
	switch {
	case notDayFirst != nil && notMonthFirst != nil:
		return day, 0, problem(notADay, "check the month and the day")
	case order == DayFirst && notDayFirst != nil, order == MonthFirst && notMonthFirst != nil:
		return day, 0, problem("is no day, read "+order.String(), "check it, and the order asked for")
	case order == MonthFirst:
		return monthFirst, fitsAny, nil
	case order == DayFirst || dayFirst.Equal(monthFirst):
		return dayFirst, fitsAny, nil
	case notMonthFirst != nil:
		return dayFirst, fitsDay, nil
	case notDayFirst != nil:
		return monthFirst, fitsMonth, nil
	}
	return dayFirst, fitsBoth, nil
}

// undecided is a date that fits both orders.
type undecided struct {
	line     int
	cell     string
	dayFirst time.Time
}

// decideDates reads dates that can be two days in the order of the log's others, or refuses them.
func (r *reader) decideDates() {
	log := r.log
	log.Format.DateOrder = [...]DateOrder{fitsDay: DayFirst, fitsMonth: MonthFirst, fitsBoth: OrderOfLog}[r.alone]
	if len(r.undecided) == 0 || log.Format.DateOrder == DayFirst {
		return
	}
	lines := make(map[int]bool, len(r.undecided))
	for _, u := range r.undecided {
		lines[u.line] = true
	}
	if log.Format.DateOrder == MonthFirst {
		for i := range log.Runs {
			if r := &log.Runs[i]; lines[r.Line] {
				r.When = daySwapped(r.When)
			}
		}
		return
	}
	log.Warnings = slices.DeleteFunc(log.Warnings, func(p run.Problem) bool { return lines[p.Line] })
	log.refuse(func(r *run.Run) bool { return lines[r.Line] })
	for _, u := range r.undecided {
		other := daySwapped(u.dayFirst)
		const inWords = "2 January 2006"
		log.Problems = append(log.Problems, run.Problem{
			Position: run.Position{File: log.Name, Line: u.line}, Column: r.column("date").header, Value: u.cell,
			What:   fmt.Sprintf("can be %s or %s", u.dayFirst.Format(inWords), other.Format(inWords)),
			Do:     "write it as ISO 8601 does: " + u.dayFirst.Format(time.DateOnly) + " or " + other.Format(time.DateOnly),
			Remedy: run.Remedy{Kind: run.ChooseDateOrder}})
	}
}

// daySwapped returns the moment whose day and month change places, where it exists.
func daySwapped(t time.Time) time.Time {
	return time.Date(t.Year(), time.Month(t.Day()), int(t.Month()), t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), t.Location())
}

var (
	clockForms = []string{"15:04", "15:04:05", "1504", "150405"}
	halfForms  = []string{"3:04pm", "3:04:05pm"} // on a clock of 12 hours
	zoneForms  = []string{"Z07:00", "Z0700", "Z07"}
)

// parseClock reads a time of day: 15:04, 15:04:05, 15:04:05.25, 1504, 3:04 pm,
// each with or without a zone Z, +02:00, +0200 or +02. Without one it is in UTC.
func parseClock(text string) (time.Time, bool) {
	text, zone := strings.ToLower(text), time.UTC
	if at := strings.IndexAny(text, "z+-"); at >= 0 {
		t, ok := parseForms(strings.ToUpper(text[at:]), zoneForms)
		if !ok {
			return time.Time{}, false
		}
		_, offset := t.Zone()
		text, zone = strings.TrimSpace(text[:at]), time.FixedZone("", offset)
	}
	forms := clockForms
	for _, half := range []string{"am", "pm"} {
		if clock, ok := strings.CutSuffix(text, half); ok {
			if strings.HasPrefix(strings.TrimLeft(clock, "0"), ":") {
				return time.Time{}, false // it begins at 12, not at 0
			}
			text, forms = strings.TrimSpace(clock)+half, halfForms
		}
	}
	t, ok := parseForms(text, forms)
	return time.Date(1, 1, 1, t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), zone), ok
}

func parseForms(text string, forms []string) (time.Time, bool) {
	for _, form := range forms {
		if t, err := time.Parse(form, text); err == nil {
			return t, true
		}
	}
	return time.Time{}, false
}

// dated turns a count of days into a date.
func (s *Sheet) dated(cell string) string {
	count, err := units.ParseNumber(cell)
	// The bounds are 1927 and 2173, or 1931 and 2177. Above lies ISO 8601's basic form, 20260314.
	if err != nil || count < 10_000 || count >= 100_000 {
		return cell
	}
	when, hasTime := dayCounted(count, s.From1904)
	return run.Run{When: when, HasTime: hasTime}.Date()
}

// dayCounted returns the moment of a spreadsheet's count of days: days since 1899-12-30, or since
// 1904-01-01, with the time of day as their fraction, as github.com/xuri/excelize/v2 reads them
// too. Counts before March 1900, where the former has a day too many, never get here.
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
