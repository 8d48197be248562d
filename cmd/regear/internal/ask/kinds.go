package ask

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze/drivetrain"
	"regear/analyze/nearest"
	"regear/analyze/run"
	"regear/analyze/units"
)

// What can be asked of a run. Beyond these bounds, and those of a car file, lies a typing
// error or a wrong unit, which deserves an error rather than an answer; common practice, no
// source.
const (
	coldestAir, hottestAir  units.Celsius = -60, 70
	shortestRun, longestRun units.Minutes = 0.1, 24 * 60
	mostTeethUp                           = 400
	mostOfANumber                         = 1e6
)

var (
	degrees = Units{"C", "F"}
	lengths = Units{"mm", "in"}
)

// The kinds of values.
var (
	// Air is the air's temperature in a run.
	Air = Kind[units.Celsius]{Name: "TEMP", Parse: bounded(units.ParseTemperature, func(c units.Celsius) bool { return c >= coldestAir && c <= hottestAir },
		fmt.Sprintf("is no air to drive in, which lies between %g and %g °C: check the unit", float64(coldestAir), float64(hottestAir))), Units: degrees}
	// Length is a tire's diameter.
	Length = Kind[units.Millimeters]{Name: "LENGTH", Parse: carfile.ParseTire, Units: lengths}
	// TireChoice is a tire by its diameter or by its name in the car file.
	TireChoice = Kind[Tire]{Name: "LENGTH|NAME", Parse: parseTireChoice, Units: lengths}
	// RunMinutes is the length of a run.
	RunMinutes = Kind[units.Minutes]{Name: "N", Parse: bounded(units.ParseMinutes, func(m units.Minutes) bool { return m >= shortestRun && m <= longestRun },
		fmt.Sprintf("is no run's length, which lies between %g and %g minutes", float64(shortestRun), float64(longestRun)))}
	// Confidence is a wanted chance.
	Confidence = Kind[float64]{Name: "P", Parse: bounded(parseShare, func(p float64) bool { return p > 0 && p < 1 },
		"a confidence lies between 0 and 1, such as 0.8 or 80%")}
	// Cells is a number of battery cells in series.
	Cells = Count("N", 1, carfile.MaxCells)
	// Gear is the teeth of one gear.
	Gear = Count("TEETH", 1, carfile.MaxTeeth)
	// Gears are gears to choose from, in rising order: "11-16", "11,13,15" or both.
	Gears = Kind[[]int]{Name: "LIST", Parse: parseGears}
	// Above0 is a number above 0.
	Above0 = Kind[float64]{Name: "N", Parse: bounded(units.ParseNumber, func(x float64) bool { return x > 0 && x <= mostOfANumber }, "write a number above 0")}
	// Text is any text, without blanks around it.
	Text = Kind[string]{Name: "TEXT", Parse: func(text string) (string, error) { return strings.TrimSpace(text), nil }}
	// Part is a part that heat is read of.
	Part = Kind[run.Part]{Name: "PART", Parse: parsePart, Words: partNames("")}
)

// Count returns the kind of whole numbers between two bounds.
func Count(name string, least, most int) Kind[int] {
	return Kind[int]{Name: name, Parse: func(text string) (int, error) {
		n, err := strconv.Atoi(strings.TrimSpace(text))
		if err != nil || n < least || n > most {
			return 0, fmt.Errorf("write a whole number from %d to %d", least, most)
		}
		return n, nil
	}}
}

// bounded refuses what parse takes and is not within bounds.
func bounded[T any](parse func(string) (T, error), within func(T) bool, otherwise string) func(string) (T, error) {
	return func(text string) (T, error) {
		value, err := parse(text)
		if err == nil && !within(value) {
			err = errors.New(otherwise)
		}
		return value, err
	}
}

// parseShare reads a share of 1, or of 100 with a percent sign behind it.
func parseShare(text string) (float64, error) {
	number, isPercent := strings.CutSuffix(strings.TrimSpace(text), "%")
	share, err := units.ParseNumber(number)
	if isPercent {
		share /= 100
	}
	return share, err
}

func parseGears(text string) ([]int, error) {
	var teeth []int
	for _, item := range strings.Split(text, ",") {
		low, high, isRange := strings.Cut(item, "-")
		if !isRange {
			high = low
		}
		from, errFrom := Gear.Parse(low)
		to, errTo := Gear.Parse(high)
		switch {
		case errFrom != nil || errTo != nil:
			return nil, fmt.Errorf("write numbers of teeth up to %d, as in 11-16 or 11,13,15", carfile.MaxTeeth)
		case from > to:
			return nil, fmt.Errorf("%d-%d runs backwards: write %d-%d", from, to, to, from)
		}
		for t := from; t <= to; t++ {
			teeth = append(teeth, t)
		}
	}
	slices.Sort(teeth)
	return slices.Compact(teeth), nil
}

func partNames(ending string) []string {
	var names []string
	for _, p := range run.Parts {
		names = append(names, p.String()+ending)
	}
	return names
}

func parsePart(name string) (run.Part, error) {
	name = strings.ToLower(strings.TrimSpace(name))
	if part, ok := run.ParsePart(name); ok {
		return part, nil
	}
	names := partNames("")
	return 0, fmt.Errorf("there is no part %q%s; the parts are %s", name, nearest.DidYouMean(name, names), strings.Join(names, ", "))
}

// Tire is a tire by its diameter, or by its name in the car file where Name is not "".
type Tire struct {
	Diameter units.Millimeters
	Name     string
	// Rim is the text of a diameter that is the size of a rim, "" for any other.
	Rim string
}

// NamesTire reports whether a text is a tire's name, not its diameter: it begins with a letter.
func NamesTire(text string) bool { return text != "" && unicode.IsLetter([]rune(text)[0]) }

func parseTireChoice(text string) (Tire, error) {
	text = strings.TrimSpace(text)
	if !NamesTire(text) {
		m, err := carfile.ParseTire(text)
		tire := Tire{Diameter: m}
		if carfile.IsRimSize(text) {
			tire.Rim = text
		}
		return tire, err
	}
	return Tire{Name: text}, nil
}

// Problems returns what to ask about a tire of a car before it is used, as a problem of what it
// was said under.
func (t Tire) Problems(said string, setup *carfile.Car) []run.Problem {
	text := t.Rim
	if size, ok := setup.Rims[t.Name]; ok {
		text = t.Name + " = " + size
	}
	if text == "" {
		return nil
	}
	return []run.Problem{{Position: run.Position{File: said}, Value: text,
		What: drivetrain.RimSize, Do: drivetrain.MeasureAcrossTire, Ask: true}}
}

// Of returns the diameter of a tire of a car. It fails where the car file does not know
// the tire's name.
func (t Tire) Of(setup *carfile.Car) (units.Millimeters, error) {
	if t.Name == "" {
		return t.Diameter, nil
	}
	if m, ok := setup.Tires[t.Name]; ok {
		return m, nil
	}
	names := slices.Sorted(maps.Keys(setup.Tires))
	if len(names) == 0 {
		return 0, errors.New("write a diameter with its unit, as in 118mm; the car file names no tire of this car")
	}
	return 0, fmt.Errorf("the car file has no such tire%s; it has %s", nearest.DidYouMean(t.Name, names), strings.Join(names, ", "))
}

// Limits are the temperatures that parts should stay under, as far as they were said. The
// zero Limits says nothing.
type Limits struct {
	// said holds what was said of a part. One that is not Given leaves the part unjudged.
	said run.ByPart[Optional[units.Celsius]]
}

// Value returns the value that adds to l: a part and its limit, as in motor=80C, or
// motor=none.
func (l *Limits) Value(name, usage string) Value {
	return Value{Name: name, Kind: partTemperature, Usage: usage, Known: partNames("="), Units: degrees, Take: l.add}
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
	return Value{Name: name, Kind: partTemperature, Usage: usage, Known: partNames("="), Units: degrees, Take: func(text string) error {
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

func cutPart(text, wanted string) (part run.Part, said string, err error) {
	name, said, found := strings.Cut(text, "=")
	if !found {
		return 0, "", fmt.Errorf("write a part and its %s", wanted)
	}
	part, err = parsePart(name)
	return part, said, err
}
