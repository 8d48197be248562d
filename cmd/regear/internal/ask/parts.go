package ask

import (
	"fmt"
	"strings"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze/run"
	"regear/analyze/units"
)

// Limits are the temperatures that parts should stay under, as far as they were said. The
// zero Limits says nothing.
type Limits struct {
	// said holds what was said of a part; not Given is that it is to be left unjudged.
	said run.ByPart[Optional[units.Celsius]]
}

// Value returns the value that adds to l: a part and its limit, as in motor=80C, or
// motor=none.
func (l *Limits) Value(name, usage string) Value {
	return Value{Name: name, Kind: partTemperature, Usage: usage, Known: partNames("="), units: degrees, Take: l.add}
}

const partTemperature = "PART=TEMP"

func (l *Limits) add(text string) error {
	part, said, err := cutPart(text, "limit, as in motor=80C, or motor=none")
	if err != nil {
		return err
	}
	if l.said.Has(part) {
		return fmt.Errorf("the limit of the %s was given before", part)
	}
	var limit Optional[units.Celsius]
	if !strings.EqualFold(strings.TrimSpace(said), "none") {
		limit.Given = true
		if limit.Value, err = carfile.ParseLimit(said); err != nil {
			return err
		}
	}
	l.said.Set(part, limit)
	return nil
}

// Complete returns the limits. Parts that nothing was said of have those of the car file and
// the documented defaults.
func (l *Limits) Complete(setup *carfile.Car) run.ByPart[advise.Limit] {
	limits := advise.DefaultLimits()
	for part, of := range setup.Limits.All() {
		limits.Set(part, advise.Limit{Temperature: of.Temperature, Origin: advise.CarFile, Whose: of.Whose})
	}
	for part, said := range l.said.All() {
		if said.Given {
			limits.Set(part, advise.Limit{Temperature: said.Value, Origin: advise.Given})
		} else {
			limits.Delete(part)
		}
	}
	return limits
}

// Readings returns the value that adds to readings: a part and what it reads, as in
// motor=45C.
func Readings(name, usage string, to *run.Readings) Value {
	return Value{Name: name, Kind: partTemperature, Usage: usage, Known: partNames("="), units: degrees, Take: func(text string) error {
		part, reading, err := cutPart(text, "reading, as in motor=45C")
		if err != nil {
			return err
		}
		if twice := to.Has(part); twice {
			return fmt.Errorf("the reading of the %s was given before", part)
		}
		c, err := carfile.ParseLimit(reading)
		if err == nil {
			to.Set(part, c)
		}
		return err
	}}
}

// cutPart cuts a part from what is said of it.
func cutPart(text, wanted string) (part run.Part, said string, err error) {
	name, said, found := strings.Cut(text, "=")
	if !found {
		return 0, "", fmt.Errorf("write a part and its %s", wanted)
	}
	part, err = parsePart(name)
	return part, said, err
}
