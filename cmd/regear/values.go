package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// The types in this file are flag values. Each checks what it is given while the
// command line is read, long before a log is, and knows whether it was given.

// limitFlags is --limit: temperatures by part, and the parts left unjudged.
type limitFlags struct {
	under    map[runlog.Part]units.Celsius
	unjudged map[runlog.Part]bool
}

func newLimitFlags() *limitFlags {
	return &limitFlags{map[runlog.Part]units.Celsius{}, map[runlog.Part]bool{}}
}

func (f *limitFlags) String() string { return "" }
func (f *limitFlags) Type() string   { return "PART=TEMP" }

func (f *limitFlags) Set(text string) error {
	name, limit, found := strings.Cut(text, "=")
	if !found {
		return errors.New("write a part and its limit, as in motor=80C, or motor=none")
	}
	part, err := parsePart(name)
	if err != nil {
		return err
	}
	if _, twice := f.under[part]; twice || f.unjudged[part] {
		return fmt.Errorf("the limit of the %s was given before", part)
	}
	if strings.EqualFold(strings.TrimSpace(limit), "none") {
		f.unjudged[part] = true
		return nil
	}
	c, err := parseLimit(limit)
	if err != nil {
		return err
	}
	f.under[part] = c
	return nil
}

// parsePart finds the part that a flag names.
func parsePart(name string) (runlog.Part, error) {
	name = strings.ToLower(strings.TrimSpace(name))
	if part, ok := runlog.ParsePart(name); ok {
		return part, nil
	}
	var names []string
	for _, p := range runlog.Parts {
		names = append(names, p.String())
	}
	return 0, fmt.Errorf("there is no part %q%s; the parts are %s", name, didYouMean(name, names), strings.Join(names, ", "))
}

// limits adds the car file's and the documented defaults to what was given.
func (f *limitFlags) limits(own *carfile.Car) map[runlog.Part]advise.Limit {
	limits := advise.DefaultLimits()
	for part, l := range own.Limits {
		limits[part] = advise.Limit{Temperature: l.Temperature, Origin: advise.CarFile, Whose: l.Whose}
	}
	for part, c := range f.under {
		limits[part] = advise.Limit{Temperature: c, Origin: advise.Given}
	}
	for part := range f.unjudged {
		delete(limits, part)
	}
	return limits
}

// optional is a flag's value with whether it was given.
type optional[T any] struct {
	value T
	given bool
	parse func(string) (T, error)
	kind  string
}

func (o *optional[T]) String() string { return "" }
func (o *optional[T]) Type() string   { return o.kind }

func (o *optional[T]) Set(text string) error {
	value, err := o.parse(text)
	if err != nil {
		return err
	}
	o.value, o.given = value, true
	return nil
}

// orElse returns the value that was given, or another, and where it came from.
func (o *optional[T]) orElse(other T, origin advise.Origin) (T, advise.Origin) {
	if o.given {
		return o.value, advise.Given
	}
	return other, origin
}

// What can be asked of a next run. Beyond these bounds lies a slip of a finger or of
// a unit, which deserves an error rather than an answer; common practice, no source.
const (
	coldestAir, hottestAir     units.Celsius     = -60, 70
	coldestLimit, hottestLimit units.Celsius     = -60, 500
	smallestTire, largestTire  units.Millimeters = 10, 1000
	shortestRun, longestRun    units.Minutes     = 0.1, 24 * 60
	fewestCells, mostCells                       = 1, 99
	mostTeeth, mostTeethUp                       = 400, 400
)

func parseAir(text string) (units.Celsius, error) {
	c, err := units.ParseTemperature(text)
	if err == nil && (c < coldestAir || c > hottestAir) {
		err = fmt.Errorf("is no air to drive in, which lies between %g and %g °C: check the unit", float64(coldestAir), float64(hottestAir))
	}
	return c, err
}

func parseLimit(text string) (units.Celsius, error) {
	c, err := units.ParseTemperature(text)
	if err == nil && (c < coldestLimit || c > hottestLimit) {
		err = fmt.Errorf("is no limit of a part, which lies between %g and %g °C: check the unit", float64(coldestLimit), float64(hottestLimit))
	}
	return c, err
}

func parseTire(text string) (units.Millimeters, error) {
	m, err := units.ParseLength(text)
	if err == nil && (m < smallestTire || m > largestTire) {
		err = fmt.Errorf("is no tire's diameter, which lies between %g and %g mm: check the unit", float64(smallestTire), float64(largestTire))
	}
	return m, err
}

func parseRunMinutes(text string) (units.Minutes, error) {
	m, err := units.ParseMinutes(text)
	if err == nil && (m < shortestRun || m > longestRun) {
		err = fmt.Errorf("is no run's length, which lies between %g and %g minutes", float64(shortestRun), float64(longestRun))
	}
	return m, err
}

func parseConfidence(text string) (float64, error) {
	p, err := units.ParseNumber(text)
	if err == nil && !(p > 0 && p < 1) {
		err = errors.New("a confidence lies between 0 and 1, such as 0.8")
	}
	return p, err
}

// parseCount returns a parser of whole numbers between two bounds.
func parseCount(least, most int) func(string) (int, error) {
	return func(text string) (int, error) {
		n, err := strconv.Atoi(strings.TrimSpace(text))
		if err != nil || n < least || n > most {
			return 0, fmt.Errorf("write a whole number from %d to %d", least, most)
		}
		return n, nil
	}
}

func parseText(text string) (string, error) { return strings.TrimSpace(text), nil }

var parseGear = parseCount(1, mostTeeth)

// parseTeeth reads gears to choose from: "11-16", "11,13,15" or both.
func parseTeeth(text string) ([]int, error) {
	var teeth []int
	for _, item := range strings.Split(text, ",") {
		low, high, isRange := strings.Cut(item, "-")
		if !isRange {
			high = low
		}
		from, errFrom := parseGear(low)
		to, errTo := parseGear(high)
		switch {
		case errFrom != nil || errTo != nil:
			return nil, fmt.Errorf("write numbers of teeth up to %d, as in 11-16 or 11,13,15", mostTeeth)
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

// choice is a flag that takes one of a few words.
type choice[T any] struct {
	value  T
	words  []string
	values []T // of the words, in their order
}

// newChoice returns a flag that stands at the first of its words.
func newChoice[T any](words []string, values ...T) *choice[T] {
	return &choice[T]{values[0], words, values}
}

func (c *choice[T]) String() string {
	if c.words == nil {
		return "" // the zero value, by which pflag tells defaults apart
	}
	return c.words[0]
}

func (c *choice[T]) Type() string { return strings.Join(c.words, "|") }

func (c *choice[T]) Set(word string) error {
	i := slices.Index(c.words, strings.ToLower(word))
	if i < 0 {
		return fmt.Errorf("write one of %s%s", strings.Join(c.words, ", "), didYouMean(word, c.words))
	}
	c.value = c.values[i]
	return nil
}
