package entry

import (
	"errors"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"regear/advise/carfile"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// heron is an invented car as a car file has it.
const heron = `[cars.heron]
internal_ratio = 2.5
cells = 4
spurs = [68]
[cars.heron.tires]
small = "104mm"
`

func carFile(t *testing.T, text string) *carfile.File {
	t.Helper()
	file, err := carfile.Read("cars.toml", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return file
}

// entered makes a draft of texts by the names of their fields.
func entered(t *testing.T, texts map[string]string, setup *carfile.Car, system units.System) *Draft {
	t.Helper()
	d := new(Draft)
	for _, f := range Fields {
		text, ok := texts[f.Name]
		if !ok {
			continue
		}
		delete(texts, f.Name)
		if err := d.Enter(f, f.Units.Behind(text, system), setup); err != nil {
			t.Fatalf("%s: %q: %v", f.Name, text, err)
		}
	}
	for name := range texts {
		t.Errorf("there is no field %q", name)
	}
	return d
}

// What a log holds can be entered, and nothing else can. A run's number is the book's to give.
func TestFieldsAreTheColumnsOfALog(t *testing.T) {
	var columns, names []string
	for _, f := range Fields {
		columns, names = append(columns, f.Column), append(names, f.Name)
	}
	written := slices.DeleteFunc(runlog.WrittenColumns(), func(name string) bool { return name == runlog.NumberColumn })
	slices.Sort(columns)
	slices.Sort(written)
	if !slices.Equal(columns, written) {
		t.Errorf("fields\n%q\ncolumns\n%q", columns, written)
	}
	slices.Sort(names)
	if len(slices.Compact(names)) != len(Fields) {
		t.Error("two fields share a name")
	}
}

// A driver reads either scale; the run is the same one. The pairs are exact by the units'
// definitions: °F = °C·9/5 + 32, 1 in = 25.4 mm.
func TestEitherSystemGivesTheSameRun(t *testing.T) {
	own, _ := carFile(t, heron).Of("heron")
	same := map[string]string{"car": "heron", "date": "2026-05-16T15:04", "pinion": "16", "spur": "68", "internal-ratio": "2,5", "minutes": "12:30",
		"cells": "4", "motor": "13 turns", "surface": "grass", "cooling": "fan", "note": "=1+1", "stopped-by-heat": "yes"}
	both := map[string][2]string{"tire": {"127", "5"}, "ambient": {"25", "77"}, "motor-peak": {"80", "176"}, "esc-peak": {"95", "203"},
		"battery-peak": {"60", "140"}, "motor-start": {"30,5", "86,9"}}
	// with enters the run as read in one system, under another if units are written.
	with := func(read, system units.System, written map[string]string) *run.Run {
		texts := maps.Clone(same)
		for name, pair := range both {
			texts[name] = pair[read] + written[name]
		}
		log, err := entered(t, texts, own, system).Read(time.Time{})
		if err != nil {
			t.Fatal(err)
		}
		return &log.Runs[0]
	}
	fahrenheit, celsius := map[string]string{"tire": "in"}, map[string]string{"tire": " mm"}
	for name := range both {
		if name != "tire" {
			fahrenheit[name], celsius[name] = "F", " °C"
		}
	}
	want := with(units.Metric, units.Metric, nil)
	if want.Tire != 127 || want.Ambient != 25 || want.Minutes != 12.5 || want.Note != "=1+1" || !want.StoppedByHeat || want.Skip ||
		want.Gearing != (drivetrain.Gearing{Pinion: 16, Spur: 68, Internal: 2.5}) {
		t.Errorf("entered %+v", want)
	}
	for name, got := range map[string]*run.Run{
		"bare °F and in": with(units.US, units.US, nil),
		// A unit that is written counts, whatever the system.
		"°C written": with(units.Metric, units.US, celsius),
		"°F written": with(units.US, units.Metric, fahrenheit),
	} {
		for _, p := range run.Parts {
			g, okG := got.Peak.Of(p)
			w, okW := want.Peak.Of(p)
			if okG != okW || math.Abs(float64(g-w)) > 1e-9 {
				t.Errorf("%s: %s peak %g, want %g", name, p, g, w)
			}
		}
		g, _ := got.Start.Of(run.Motor)
		if math.Abs(float64(got.Tire-want.Tire)) > 1e-9 || math.Abs(float64(got.Ambient-want.Ambient)) > 1e-9 || math.Abs(float64(g)-30.5) > 1e-9 {
			t.Errorf("%s: entered %+v", name, got)
		}
	}
}

// No unit is guessed where none was said, and what can't be read is refused.
func TestWrongTexts(t *testing.T) {
	own, _ := carFile(t, heron).Of("heron")
	for _, f := range Fields {
		errBlank := f.Check(" ")
		if (errBlank != nil) != f.Needed {
			t.Errorf("%s: blank: %v", f.Name, errBlank)
		}
		switch f.Kind {
		case "TEMP", "LENGTH|NAME":
			if err := f.Check("80"); !errors.Is(err, units.ErrNoUnit) {
				t.Errorf("%s: a bare number: %v", f.Name, err)
			}
		case "TEXT", "NAME", "bool":
			continue
		}
		if f.Check("?") == nil {
			t.Errorf("%s: \"?\" is taken", f.Name)
		}
	}
	for name, texts := range map[string][]string{
		"date": {"16.5.2026", "2026-5-16", "15:04", "2026-05-16T25:00"}, "pinion": {"0", "16.5", "401"}, "cells": {"0", "100"},
		"tire": {"118F", "5mm", "smal"}, "minutes": {"0", "12:61", "2000"}, "ambient": {"-300C", "hot"},
		"skip": {"maybe", "-"}, "stopped-by-heat": {"?"},
	} {
		f, _ := ByName(name)
		for _, text := range texts {
			d := new(Draft)
			if err := d.Enter(f, text, own); err == nil || d.Has(f) {
				t.Errorf("%s: %q becomes %q", name, text, d.Text(f))
			}
		}
	}
}

// A mark can be denied too: --skip=no.
func TestMarks(t *testing.T) {
	for _, name := range []string{"skip", "stopped-by-heat"} {
		for text, want := range map[string]string{"yes": "yes", "x": "yes", "True": "yes", "no": "", "False": "", "0": ""} {
			f, _ := ByName(name)
			if got := entered(t, map[string]string{name: text}, nil, units.Metric).Text(f); got != want {
				t.Errorf("%s: %q becomes %q, want %q", name, text, got, want)
			}
		}
	}
}

// A name can be checked before the car is known, and is looked up once it is.
func TestTireByName(t *testing.T) {
	tire, _ := ByName("tire")
	if err := tire.Check("small"); err != nil {
		t.Error(err)
	}
	own, _ := carFile(t, heron).Of("heron")
	d := new(Draft)
	if err := d.Enter(tire, "small", own); err != nil || d.Text(tire) != "104" {
		t.Errorf("%q, %v", d.Text(tire), err)
	}
	if err := d.Enter(tire, "smal", own); err == nil || !strings.Contains(err.Error(), "did you mean small?") {
		t.Error(err)
	}
	if err := d.Enter(tire, "small", &carfile.Car{}); err == nil {
		t.Error("a car without tires has a small one")
	}
}

func runOf(car string, day int, tire units.Millimeters) run.Run {
	r := run.Run{When: time.Date(2026, 5, day, 0, 0, 0, 0, time.UTC), Car: car, Tire: tire, Ambient: 24, Minutes: 8, Note: "short",
		Gearing: drivetrain.Gearing{Pinion: 16, Spur: 72, Internal: 2.6}}
	r.Peak.Set(run.Motor, 70)
	return r
}

// The car's last run comes first, whole; then the car file. Readings are of one run alone.
func TestUsual(t *testing.T) {
	file := carFile(t, heron)
	own, _ := file.Of("heron")
	known := []run.Run{runOf("heron", 17, 118), runOf("heron", 16, 110), runOf("gull", 18, 90)}
	type texts map[string]string // by column
	last := texts{"car": "heron", "pinion_teeth": "16", "spur_teeth": "72", "internal_ratio": "2.6", "tire_diameter_mm": "118"}
	fromFile := texts{"spur_teeth": "68", "internal_ratio": "2.5", "cells": "4"}
	twoSpurs, _ := carFile(t, "[cars.heron]\nspurs = [68, 72]\n").Of("heron")
	for name, c := range map[string]struct {
		known []run.Run
		own   *carfile.Car
		want  texts
	}{
		"runs and a car file":        {known, own, last},
		"runs alone":                 {known, &carfile.Car{}, last},
		"no run of this car":         {known[2:], own, fromFile},
		"no run at all":              {nil, own, fromFile},
		"nothing":                    {nil, &carfile.Car{}, texts{}},
		"which of two spurs is open": {nil, twoSpurs, texts{}},
	} {
		got := Usual(c.known, "heron", c.own)
		for _, f := range Fields {
			if text, want := got.Text(f), c.want[f.Column]; text != want || got.Has(f) != (want != "") {
				t.Errorf("%s: %s is %q, want %q", name, f.Column, text, want)
			}
		}
	}
}

// Runs logged in one breath get moments of their own, on the driver's clock.
func TestSetEnd(t *testing.T) {
	east := time.FixedZone("", 2*60*60)
	now := time.Date(2026, 5, 16, 23, 59, 58, 999, east)
	var known []run.Run
	for _, want := range []string{"2026-05-16T23:59:58", "2026-05-16T23:59:59", "2026-05-17T00:00"} {
		var d Draft
		d.SetEnd(now, known)
		date, _ := ByName("date")
		if got := d.Text(date); got != want {
			t.Errorf("%q, want %q", got, want)
		}
		known = append(known, d.run)
	}
}

func TestWhatIsMissing(t *testing.T) {
	d := new(Draft)
	var names []string
	for _, f := range d.Missing() {
		names = append(names, f.Name)
	}
	if got := strings.Join(names, " "); got != "car pinion spur internal-ratio tire minutes ambient" || d.HasPeak() {
		t.Errorf("%s, peak %t", got, d.HasPeak())
	}
	for _, name := range []string{"motor-peak", "esc-peak", "battery-peak"} {
		if !entered(t, map[string]string{name: "60C"}, nil, units.Metric).HasPeak() {
			t.Errorf("%s is no peak", name)
		}
	}
	if entered(t, map[string]string{"motor-start": "60C", "motor-peak": ""}, nil, units.Metric).HasPeak() {
		t.Error("a start or a blank is a peak")
	}
	var problem run.Problem
	if _, err := entered(t, map[string]string{"car": "heron"}, nil, units.Metric).Read(time.Time{}); !errors.As(err, &problem) || problem.Line != 0 {
		t.Errorf("a run of a name alone: %v", err)
	}
}
