package carfile

import (
	"reflect"

	"regear/analyze/units"
)

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
