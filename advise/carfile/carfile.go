// Package carfile reads and edits the car file: one TOML document in which drivers keep what they
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
	"reflect"
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

	lines  index
	tables map[string]carTable
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
	if cars := slices.Collect(maps.Values(f.Cars)); len(cars) == 1 {
		return cars[0]
	}
	return nil
}

// document is a car file as TOML has it, its values not yet understood. It is the table of
// the keys that there are: each with its name, and an example that shows how it is written.
type document struct {
	Units string              `toml:"units" example:"units = \"metric\""`
	Cars  map[string]carTable `toml:"cars" example:"[cars.heron]"`
}

type carTable struct {
	Internal *float64 `toml:"internal_ratio" example:"internal_ratio = 2.5"`
	KV       *float64 `toml:"motor_kv" example:"motor_kv = 2200"`
	Cells    *int     `toml:"cells" example:"cells = 4"`
	gearsTable
	Tires      map[string]string `toml:"tires" example:"big = \"118mm\""`
	Mount      *mountTable       `toml:"mount" example:"[cars.heron.mount]"`
	Limits     limitsTable       `toml:"limits" example:"[cars.heron.limits]"`
	OtherGears []gearsTable      `toml:"other_gears" example:"[[cars.heron.other_gears]]"`
}

type gearsTable struct {
	Pitch   string `toml:"pitch" example:"pitch = \"module 0.8\""`
	Spurs   []int  `toml:"spurs" example:"spurs = [68]"`
	Pinions []int  `toml:"pinions" example:"pinions = [13, 15, 17]"`
}

type mountTable struct {
	LeastTeeth  *int   `toml:"least_teeth" example:"least_teeth = 80"`
	MostTeeth   *int   `toml:"most_teeth" example:"most_teeth = 90"`
	KnownPinion *int   `toml:"known_pinion" example:"known_pinion = 17"`
	KnownSpur   *int   `toml:"known_spur" example:"known_spur = 68"`
	Closer      string `toml:"closer" example:"closer = \"2mm\""`
	Farther     string `toml:"farther" example:"farther = \"3mm\""`
}

type limitsTable struct {
	Motor        string `toml:"motor" example:"motor = \"80C\""`
	MotorWhose   string `toml:"motor_whose" example:"motor_whose = \"the maker's sheet\""`
	ESC          string `toml:"esc" example:"esc = \"71C\""`
	ESCWhose     string `toml:"esc_whose" example:"esc_whose = \"the maker's sheet\""`
	Battery      string `toml:"battery" example:"battery = \"60C\""`
	BatteryWhose string `toml:"battery_whose" example:"battery_whose = \"the cell's sheet\""`
}

var (
	keys     = map[string][]string{} // of each table, by its own key; those of the file are under ""
	examples = map[string]string{}   // by key
)

func init() { listKeys("", reflect.TypeFor[document]()) }

// listKeys lists the keys that the fields of a table stand for, and their examples.
func listKeys(table string, of reflect.Type) {
	for of.Kind() == reflect.Pointer || of.Kind() == reflect.Slice || of.Kind() == reflect.Map {
		of = of.Elem()
	}
	if of.Kind() != reflect.Struct {
		return // the key of a value, not of a table
	}
	for _, field := range reflect.VisibleFields(of) {
		if field.Anonymous {
			continue
		}
		key := field.Tag.Get("toml")
		keys[table] = append(keys[table], key)
		examples[key] = field.Tag.Get("example")
		listKeys(key, field.Type)
	}
}

// What may be said of a car, here as elsewhere. Beyond these bounds lies a slip of a finger
// or of a unit. Common practice, no source.
const (
	maxInternal, maxKV                           = 1000, 1e6
	MaxCells, MaxTeeth                           = 99, 400
	minTire, maxTire           units.Millimeters = 10, 1000
	coldestLimit, hottestLimit units.Celsius     = -60, 500
)

// What a car file's values usually lie between. All are common practice without a
// source, wide enough that a value outside is more often a slip than a car.
const (
	leastInternal, mostInternal = 1, 12
	leastKV, mostKV             = 300, 15000
	mostCells                   = 12
	leastTire, mostTire         = 20, 300 // mm
	leastLimit, mostLimit       = 40, 120 // °C
	mostPinion                  = 40
	widestSlot                  = 40 // teeth
)
