package ask

import (
	"errors"
	"fmt"
	"strings"

	"regear/advise/carfile"
	"regear/analyze/drivetrain"
	"regear/analyze/units"
)

// Car is a car as its driver describes it for the car file.
type Car struct{ carfile.Draft }

// The names of values of a [Car] that are asked for in a way of their own.
const (
	CarName  = "name"
	CarTires = "tires"
)

// InternalRatio says what the internal ratio is and where to find it.
const InternalRatio = "turns of the spur for one turn of both wheels: see the\ncar's manual, or count them; 1 if there is no gear behind the spur"

// Values returns all that can be said of c, in the order in which a driver thinks of it.
func (c *Car) Values() []Value {
	return []Value{
		{Name: CarName, Kind: "TEXT", Usage: "name of the car, as the log has it", Take: into(Text.Parse, &c.Name)},
		{Name: "pinions", Kind: Gears.Name, Usage: "pinions at hand, as in 11-16 or 11,13,15", Take: into(Gears.Parse, &c.Pinions)},
		{Name: "spurs", Kind: Gears.Name, Usage: "spurs at hand", Take: into(Gears.Parse, &c.Spurs)},
		{Name: "pitch", Kind: "PITCH", Usage: `pitch of the gears' teeth, as in "module 0.8" or "48 dp"`, Take: asText(drivetrain.ParsePitch, &c.Pitch)},
		{Name: "internal-ratio", Kind: "RATIO", Usage: "internal ratio, " + InternalRatio, Take: into(numberAbove0, &c.Internal)},
		{Name: CarTires, Kind: "NAME=LENGTH,...", Usage: "tires by name and diameter, as in big=118mm,small=104mm", Take: c.takeTires},
		{Name: "mount", Kind: "LEAST-MOST", Usage: "least and most teeth of pinion and spur together that the mount takes, as in 80-90", Take: c.takeMount},
		{Name: "kv", Kind: "N", Usage: "motor's unloaded turns a minute for each volt", Take: into(numberAbove0, &c.KV)},
		{Name: "cells", Kind: Cells.Name, Usage: "battery cells in series", Take: asText(Cells.Parse, &c.Cells)},
		{Name: "motor-limit", Kind: "TEMP, WHOSE", Usage: `motor's limit and whose it is, as in "80C, the maker's sheet"`, Units: degrees, Take: limit(&c.Motor, &c.MotorWhose)},
		{Name: "esc-limit", Kind: "TEMP, WHOSE", Usage: "ESC's limit and whose it is", Units: degrees, Take: limit(&c.ESC, &c.ESCWhose)},
		{Name: "battery-limit", Kind: "TEMP, WHOSE", Usage: "battery's limit and whose it is", Units: degrees, Take: limit(&c.Battery, &c.BatteryWhose)},
	}
}

func into[T any](parse func(string) (T, error), to *T) func(text string) error {
	return func(text string) (err error) { *to, err = parse(text); return err }
}

func asText[T any](parse func(string) (T, error), to *string) func(text string) error {
	return func(text string) error {
		_, err := parse(text)
		*to = strings.TrimSpace(text)
		return err
	}
}

// numberAbove0 returns the text of a number with a point for its decimal mark, as
// TOML wants it.
func numberAbove0(text string) (string, error) {
	x, err := units.ParseNumber(text)
	if err == nil && x <= 0 {
		err = errors.New("write a number above 0")
	}
	return strings.Replace(strings.TrimPrefix(strings.TrimSpace(text), "+"), ",", ".", 1), err
}

func (c *Car) takeTires(text string) error {
	var names, sizes []string
	for _, item := range strings.Split(text, ",") {
		name, size, found := strings.Cut(item, "=")
		if !found {
			return errors.New("write a name and its diameter, as in big=118mm, small=104mm")
		}
		if _, err := Length.Parse(size); err != nil {
			return fmt.Errorf("%q: %w", size, err)
		}
		name, err := TireName.Parse(name)
		if err != nil {
			return fmt.Errorf("%q: %w", name, err)
		}
		names, sizes = append(names, name), append(sizes, strings.TrimSpace(size))
	}
	c.TireNames, c.TireSizes = names, sizes
	return nil
}

// TireName is a name that [TireChoice] takes for one.
var TireName = Kind[string]{Name: "NAME", Parse: func(text string) (string, error) {
	choice, err := TireChoice.Parse(text)
	if err != nil || choice.Name == "" {
		return text, errors.New("a tire's name begins with a letter")
	}
	return choice.Name, nil
}}

func (c *Car) takeMount(text string) error {
	least, most, found := strings.Cut(text, "-")
	l, errL := gearSum.Parse(least)
	m, errM := gearSum.Parse(most)
	if !found || errL != nil || errM != nil || l > m {
		return errors.New("write the least and the most teeth of both gears together, as in 80-90")
	}
	c.LeastTeeth, c.MostTeeth = strings.TrimSpace(least), strings.TrimSpace(most)
	return nil
}

var gearSum = Count("", 2, 2*carfile.MaxTeeth)

func limit(under, whose *string) func(text string) error {
	return func(text string) error {
		degrees, owner, _ := strings.Cut(text, ", ")
		if _, err := carfile.ParseLimit(degrees); err != nil {
			return err
		}
		*under, *whose = strings.TrimSpace(degrees), strings.TrimSpace(owner)
		return nil
	}
}
