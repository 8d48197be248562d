// Package carfile reads the car file: one TOML document in which drivers keep what they
// would otherwise type each time. Its cars' gears, tires, motor, limits, and how far the
// motor moves in its mount.
//
// The package does no I/O beyond the reader that it is given. It is strict: a key that
// it does not know is an error, as a misspelt key would otherwise be a setting silently
// lost. What is allowed and yet odd is left to [File.Check].
package carfile

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/nearest"
	"regear/analyze/run"
	"regear/analyze/units"
)

// File is a car file.
type File struct {
	Name  string
	Units *units.System   // that answers are shown in, nil where the file does not say
	Cars  map[string]*Car // by name

	lines index
}

// Car is one car. What the file does not say is absent: zero, nil or an empty map.
type Car struct {
	Name     string
	Internal float64 // internal ratio
	KV       float64 // unloaded motor turns a minute for each volt
	Cells    int     // in series
	// Boxes holds the gears at hand, each box of one pitch. The first is the box of
	// the car's own pitch, which the file need not name.
	Boxes  []drivetrain.Box
	Tires  map[string]units.Millimeters // diameters by name
	Rims   map[string]string            // by name, the text of the diameters that are rim sizes
	Mount  *drivetrain.Mount
	Limits run.ByPart[Limit]
}

// Limit is the temperature that a part should stay under, and whose figure it is.
type Limit struct {
	Temperature units.Celsius
	Whose       string
}

// Of returns what the file says of a car. A log without a car's name is that of the file's
// only car. Of a car that the file does not know it says nothing: note is why, for the
// driver, and the Car is blank. A file without cars is no reason for a note.
func (f *File) Of(name string) (car *Car, note string) {
	names := slices.Sorted(maps.Keys(f.Cars))
	if known, ok := analyze.CarNamed(name, names); ok {
		return f.Cars[known], ""
	}
	if only := f.Only(); only != nil && name == "" {
		return only, ""
	}
	switch {
	case len(names) == 0:
	case name == "":
		note = fmt.Sprintf("which of its cars this is was not said (%s), so nothing is taken from it", strings.Join(names, ", "))
	default:
		note = fmt.Sprintf("no car %q is in it%s, so nothing is taken from it", name, nearest.DidYouMean(name, names))
	}
	return &Car{}, note
}

// Only returns the file's car if it has no other, or nil.
func (f *File) Only() *Car {
	for _, c := range f.Cars {
		if len(f.Cars) == 1 {
			return c
		}
	}
	return nil
}
