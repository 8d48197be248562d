package runlog

import (
	"cmp"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"

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
	cell = inFigures(cell)
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

// The forms of dates that name their month, and of a day of the week in front of any other.
var (
	dayMonth = regexp.MustCompile(`^(?:\pL+\.?,? +)?(\d{1,2})\.?[ -]*(?:de )?(\pL+)\.?[ ,-]*(?:de )?(\d{4}|\d{2})(?:$|[ ,]+(.*)$)`)
	monthDay = regexp.MustCompile(`^(?:\pL+\.?,? +)?(\pL+)\.? (\d{1,2}),? +(\d{4}|\d{2})(?:$|[ ,]+(.*)$)`)
	weekday  = regexp.MustCompile(`^\pL+\.?,? +(\d.*)$`)
)

// inFigures writes a date that names its month or its day of the week in figures: "9 May 2026" as
// 2026-5-9, "Sa, 09.05.2026" as 09.05.2026. Others stay as they are.
func inFigures(cell string) string {
	if len(cell) > maxExcerpt || strings.IndexFunc(cell, unicode.IsLetter) < 0 {
		return cell
	}
	parts := dayMonth.FindStringSubmatch(cell)
	if parts == nil {
		if parts = monthDay.FindStringSubmatch(cell); parts != nil {
			parts[1], parts[2] = parts[2], parts[1]
		}
	}
	if parts == nil {
		return weekday.ReplaceAllString(cell, "$1")
	}
	month := names().month(strings.Join(wordsOf(parts[2]), " "))
	if month == 0 {
		return cell
	}
	if len(parts[3]) == 2 {
		parts[3] = "20" + parts[3]
	}
	return strings.TrimSpace(fmt.Sprintf("%s-%d-%s %s", parts[3], month, parts[1], parts[4]))
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
	{regexp.MustCompile(`^\d{1,2}-\d{1,2}-(?:\d{2}|\d{4})$`), yearLast, "", ""},
	{regexp.MustCompile(`^\d{5}$`), "", "is a spreadsheet's count of days, not a date", "format the column as a date before it is saved as CSV"},
	{regexp.MustCompile(`^\d{1,2}-\d{1,2}-\d{1,9}$`), "", "has no year of two or four digits", writeISO},
	{regexp.MustCompile(``), "", "is not a date", writeISO},
}

// pointDate is a date of points whose year stands last: where people write so, the day comes first.
// Common practice, no source.
var pointDate = regexp.MustCompile(`^\d{1,2}\.\d{1,2}\.(?:\d{2}|\d{4})$`)

func parseDay(text string, order DateOrder) (day time.Time, fits fit, p *run.Problem) {
	if order == OrderOfLog && pointDate.MatchString(text) {
		if day, _, p := parseDay(text, DayFirst); p == nil {
			return day, fitsDay, nil
		}
	}
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
	if at := len(text) - 3; text[at] == '-' {
		text = text[:at] + "-20" + text[at+1:] // 26 is 2026
	}
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

// past returns the one order in which a date that fits both, here read day first, does not lie in
// the future, fitsAny if that leaves both or none.
func (o *Options) past(dayFirst time.Time) fit {
	latest := o.Now.Add(otherClocks)
	day, month := dayFirst.After(latest), daySwapped(dayFirst).After(latest)
	switch {
	case o.Now.IsZero() || day == month:
		return fitsAny
	case day:
		return fitsMonth
	}
	return fitsDay
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

// withClock returns the cells of a row with the time of day beside its date, where the date has none.
func (r *reader) withClock(line int, cells []string) []string {
	day, cell := clean(cells[r.date]), clean(cells[r.clock])
	if cell == "" || day == "" || strings.Contains(day, ":") {
		return cells
	}
	when, ok := clockIn(cell)
	if !ok {
		if !isUnmeasured(cell) {
			r.log.Lost = append(r.log.Lost, run.Problem{Position: run.Position{File: r.File, Line: line}, Column: r.header[r.clock],
				Value: excerpt(cell), What: "is no time of day", Do: "write it as 15:04"})
		}
		return cells
	}
	cells = slices.Clone(cells)
	cells[r.date] = day + " " + when
	return cells
}

// clockMarks are the forms of times of day beyond those of parseClock: 15h04, 15.04, 15h.
var clockMarks = regexp.MustCompile(`^(\d{1,2}) ?[hH.] ?(\d{2})?$`)

// clockIn returns the time of day in a cell as parseClock reads it, or as a sheet counts it, and
// whether there is one.
func clockIn(cell string) (text string, ok bool) {
	text = cell
	if at := strings.LastIndexAny(cell, "0123456789") + 1; at < len(cell) && names().says("o_clock", cell[at:]) {
		text = trim(cell[:at])
	}
	if parts := clockMarks.FindStringSubmatch(text); parts != nil {
		text = parts[1] + ":" + cmp.Or(parts[2], "00")
	} else if n, err := units.ParseNumber(text); err == nil && n >= 0 && n < 1 {
		text = time.Time{}.Add(time.Duration(math.Round(n*24*60*60)) * time.Second).Format(time.TimeOnly)
	}
	text = strings.NewReplacer(". m.", "m", "a.m.", "am", "p.m.", "pm").Replace(strings.ToLower(text))
	_, ok = parseClock(text)
	return text, ok
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

// Counts of days that dates can be: from 1927 to 2173, or from 1931 to 2177. Above lies ISO 8601's
// basic form, 20260314.
const leastDays, mostDays = 10_000, 100_000

// dated turns a count of days into a date.
func (s *Sheet) dated(cell string) string {
	count, err := units.ParseNumber(cell)
	if err != nil || count < leastDays || count >= mostDays {
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
