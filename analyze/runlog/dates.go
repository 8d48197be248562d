package runlog

import (
	"fmt"
	"regear/analyze/run"
	"slices"
	"strconv"
	"strings"
	"time"
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
	for o, n := range dateOrders {
		if n == name {
			return DateOrder(o), nil
		}
	}
	return 0, fmt.Errorf("%q is no date order: write day-first or month-first", name)
}

// zones keeps one location for each offset from UTC, so that a million times
// don't have a million locations.
type zones map[int]*time.Location

func (z zones) at(seconds int) *time.Location {
	loc, ok := z[seconds]
	if !ok {
		loc = time.FixedZone("", seconds)
		z[seconds] = loc
	}
	return loc
}

// parseISO reads the usual forms of an ISO 8601 date and date-time without a
// zone: 2026-03-14, 2026-03-14T15:04, 2026-03-14 15:04:05. It is the fast path of
// parseWhen and agrees with it.
func parseISO(s string) (when time.Time, hasTime, ok bool) {
	if len(s) != 10 && len(s) != 16 && len(s) != 19 || s[4] != '-' || s[7] != '-' {
		return time.Time{}, false, false
	}
	year, ok1 := digits(s[:4])
	month, ok2 := digits(s[5:7])
	day, ok3 := digits(s[8:10])
	if !ok1 || !ok2 || !ok3 || !isDay(year, month, day) {
		return time.Time{}, false, false
	}
	hour, minute, second := 0, 0, 0
	if hasTime = len(s) > 10; hasTime {
		if s[10] != 'T' && s[10] != ' ' || s[13] != ':' {
			return time.Time{}, false, false
		}
		hour, ok1 = digits(s[11:13])
		minute, ok2 = digits(s[14:16])
		if len(s) == 19 {
			second, ok3 = digits(s[17:])
			ok3 = ok3 && s[16] == ':'
		}
		if !ok1 || !ok2 || !ok3 || hour > 23 || minute > 59 || second > 59 {
			return time.Time{}, false, false
		}
	}
	return time.Date(year, time.Month(month), day, hour, minute, second, 0, time.UTC), hasTime, true
}

// digits reads an unsigned number of a few digits and nothing else.
func digits(s string) (n int, ok bool) {
	for i := range len(s) {
		d := s[i] - '0'
		if d > 9 {
			return 0, false
		}
		n = n*10 + int(d)
	}
	return n, len(s) > 0 && len(s) < 10
}

var monthDays = [...]int{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}

// isDay reports whether the Gregorian calendar has that day.
func isDay(year, month, day int) bool {
	if month < 1 || month > 12 || day < 1 || year > 9999 {
		return false
	}
	leap := month == 2 && year%4 == 0 && (year%100 != 0 || year%400 == 0)
	return day <= monthDays[month-1] || leap && day == 29
}

// parseWhen reads a date or date-time in every accepted form. Under OrderOfLog a day that
// fits both orders is read day first.
func parseWhen(s string, order DateOrder, z zones) (when time.Time, hasTime bool, fits fit, f fault) {
	day, clock := s, ""
	if at := strings.IndexAny(s, "Tt "); at >= 0 {
		day, clock = s[:at], strings.TrimSpace(s[at+1:])
	}
	year, month, dom, fits, f := parseDay(day, order)
	if !f.none() {
		return time.Time{}, false, 0, f
	}
	if !isDay(year, month, dom) {
		return time.Time{}, false, 0, noDay
	}
	date := time.Date(year, time.Month(month), dom, 0, 0, 0, 0, time.UTC)
	if clock == "" {
		return date, false, fits, fault{}
	}
	since, zone, ok := parseClock(clock, z)
	if !ok {
		return time.Time{}, false, 0, fault{what: "has a time of day that can't be read", do: "write it as 2026-03-14T15:04"}
	}
	return time.Date(year, time.Month(month), dom, 0, 0, 0, 0, zone).Add(since), true, fits, fault{}
}

// fit says which orders a date whose year stands last fits.
type fit uint8

const (
	fitsAny   fit = iota // the same day in both, or its order was named
	fitsDay              // day first alone
	fitsMonth            // month first alone
	fitsBoth             // a day in each
)

var noDay = fault{what: "is a day that the calendar does not have", do: "check the month and the day"}

const writeISO = "write it as ISO 8601 does: 2026-03-14, or 2026-03-14T15:04"

// parseDay reads the date of a date-time. The day may still not exist.
func parseDay(s string, order DateOrder) (year, month, day int, fits fit, f fault) {
	notDate := fault{what: "is not a date", do: writeISO}
	if len(s) == 8 {
		if n, ok := digits(s); ok {
			return n / 10000, n / 100 % 100, n % 100, fitsAny, fault{} // ISO 8601, basic format
		}
	}
	if _, ok := digits(s); ok && len(s) == 5 {
		return 0, 0, 0, 0, fault{what: "is a spreadsheet's count of days, not a date",
			do: "format the column as a date before it is saved as CSV"}
	}
	parts, ok := threeNumbers(s)
	a, b, c := parts[0], parts[1], parts[2]
	switch {
	case !ok:
		return 0, 0, 0, 0, notDate
	case a.length == 4 && b.length <= 2 && c.length <= 2:
		return a.value, b.value, c.value, fitsAny, fault{}
	case a.length > 2 || b.length > 2:
		return 0, 0, 0, 0, notDate
	case c.length != 4:
		return 0, 0, 0, 0, fault{what: "has no year of four digits", do: writeISO}
	}
	year = c.value
	dayFirst, monthFirst := isDay(year, b.value, a.value), isDay(year, a.value, b.value)
	switch {
	case !dayFirst && !monthFirst:
		return 0, 0, 0, 0, noDay
	case order == DayFirst && !dayFirst, order == MonthFirst && !monthFirst:
		return 0, 0, 0, 0, fault{what: "is no day, read " + order.String(), do: "check it, and the order asked for"}
	case order != OrderOfLog || a.value == b.value:
	case !monthFirst:
		fits = fitsDay
	case !dayFirst:
		fits = fitsMonth
	default:
		fits = fitsBoth
	}
	if order == MonthFirst || fits == fitsMonth {
		return year, a.value, b.value, fits, fault{}
	}
	return year, b.value, a.value, fits, fault{}
}

type datePart struct{ value, length int }

// threeNumbers splits a date at its two hyphens, slashes or points.
func threeNumbers(s string) (parts [3]datePart, ok bool) {
	mark := strings.IndexAny(s, "-/.")
	if mark < 0 || strings.Count(s, s[mark:mark+1]) != 2 {
		return parts, false
	}
	for i, text := range strings.Split(s, s[mark:mark+1]) {
		value, ok := digits(text)
		if !ok {
			return parts, false
		}
		parts[i] = datePart{value, len(text)}
	}
	return parts, true
}

// datesFound is what a log's dates say of their order.
type datesFound struct {
	fits      [fitsBoth]bool // whether some date fits one order alone
	undecided []undecided
}

// undecided is a date that fits both orders.
type undecided struct {
	line     int
	cell     string
	dayFirst time.Time
}

func (d *datesFound) add(fits fit, line int, cell string, when time.Time) {
	switch fits {
	case fitsDay, fitsMonth:
		d.fits[fits] = true
	case fitsBoth:
		d.undecided = append(d.undecided, undecided{line, excerpt(cell), when})
	}
}

func (d *datesFound) join(other datesFound) {
	d.fits[fitsDay] = d.fits[fitsDay] || other.fits[fitsDay]
	d.fits[fitsMonth] = d.fits[fitsMonth] || other.fits[fitsMonth]
	d.undecided = append(d.undecided, other.undecided...)
}

// order returns the one order that all dates fit, OrderOfLog if there is none or more.
func (d *datesFound) order() DateOrder {
	switch {
	case d.fits[fitsDay] == d.fits[fitsMonth]:
		return OrderOfLog
	case d.fits[fitsDay]:
		return DayFirst
	}
	return MonthFirst
}

// settleDates reads the dates that can be two days in the order of the log's other dates,
// or refuses them.
func (log *Log) settleDates(found datesFound) {
	log.Format.DateOrder = found.order()
	if len(found.undecided) == 0 || log.Format.DateOrder == DayFirst {
		return
	}
	lines := make(map[int]bool, len(found.undecided))
	for _, u := range found.undecided {
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
	column := log.columnOf("date")
	log.Warnings = slices.DeleteFunc(log.Warnings, func(p run.Problem) bool { return lines[p.Line] })
	log.refuse(func(r *run.Run) bool { return lines[r.Line] })
	for _, u := range found.undecided {
		log.Problems = append(log.Problems, run.Problem{Position: run.Position{File: log.Name, Line: u.line}, Column: column, Value: u.cell,
			What:   fmt.Sprintf("can be %s or %s", longDate(u.dayFirst), longDate(daySwapped(u.dayFirst))),
			Do:     "write it as ISO 8601 does: " + u.dayFirst.Format(time.DateOnly) + " or " + daySwapped(u.dayFirst).Format(time.DateOnly),
			Remedy: run.Remedy{Kind: run.ChooseDateOrder}})
	}
	log.sort()
}

// daySwapped returns the moment whose day and month change places, where it exists.
func daySwapped(t time.Time) time.Time {
	return time.Date(t.Year(), time.Month(t.Day()), int(t.Month()), t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), t.Location())
}

// longDate writes a day with its month in words.
func longDate(t time.Time) string { return t.Format("2 January 2006") }

// parseClock reads a time of day: 15:04, 15:04:05, 15:04:05.25, 1504, 3:04 pm,
// each with or without a zone Z, +02:00, +0200 or +02.
func parseClock(s string, z zones) (sinceMidnight time.Duration, zone *time.Location, ok bool) {
	s = strings.ToLower(s)
	zone = time.UTC
	if at := strings.IndexAny(s, "z+-"); at >= 0 {
		offset, ok := parseOffset(s[at:])
		if !ok {
			return 0, nil, false
		}
		zone, s = z.at(offset), strings.TrimSpace(s[:at])
	}
	half := -1 // of the day; -1 on a clock of 24 hours
	for i, mark := range []string{"am", "pm"} {
		if rest, ok := strings.CutSuffix(s, mark); ok {
			half, s = i, strings.TrimSpace(rest)
		}
	}
	hour, minute, seconds, ok := splitClock(s)
	h, ok1 := digits(hour)
	m, ok2 := digits(minute)
	sec, ok3 := parseSeconds(seconds)
	if !ok || !ok1 || !ok2 || !ok3 || h > 23 || m > 59 {
		return 0, nil, false
	}
	if half >= 0 {
		if h < 1 || h > 12 {
			return 0, nil, false
		}
		h = h%12 + 12*half
	}
	return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + sec, zone, true
}

// splitClock parts hours, minutes and seconds, with colons or without.
func splitClock(s string) (hour, minute, seconds string, ok bool) {
	parts := strings.Split(s, ":")
	switch {
	case len(parts) == 1 && (len(s) == 4 || len(s) == 6):
		return s[:2], s[2:4], s[4:], true
	case len(parts) == 2 && len(parts[0]) <= 2 && len(parts[1]) == 2:
		return parts[0], parts[1], "", true
	case len(parts) == 3 && len(parts[0]) <= 2 && len(parts[1]) == 2 && len(parts[2]) >= 2:
		return parts[0], parts[1], parts[2], true
	}
	return "", "", "", false
}

// parseSeconds reads "", "05" and "05.25".
func parseSeconds(s string) (time.Duration, bool) {
	if s == "" {
		return 0, true
	}
	whole, fraction, marked := strings.Cut(strings.Replace(s, ",", ".", 1), ".")
	n, ok := digits(whole)
	if !ok || len(whole) != 2 || n > 59 {
		return 0, false
	}
	d := time.Duration(n) * time.Second
	if !marked {
		return d, true
	}
	if _, ok := digits(fraction); !ok {
		return 0, false
	}
	part, err := strconv.Atoi((fraction + "000000000")[:9])
	return d + time.Duration(part), err == nil
}

// parseOffset reads z, +02:00, +0200 and +02 as seconds east of UTC.
func parseOffset(s string) (seconds int, ok bool) {
	if s == "z" {
		return 0, true
	}
	hh, mm, colon := strings.Cut(s[1:], ":")
	if !colon && len(hh) == 4 {
		hh, mm = hh[:2], hh[2:]
	}
	if mm == "" && !colon {
		mm = "00"
	}
	h, ok1 := digits(hh)
	m, ok2 := digits(mm)
	if !ok1 || !ok2 || len(hh) != 2 || len(mm) != 2 || h > 23 || m > 59 {
		return 0, false
	}
	if s[0] == '-' {
		h, m = -h, -m
	}
	return h*3600 + m*60, true
}
