package ask

import (
	"errors"
	"math"
	"slices"
	"strings"
	"time"

	"regear/analyze/run"
	"regear/analyze/units"
)

// The kinds of days that bound others: a month stands for its first day or for its last.
var (
	firstDay = Kind[time.Time]{Name: "DATE", Parse: func(text string) (time.Time, error) { return parseDay(text, 0) }}
	lastDay  = Kind[time.Time]{Name: "DATE", Parse: func(text string) (time.Time, error) { return parseDay(text, 1) }}
)

// parseDay reads a day, or a month as its first day, or as that of a later month less one day.
func parseDay(text string, later int) (time.Time, error) {
	text = strings.TrimSpace(text)
	if month, err := time.Parse("2006-01", text); err == nil {
		return month.AddDate(0, later, -later), nil
	}
	day, err := time.Parse(time.DateOnly, text)
	if err != nil {
		err = errors.New("write a day as 2026-05-16, or a month as 2026-05")
	}
	return day, err
}

var someRuns = Count("N", 1, 1_000_000)

// RunFilter is which runs are wanted. The zero RunFilter wants all.
type RunFilter struct {
	since, until Optional[time.Time]
	pinions      Optional[[]int]
	tire         Optional[units.Millimeters]
	surface      Optional[string]
	last         Optional[int]
}

// Values returns all that can be said of f.
func (f *RunFilter) Values() []Value {
	return []Value{
		firstDay.Value("since", "only runs of this day or month and later, as in 2026-05-16 or 2026-05", &f.since),
		lastDay.Value("until", "only runs of this day or month and earlier", &f.until),
		Gears.Value("pinion", "only runs with these pinions, as in 16 or 14-16", &f.pinions),
		Length.Value("tire", "only runs on tires of this diameter, to half a millimetre, as in 118mm or 4.65in", &f.tire),
		Text.Value("surface", "only runs on this surface", &f.surface),
		someRuns.Value("last", "only this many of the latest runs", &f.last),
	}
}

// Of returns the runs that are wanted, in the order of time.
func (f *RunFilter) Of(runs []run.Run) []run.Run {
	var wanted []run.Run
	for i := range runs {
		if f.wants(&runs[i]) {
			wanted = append(wanted, runs[i])
		}
	}
	slices.SortStableFunc(wanted, func(a, b run.Run) int { return a.When.Compare(b.When) })
	if f.last.Given {
		wanted = wanted[max(0, len(wanted)-f.last.Value):]
	}
	return wanted
}

// wants reports whether a run passes every filter of runs by themselves.
func (f *RunFilter) wants(r *run.Run) bool {
	const sameTire units.Millimeters = 0.5
	day := func(t time.Time) run.Day { return (run.Run{When: t}).Day() }
	switch {
	case f.since.Given && r.Day() < day(f.since.Value):
		return false
	case f.until.Given && r.Day() > day(f.until.Value):
		return false
	case f.pinions.Given && !slices.Contains(f.pinions.Value, r.Gearing.Pinion):
		return false
	}
	if f.surface.Given && run.Fold(r.Surface) != run.Fold(f.surface.Value) {
		return false
	}
	return !f.tire.Given || math.Abs(float64(r.Tire-f.tire.Value)) <= float64(sameTire)
}
