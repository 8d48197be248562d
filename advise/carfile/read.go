package carfile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"regear/analyze/drivetrain"
	"regear/analyze/nearest"
	"regear/analyze/run"
	"regear/analyze/units"
)

// document is a car file as TOML has it, its values not yet understood.
type document struct {
	Units string               `toml:"units"`
	Cars  map[string]carTables `toml:"cars"`
}

type carTables struct {
	Internal   *float64          `toml:"internal_ratio"`
	KV         *float64          `toml:"motor_kv"`
	Cells      *int              `toml:"cells"`
	Pitch      string            `toml:"pitch"`
	Spurs      []int             `toml:"spurs"`
	Pinions    []int             `toml:"pinions"`
	Tires      map[string]string `toml:"tires"`
	Mount      *mountTable       `toml:"mount"`
	Limits     limitsTable       `toml:"limits"`
	OtherGears []gearsTable      `toml:"other_gears"`
}

type mountTable struct {
	LeastTeeth  *int   `toml:"least_teeth"`
	MostTeeth   *int   `toml:"most_teeth"`
	KnownPinion *int   `toml:"known_pinion"`
	KnownSpur   *int   `toml:"known_spur"`
	Closer      string `toml:"closer"`
	Farther     string `toml:"farther"`
}

type limitsTable struct {
	Motor        string `toml:"motor"`
	MotorWhose   string `toml:"motor_whose"`
	ESC          string `toml:"esc"`
	ESCWhose     string `toml:"esc_whose"`
	Battery      string `toml:"battery"`
	BatteryWhose string `toml:"battery_whose"`
}

type gearsTable struct {
	Pitch   string `toml:"pitch"`
	Spurs   []int  `toml:"spurs"`
	Pinions []int  `toml:"pinions"`
}

// The keys that each table knows, for hints.
var (
	topKeys   = []string{"units", "cars"}
	carKeys   = []string{"internal_ratio", "motor_kv", "cells", "pitch", "spurs", "pinions", "tires", "mount", "limits", "other_gears"}
	tableKeys = map[string][]string{
		"mount":       {"least_teeth", "most_teeth", "known_pinion", "known_spur", "closer", "farther"},
		"limits":      {"motor", "motor_whose", "esc", "esc_whose", "battery", "battery_whose"},
		"other_gears": {"pitch", "spurs", "pinions"},
	}
)

// examples shows for each key how its value is written.
var examples = map[string]string{
	"units": `units = "metric"`, "cars": "[cars.heron]",
	"internal_ratio": "internal_ratio = 2.5", "motor_kv": "motor_kv = 2200", "cells": "cells = 4",
	"pitch": `pitch = "module 0.8"`, "spurs": "spurs = [68]", "pinions": "pinions = [13, 15, 17]",
	"tires": `big = "118mm"`, "mount": "[cars.heron.mount]", "limits": "[cars.heron.limits]",
	"least_teeth": "least_teeth = 80", "most_teeth": "most_teeth = 90", "known_pinion": "known_pinion = 17", "known_spur": "known_spur = 68",
	"closer": `closer = "2mm"`, "farther": `farther = "3mm"`,
	"motor": `motor = "80C"`, "esc": `esc = "71C"`, "battery": `battery = "60C"`,
	"motor_whose": `motor_whose = "the maker's sheet"`, "esc_whose": `esc_whose = "the maker's sheet"`, "battery_whose": `battery_whose = "the cell's sheet"`,
	"other_gears": "[[cars.heron.other_gears]]",
}

// What may be said of a car, here as elsewhere. Beyond these bounds lies a slip of a finger
// or of a unit. Common practice, no source.
const (
	maxInternal, maxKV                           = 1000, 1e6
	MaxCells, MaxTeeth                           = 99, 400
	minTire, maxTire           units.Millimeters = 10, 1000
	coldestLimit, hottestLimit units.Celsius     = -60, 500
)

// ParseTire reads a tire's diameter with its unit. It fails where no tire has it.
func ParseTire(text string) (units.Millimeters, error) {
	m, err := units.ParseLength(text)
	if err == nil && (m < minTire || m > maxTire) {
		err = fmt.Errorf("is no tire's diameter, which lies between %g and %g mm: check the unit", float64(minTire), float64(maxTire))
	}
	return m, err
}

// IsRimSize reports whether a tire's diameter, written with its unit, is the size of a rim in
// inches: see [drivetrain.IsRimSize].
func IsRimSize(text string) bool {
	m, err := ParseTire(text)
	return err == nil && units.InInches(text) && drivetrain.IsRimSize(m)
}

// ParseLimit reads a temperature that a part may have, with its unit. It fails where none
// has it.
func ParseLimit(text string) (units.Celsius, error) {
	c, err := units.ParseTemperature(text)
	if err == nil && (c < coldestLimit || c > hottestLimit) {
		err = fmt.Errorf("is no limit of a part, which lies between %g and %g °C: check the unit", float64(coldestLimit), float64(hottestLimit))
	}
	return c, err
}

// Read reads a car file. name is what messages call it.
//
// It fails with an I/O error, or with every [run.Problem] that it found, joined.
func Read(name string, r io.Reader) (*File, error) {
	text, err := io.ReadAll(r)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	// Editors on some systems begin a file with a byte order mark, which TOML refuses.
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	if bytes.HasPrefix(text, []byte("\xff\xfe")) || bytes.HasPrefix(text, []byte("\xfe\xff")) {
		return nil, run.Problem{Position: run.Position{File: name}, What: "this is UTF-16", Do: "save it as UTF-8 text"}
	}

	decoder := toml.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields()
	var doc document
	if err := decoder.Decode(&doc); err != nil {
		return nil, decodingProblems(name, err)
	}
	u := &understanding{file: name, lines: indexOf(text)}
	f := &File{Name: name, Units: u.units(doc.Units), Cars: map[string]*Car{}, lines: u.lines}
	for _, car := range slices.Sorted(maps.Keys(doc.Cars)) {
		f.Cars[car] = u.car(car, doc.Cars[car])
	}
	if len(u.problems) > 0 {
		return nil, joined(u.problems)
	}
	return f, nil
}

// joined returns problems as one error, in the order of their lines.
func joined(problems []run.Problem) error {
	slices.SortStableFunc(problems, func(a, b run.Problem) int { return a.Line - b.Line })
	all := make([]error, len(problems))
	for i, p := range problems {
		all[i] = p
	}
	return errors.Join(all...)
}

// decodingProblems words what the TOML decoder refuses.
func decodingProblems(file string, err error) error {
	var unknown *toml.StrictMissingError
	if errors.As(err, &unknown) {
		var problems []run.Problem
		for i := range unknown.Errors {
			problems = append(problems, unknownKey(file, &unknown.Errors[i]))
		}
		return joined(problems)
	}
	var wrong *toml.DecodeError
	if !errors.As(err, &wrong) {
		return run.Problem{Position: run.Position{File: file}, What: strings.TrimPrefix(err.Error(), "toml: ")}
	}
	line, column := wrong.Position()
	p := run.Problem{Position: run.Position{File: file, Line: line}}
	key := wrong.Key()
	if len(key) == 0 {
		p.What = fmt.Sprintf("column %d: this is not TOML: %s", column, strings.TrimPrefix(wrong.Error(), "toml: "))
		return p
	}
	p.Column = strings.Join(key, ".")
	p.What = "this is not the kind of value that belongs here"
	if example, ok := exampleOf(key); ok {
		p.Do = "write it as in " + example
	}
	return p
}

// exampleOf finds the example of a key, or of the table that it names an entry of.
func exampleOf(key []string) (string, bool) {
	if len(key) > 2 && key[2] == "tires" {
		return examples["tires"], true // whatever the tire is called
	}
	for _, part := range slices.Backward(key) {
		if example, ok := examples[part]; ok {
			return example, true
		}
	}
	return "", false
}

func unknownKey(file string, err *toml.DecodeError) run.Problem {
	line, _ := err.Position()
	key := err.Key()
	known, last := knownBeside(key), key[len(key)-1]
	if !slices.Contains(topKeys, key[0]) {
		known, last = topKeys, key[0]
	}
	p := run.Problem{
		Position: run.Position{File: file, Line: line}, Column: strings.Join(key, "."),
		What: "there is no such key", Do: "the keys here are " + strings.Join(known, ", "),
	}
	if near := nearest.To(last, known); near != "" {
		p.Do = fmt.Sprintf("did you mean %s, as in %s?", near, examples[near])
	} else if len(key) == 1 && slices.Contains(carKeys, last) {
		p.Do = "put it under its car, below a line such as [cars.heron]"
	}
	return p
}

// knownBeside returns the keys that may stand where a key stands.
func knownBeside(key []string) []string {
	if len(key) > 3 {
		return tableKeys[key[2]]
	}
	return carKeys
}

// understanding turns a document's values into quantities, and collects what is wrong.
type understanding struct {
	file     string
	lines    index
	problems []run.Problem
}

// wrong records a problem at a key.
func (u *understanding) wrong(key, value, what, do string) {
	u.problems = append(u.problems, run.Problem{
		Position: run.Position{File: u.file, Line: u.lines.line(key)}, Column: key, Value: value, What: what, Do: do,
	})
}

func (u *understanding) units(text string) string {
	switch system := strings.ToLower(strings.TrimSpace(text)); system {
	case "", MetricUnits, USUnits:
		return system
	}
	u.wrong("units", text, "there are no such units", `write "metric" or "us"`)
	return ""
}

func (u *understanding) car(name string, t carTables) *Car {
	at := join("cars", name)
	if strings.TrimSpace(name) == "" {
		u.wrong(at, "", "a car needs a name", "write it as in "+examples["cars"])
	}
	c := &Car{Name: name, Tires: map[string]units.Millimeters{}, Rims: map[string]string{}, Limits: u.limits(at, t.Limits)}
	c.Internal = u.above0(join(at, "internal_ratio"), t.Internal, maxInternal)
	c.KV = u.above0(join(at, "motor_kv"), t.KV, maxKV)
	c.Cells = u.count(join(at, "cells"), t.Cells, MaxCells)
	for tire, text := range t.Tires {
		c.Tires[tire] = u.tire(join(join(at, "tires"), tire), text)
		if IsRimSize(text) {
			c.Rims[tire] = text
		}
	}
	c.Boxes = append(c.Boxes, u.box(at, gearsTable{t.Pitch, t.Spurs, t.Pinions}))
	for _, other := range t.OtherGears {
		key := join(at, "other_gears")
		if other.Pitch == "" {
			u.wrong(key, "", "gears kept apart need their pitch", "add a line such as "+examples["pitch"])
		}
		c.Boxes = append(c.Boxes, u.box(key, other))
	}
	if t.Mount != nil {
		c.Mount = u.mount(join(at, "mount"), c.Boxes[0].Pitch, *t.Mount)
	}
	return c
}

// above0 returns a number that may be absent, and is above 0 otherwise.
func (u *understanding) above0(key string, value *float64, most float64) float64 {
	if value == nil {
		return 0
	}
	if !(*value > 0 && *value <= most) {
		u.wrong(key, strconv.FormatFloat(*value, 'g', -1, 64), fmt.Sprintf("does not lie above 0 and up to %g", most), "write it as in "+examples[lastOf(key)])
	}
	return *value
}

// count returns a whole number that may be absent, and is 1 at least otherwise.
func (u *understanding) count(key string, value *int, most int) int {
	if value == nil {
		return 0
	}
	if *value < 1 || *value > most {
		u.wrong(key, strconv.Itoa(*value), fmt.Sprintf("does not lie between 1 and %d", most), "write it as in "+examples[lastOf(key)])
	}
	return *value
}

func (u *understanding) tire(key, text string) units.Millimeters {
	m, err := ParseTire(text)
	if err != nil {
		u.wrong(key, text, err.Error(), "")
	}
	return m
}

func (u *understanding) box(at string, t gearsTable) drivetrain.Box {
	b := drivetrain.Box{Spurs: u.teeth(join(at, "spurs"), t.Spurs), Pinions: u.teeth(join(at, "pinions"), t.Pinions)}
	if t.Pitch != "" {
		pitch, err := drivetrain.ParsePitch(t.Pitch)
		if err != nil {
			u.wrong(join(at, "pitch"), t.Pitch, err.Error(), "")
		}
		b.Pitch = pitch
	}
	return b
}

func (u *understanding) teeth(key string, list []int) []int {
	for _, n := range list {
		if n < 1 || n > MaxTeeth {
			u.wrong(key, strconv.Itoa(n), fmt.Sprintf("a gear has between 1 and %d teeth", MaxTeeth), "")
		}
	}
	list = slices.Clone(list)
	slices.Sort(list)
	return slices.Compact(list)
}

// mount understands either way to say how far the motor moves.
func (u *understanding) mount(at string, pitch drivetrain.Pitch, t mountTable) *drivetrain.Mount {
	byTeeth := t.LeastTeeth != nil || t.MostTeeth != nil
	byTravel := t.KnownPinion != nil || t.KnownSpur != nil || t.Closer != "" || t.Farther != ""
	const both = "least_teeth and most_teeth, or known_pinion, known_spur, closer and farther"
	switch {
	case byTeeth && byTravel:
		u.wrong(at, "", "the mount's reach is said in two ways", "keep one: "+both)
	case byTeeth && t.LeastTeeth != nil && t.MostTeeth != nil:
		least, most := u.count(join(at, "least_teeth"), t.LeastTeeth, 2*MaxTeeth), u.count(join(at, "most_teeth"), t.MostTeeth, 2*MaxTeeth)
		if least > most {
			u.wrong(join(at, "most_teeth"), strconv.Itoa(most), fmt.Sprintf("is less than least_teeth, %d", least), "swap the two")
		}
		return &drivetrain.Mount{Pitch: pitch, Least: float64(least), Most: float64(most)}
	case byTravel && t.KnownPinion != nil && t.KnownSpur != nil && t.Closer != "" && t.Farther != "":
		if !pitch.IsKnown() {
			u.wrong(at, "", "a travel in mm can't be turned into teeth without the car's pitch", "add a line such as "+examples["pitch"]+" above")
			return nil
		}
		known := u.count(join(at, "known_pinion"), t.KnownPinion, MaxTeeth) + u.count(join(at, "known_spur"), t.KnownSpur, MaxTeeth)
		m := drivetrain.MountAround(pitch, known, u.travel(join(at, "closer"), t.Closer), u.travel(join(at, "farther"), t.Farther))
		return &m
	default:
		u.wrong(at, "", "the mount's reach is not said in full", "give "+both)
	}
	return nil
}

// travel is a length that may be 0.
func (u *understanding) travel(key, text string) units.Millimeters {
	m, err := units.ParseLength(text)
	if err == nil && (m < 0 || m > maxTire) {
		err = fmt.Errorf("is no travel of a motor, which lies between 0 and %g mm", float64(maxTire))
	}
	if err != nil {
		u.wrong(key, text, err.Error(), "")
	}
	return m
}

func (u *understanding) limits(at string, t limitsTable) run.ByPart[Limit] {
	var limits run.ByPart[Limit]
	type entry struct{ under, whose string }
	entries := run.ByPart[entry]{}.With(run.Motor, entry{t.Motor, t.MotorWhose}).
		With(run.ESC, entry{t.ESC, t.ESCWhose}).With(run.Battery, entry{t.Battery, t.BatteryWhose})
	for part, l := range entries.All() {
		key := join(join(at, "limits"), part.String())
		if l.under == "" {
			if l.whose != "" {
				u.wrong(key+"_whose", l.whose, "there is no limit that this could belong to", "add a line such as "+examples[part.String()])
			}
			continue
		}
		c, err := ParseLimit(l.under)
		if err != nil {
			u.wrong(key, l.under, err.Error(), "")
		}
		limits.Set(part, Limit{c, strings.TrimSpace(l.whose)})
	}
	return limits
}
