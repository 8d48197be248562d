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

// Day is a calendar day.
var Day = Kind[time.Time]{Name: "DATE", Parse: parseDay}

func parseDay(text string) (time.Time, error) {
	day, err := time.Parse(time.DateOnly, strings.TrimSpace(text))
	if err != nil {
		err = errors.New("write a day as 2026-05-16")
	}
	return day, err
}

// RunFilter is which runs are wanted. The zero RunFilter wants all.
type RunFilter struct {
	since, until Optional[time.Time]
	pinions      Optional[[]int]
	tire         Optional[units.Millimeters]
}

// Values returns all that can be said of f.
func (f *RunFilter) Values() []Value {
	return []Value{
		Day.Value("since", "only runs of this day and later, as in 2026-05-16", &f.since),
		Day.Value("until", "only runs of this day and earlier", &f.until),
		Gears.Value("pinion", "only runs with these pinions, as in 16 or 14-16", &f.pinions),
		Length.Value("tire", "only runs on tires of this diameter, to half a millimetre, as in 118mm or 4.65in", &f.tire),
	}
}

// Wants reports whether a run passes every filter.
func (f *RunFilter) Wants(r *run.Run) bool {
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
	return !f.tire.Given || math.Abs(float64(r.Tire-f.tire.Value)) <= float64(sameTire)
}
