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
	"github.com/pelletier/go-toml/v2/unstable"

	"regear/analyze/drivetrain"
	"regear/analyze/nearest"
	"regear/analyze/run"
	"regear/analyze/units"
)

// ParseTire reads a tire's diameter with its unit. It fails where no tire has it.
func ParseTire(text string) (units.Millimeters, error) {
	m, err := units.ParseLength(text)
	return within(m, err, minTire, maxTire, "is no tire's diameter, which lies between %g and %g mm: check the unit")
}

// IsRimSize reports whether a tire's diameter, written with its unit, is the size of a rim in
// inches: see [drivetrain.IsRimSize].
func IsRimSize(text string) bool {
	m, err := ParseTire(text)
	_, system, _ := units.Cut(text)
	return err == nil && system == units.US && drivetrain.IsRimSize(m)
}

// ParseLimit reads a temperature that a part may have, with its unit. It fails where none
// has it.
func ParseLimit(text string) (units.Celsius, error) {
	c, err := units.ParseTemperature(text)
	return within(c, err, coldestLimit, hottestLimit, "is no limit of a part, which lies between %g and %g °C: check the unit")
}

// within fails where a quantity that was read lies outside its bounds.
func within[T ~float64](x T, err error, least, most T, problem string) (T, error) {
	if err == nil && (x < least || x > most) {
		err = fmt.Errorf(problem, float64(least), float64(most))
	}
	return x, err
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
	p := &problems{file: name, lines: indexOf(text)}
	f := &File{Name: name, Units: p.units(doc.Units), Cars: map[string]*Car{}, lines: p.lines}
	for _, car := range slices.Sorted(maps.Keys(doc.Cars)) {
		f.Cars[car] = p.car(car, doc.Cars[car])
	}
	if err := p.err(); err != nil {
		return nil, err
	}
	return f, nil
}

func decodingProblems(file string, err error) error {
	var unknown *toml.StrictMissingError
	if errors.As(err, &unknown) {
		var all problems
		for i := range unknown.Errors {
			all.found = append(all.found, unknownKey(file, &unknown.Errors[i]))
		}
		return all.err()
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
	p.Column, p.What = join(key...), "this is not the kind of value that belongs here"
	if example := exampleOf(key); example != "" {
		p.Do = "write it as in " + example
	}
	return p
}

// exampleOf returns the example of a key, or of the table that it names an entry of, "" for none.
func exampleOf(key []string) string {
	if len(key) > 2 && key[2] == "tires" {
		return examples["tires"] // whatever the tire is called
	}
	for len(key) > 1 && examples[key[len(key)-1]] == "" {
		key = key[:len(key)-1]
	}
	return examples[key[len(key)-1]]
}

func unknownKey(file string, err *toml.DecodeError) run.Problem {
	line, _ := err.Position()
	key := err.Key()
	known, unknown := keys["cars"], key[len(key)-1]
	switch {
	case !slices.Contains(keys[""], key[0]):
		known, unknown = keys[""], key[0]
	case len(key) > 3:
		known = keys[key[2]]
	}
	p := run.Problem{
		Position: run.Position{File: file, Line: line}, Column: join(key...),
		What: "there is no such key", Do: "the keys here are " + strings.Join(known, ", "),
	}
	if near := nearest.To(unknown, known); near != "" {
		p.Do = fmt.Sprintf("did you mean %s, as in %s?", near, examples[near])
	} else if len(key) == 1 && slices.Contains(keys["cars"], unknown) {
		p.Do = "put it under its car, below a line such as [cars.heron]"
	}
	return p
}

func (p *problems) units(text string) *units.System {
	name := strings.ToLower(strings.TrimSpace(text))
	if name == "" {
		return nil
	}
	system, err := units.ParseSystem(name)
	if err != nil {
		p.add("units", text, "there are no such units", `write "metric" or "us"`)
	}
	return &system
}

func (p *problems) car(name string, t carTable) *Car {
	at := join("cars", name)
	if strings.TrimSpace(name) == "" {
		p.add(at, "", "a car needs a name", "write it as in "+examples["cars"])
	}
	c := &Car{Name: name, Tires: map[string]units.Millimeters{}, Rims: map[string]string{}, Limits: p.limits(join(at, "limits"), t.Limits)}
	c.Internal = number(p, join(at, "internal_ratio"), t.Internal, maxInternal)
	c.KV = number(p, join(at, "motor_kv"), t.KV, maxKV)
	c.Cells = number(p, join(at, "cells"), t.Cells, MaxCells)
	for tire, text := range t.Tires {
		m, err := ParseTire(text)
		p.addError(join(at, "tires", tire), text, err)
		c.Tires[tire] = m
		if IsRimSize(text) {
			c.Rims[tire] = text
		}
	}
	c.Boxes = append(c.Boxes, p.box(at, t.gearsTable))
	for _, other := range t.OtherGears {
		key := join(at, "other_gears")
		if other.Pitch == "" {
			p.add(key, "", "gears kept apart need their pitch", "add a line such as "+examples["pitch"])
		}
		c.Boxes = append(c.Boxes, p.box(key, other))
	}
	if t.Mount != nil {
		c.Mount = p.mount(join(at, "mount"), c.Boxes[0].Pitch, t.Mount)
	}
	return c
}

// number returns a number that may be absent, and lies above 0 and up to most otherwise.
func number[T int | float64](p *problems, key string, value *T, most T) T {
	if value == nil {
		return 0
	}
	if !(*value > 0 && *value <= most) {
		bounds := "above 0 and up to"
		if _, whole := any(most).(int); whole {
			bounds = "between 1 and"
		}
		p.add(key, fmt.Sprint(*value), fmt.Sprintf("does not lie %s %v", bounds, most), "write it as in "+examples[key[strings.LastIndexByte(key, '.')+1:]])
	}
	return *value
}

func (p *problems) box(at string, t gearsTable) drivetrain.Box {
	b := drivetrain.Box{Spurs: p.teeth(join(at, "spurs"), t.Spurs), Pinions: p.teeth(join(at, "pinions"), t.Pinions)}
	if t.Pitch != "" {
		var err error
		b.Pitch, err = drivetrain.ParsePitch(t.Pitch)
		p.addError(join(at, "pitch"), t.Pitch, err)
	}
	return b
}

func (p *problems) teeth(key string, list []int) []int {
	for _, n := range list {
		if n < 1 || n > MaxTeeth {
			p.add(key, strconv.Itoa(n), fmt.Sprintf("a gear has between 1 and %d teeth", MaxTeeth), "")
		}
	}
	return slices.Compact(slices.Sorted(slices.Values(list)))
}

// mount understands either way to say how far the motor moves.
func (p *problems) mount(at string, pitch drivetrain.Pitch, t *mountTable) *drivetrain.Mount {
	byTeeth := t.LeastTeeth != nil || t.MostTeeth != nil
	byTravel := t.KnownPinion != nil || t.KnownSpur != nil || t.Closer != "" || t.Farther != ""
	const both = "least_teeth and most_teeth, or known_pinion, known_spur, closer and farther"
	switch {
	case byTeeth && byTravel:
		p.add(at, "", "the mount's reach is said in two ways", "keep one: "+both)
	case byTeeth && t.LeastTeeth != nil && t.MostTeeth != nil:
		least, most := number(p, join(at, "least_teeth"), t.LeastTeeth, 2*MaxTeeth), number(p, join(at, "most_teeth"), t.MostTeeth, 2*MaxTeeth)
		if least > most {
			p.add(join(at, "most_teeth"), strconv.Itoa(most), fmt.Sprintf("is less than least_teeth, %d", least), "swap the two")
		}
		return &drivetrain.Mount{Pitch: pitch, Least: float64(least), Most: float64(most)}
	case byTravel && t.KnownPinion != nil && t.KnownSpur != nil && t.Closer != "" && t.Farther != "":
		if !pitch.IsKnown() {
			p.add(at, "", "a travel in mm can't be turned into teeth without the car's pitch", "add a line such as "+examples["pitch"]+" above")
			return nil
		}
		known := number(p, join(at, "known_pinion"), t.KnownPinion, MaxTeeth) + number(p, join(at, "known_spur"), t.KnownSpur, MaxTeeth)
		m := drivetrain.MountAround(pitch, known, p.travel(join(at, "closer"), t.Closer), p.travel(join(at, "farther"), t.Farther))
		return &m
	default:
		p.add(at, "", "the mount's reach is not said in full", "give "+both)
	}
	return nil
}

func (p *problems) travel(key, text string) units.Millimeters {
	m, err := units.ParseLength(text)
	m, err = within(m, err, 0, maxTire, "is no travel of a motor, which lies between %g and %g mm")
	p.addError(key, text, err)
	return m
}

func (p *problems) limits(at string, t limitsTable) run.ByPart[Limit] {
	var limits run.ByPart[Limit]
	for _, l := range []struct {
		part         run.Part
		under, whose string
	}{{run.Motor, t.Motor, t.MotorWhose}, {run.ESC, t.ESC, t.ESCWhose}, {run.Battery, t.Battery, t.BatteryWhose}} {
		name := l.part.String()
		switch {
		case l.under != "":
			c, err := ParseLimit(l.under)
			p.addError(join(at, name), l.under, err)
			limits.Set(l.part, Limit{c, strings.TrimSpace(l.whose)})
		case l.whose != "":
			p.add(join(at, name+"_whose"), l.whose, "there is no limit that this could belong to", "add a line such as "+examples[name])
		}
	}
	return limits
}

// problems collects what is wrong with a file.
type problems struct {
	file  string
	lines index
	found []run.Problem
}

func (p *problems) add(key, value, what, do string) {
	p.found = append(p.found, run.Problem{
		Position: run.Position{File: p.file, Line: p.lines.line(key)}, Column: key, Value: value, What: what, Do: do,
	})
}

func (p *problems) addError(key, value string, err error) {
	if err != nil {
		p.add(key, value, err.Error(), "")
	}
}

func (p *problems) byLine() []run.Problem {
	slices.SortStableFunc(p.found, func(a, b run.Problem) int { return a.Line - b.Line })
	return p.found
}

func (p *problems) err() error {
	var all []error
	for _, problem := range p.byLine() {
		all = append(all, problem)
	}
	return errors.Join(all...)
}

// index holds the line of each key of a document, so that what is wrong with a value
// can be told with its place.
type index map[string]int

// line returns the line of a key or, where it stands in no line of its own, of the
// table that would hold it.
func (x index) line(key string) int {
	line, known := x[key]
	for !known && key != "" {
		key = key[:max(strings.LastIndexByte(key, '.'), 0)]
		line, known = x[key]
	}
	return line
}

// join joins the parts of a key as TOML does. Names with dots share an entry with no other
// in practice, and would only get a neighbour's line.
func join(keys ...string) string { return strings.Join(keys, ".") }

// indexOf notes the lines of a document that the decoder accepted.
func indexOf(text []byte) index {
	x := index{}
	var p unstable.Parser
	p.Reset(text)
	table := ""
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = x.note(&p, "", e)
		case unstable.KeyValue:
			x.note(&p, table, e)
		}
	}
	return x
}

// note notes a key of a table, and the keys of an inline table behind it.
func (x index) note(p *unstable.Parser, table string, e *unstable.Node) string {
	key, line := table, 0
	for it := e.Key(); it.Next(); {
		key = strings.TrimPrefix(join(key, string(it.Node().Data)), ".")
		line = p.Shape(it.Node().Raw).Start.Line
	}
	x[key] = line
	if e.Kind == unstable.KeyValue && e.Value().Kind == unstable.InlineTable {
		for it := e.Value().Children(); it.Next(); {
			x.note(p, key, it.Node())
		}
	}
	return key
}
