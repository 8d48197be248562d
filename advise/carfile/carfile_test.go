package carfile

import (
	"errors"
	"math"
	"strings"
	"testing"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// whole is an invented car with every key that there is.
const whole = `units = "us"

[cars.heron]
internal_ratio = 2.5
motor_kv = 2200
cells = 4
pitch = "module 0.8"
spurs = [72, 68]
pinions = [17, 13, 15, 15]

[cars.heron.tires]
big = "118mm"
"old small" = "4.1in"

[cars.heron.mount]
least_teeth = 80
most_teeth = 90

[cars.heron.limits]
motor = "176F"
motor_whose = "the maker's sheet"

[[cars.heron.other_gears]]
pitch = "48 dp"
spurs = [90]
pinions = [20]
`

func mustRead(t *testing.T, text string) *File {
	t.Helper()
	f, err := Read("cars.toml", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestReadUnderstandsEveryKey(t *testing.T) {
	for _, mark := range []string{"", "\xef\xbb\xbf"} {
		f := mustRead(t, mark+whole)
		c := f.Only()
		if c == nil || *f.Units != units.US || c.Name != "heron" {
			t.Fatalf("read %+v", f)
		}
		if c.Internal != 2.5 || c.KV != 2200 || c.Cells != 4 || c.Tires["big"] != 118 ||
			math.Abs(float64(c.Tires["old small"])-104.14) > 1e-9 {
			t.Errorf("read %+v", c)
		}
		if l := c.Limits.At(run.Motor); math.Abs(float64(l.Temperature)-80) > 1e-9 || l.Whose != "the maker's sheet" || c.Limits.Len() != 1 {
			t.Errorf("limits %+v", c.Limits)
		}
		main, other := c.Boxes[0], c.Boxes[1]
		if main.Pitch != drivetrain.Module(0.8) || len(main.Pinions) != 3 || main.Pinions[0] != 13 || main.Spurs[0] != 68 {
			t.Errorf("the car's own gears %+v", main)
		}
		if other.Pitch != drivetrain.DiametralPitch(48) || other.Spurs[0] != 90 {
			t.Errorf("other gears %+v", other)
		}
		if c.Mount == nil || c.Mount.Least != 80 || c.Mount.Most != 90 {
			t.Errorf("mount %+v", c.Mount)
		}
	}
}

// A travel of one module is two teeth, by the centre distance a = m (z1 + z2) / 2.
func TestMountByTravel(t *testing.T) {
	c := mustRead(t, `[cars.heron]
pitch = "module 0.8"
[cars.heron.mount]
known_pinion = 17
known_spur = 68
closer = "0mm"
farther = "2.4mm"
`).Only()
	if c.Mount.Least != 85 || math.Abs(c.Mount.Most-91) > 1e-9 {
		t.Errorf("mount %+v, want 85 to 91 teeth", c.Mount)
	}
}

// A car that the file does not know takes nothing from it, and the driver is told why.
func TestOf(t *testing.T) {
	const heron, gull = "[cars.heron]\ncells = 4\n", "[cars.gull]\ncells = 2\n"
	for _, c := range []struct {
		text, name string
		cells      int
		note       string // part of it; "" for none
	}{
		{"", "heron", 0, ""}, {"", "", 0, ""},
		{heron, "heron", 4, ""}, {heron, "", 4, ""}, {heron + gull, "gull", 2, ""},
		{heron, "herno", 0, `no car "herno" is in it (did you mean heron?)`}, {heron, "gull", 0, `no car "gull" is in it, so`},
		{heron + gull, "", 0, "was not said (gull, heron)"},
	} {
		car, note := mustRead(t, c.text).Of(c.name)
		if car == nil || car.Cells != c.cells || (note == "") != (c.note == "") || !strings.Contains(note, c.note) {
			t.Errorf("%q of %q: %+v, %q", c.name, c.text, car, note)
		}
	}
}

// Every mistake is told with its line, all at once, and nothing is read around it.
func TestMistakesAreToldWithTheirPlace(t *testing.T) {
	const car = "[cars.heron]\n"
	for text, want := range map[string][]string{
		car + "pinons = [13]\nspurz = [68]\n": {`cars.toml:2: cars.heron.pinons: there is no such key, did you mean pinions, as in pinions = [13, 15, 17]?`,
			`cars.toml:3: cars.heron.spurz: there is no such key, did you mean spurs`},
		car + "colour = 3\n":                           {`cars.toml:2: cars.heron.colour: there is no such key, the keys here are internal_ratio`},
		"[car.heron]\n":                                {`cars.toml:1: car.heron: there is no such key, did you mean cars, as in [cars.heron]?`},
		"\xff\xfeu\x00":                                {`cars.toml: this is UTF-16, save it as UTF-8 text`},
		car + "[cars.heron.tires]\nmotor = 5\n":        {`cars.toml:3: cars.heron.tires.motor: this is not the kind of value that belongs here, write it as in big = "118mm"`},
		"pinions = [13]\n":                             {`cars.toml:1: pinions: there is no such key, put it under its car`},
		car + "[cars.heron.limits]\nservo = \"60C\"\n": {`cars.toml:3: cars.heron.limits.servo: there is no such key, the keys here are motor,`},
		car + "spurs = 68\n":                           {`cars.toml:2: cars.heron.spurs: this is not the kind of value that belongs here, write it as in spurs = [68]`},
		car + "cells = 3.5\n":                          {`cars.toml:2: cars.heron.cells: this is not the kind`},
		car + "internal_ratio = 2,6\n":                 {`cars.toml:2: `, `this is not TOML`},
		car + car:                                      {`cars.toml:2: `},
		car + "pinions = [0, 15]\n":                    {`cars.toml:2: cars.heron.pinions: "0": a gear has between 1 and 400 teeth`},
		car + "internal_ratio = nan\nmotor_kv = -1\ncells = 0\n":                                              {`cars.toml:2: cars.heron.internal_ratio: "NaN"`, `cars.toml:3: cars.heron.motor_kv: "-1"`, `cars.toml:4: cars.heron.cells: "0"`},
		car + "pitch = \"0.8\"\n":                                                                             {`cars.toml:2: cars.heron.pitch: "0.8": module or diametral pitch?`},
		car + "[cars.heron.tires]\nbig = \"118\"\n":                                                           {`cars.toml:3: cars.heron.tires.big: "118": no unit`},
		car + "tires = {big = \"118\"}\n":                                                                     {`cars.toml:2: cars.heron.tires.big: "118": no unit`},
		car + "[cars.heron.limits]\nmotor = \"80\"\n":                                                         {`cars.toml:3: cars.heron.limits.motor: "80": no unit`},
		car + "[cars.heron.limits]\nesc_whose = \"mine\"\n":                                                   {`cars.toml:3: cars.heron.limits.esc_whose: "mine": there is no limit`},
		car + "[cars.heron.mount]\nleast_teeth = 80\n":                                                        {`cars.toml:2`},
		car + "[cars.heron.mount]\nleast_teeth = 90\nmost_teeth = 80\n":                                       {`cars.toml:4: cars.heron.mount.most_teeth: "80": is less than`},
		car + "[cars.heron.mount]\nleast_teeth = 80\ncloser = \"1mm\"\n":                                      {`is said in two ways`},
		car + "[cars.heron.mount]\nknown_pinion = 17\nknown_spur = 68\ncloser = \"1mm\"\nfarther = \"1mm\"\n": {`without the car's pitch`},
		car + "[[cars.heron.other_gears]]\npinions = [13]\n":                                                  {`need their pitch`},
		"units = \"imperial\"\n":                                                                              {`cars.toml:1: units: "imperial": there are no such units`},
		"[cars.\" \"]\n":                                                                                      {`a car needs a name`},
	} {
		f, err := Read("cars.toml", strings.NewReader(text))
		if err == nil {
			t.Errorf("%q: read as %+v", text, f)
			continue
		}
		if !errors.As(err, new(run.Problem)) {
			t.Errorf("%q: %v is no problem with a place", text, err)
		}
		for _, part := range want {
			if !strings.Contains(err.Error(), part) {
				t.Errorf("%q:\n got %v\nwant %s", text, err, part)
			}
		}
	}
}

func TestCheck(t *testing.T) {
	const sound = "[cars.heron]\nspurs = [68]\npinions = [13, 17]\n[cars.heron.limits]\nmotor = \"80C\"\nmotor_whose = \"the maker\"\n"
	if odd := mustRead(t, sound).Check(); len(odd) != 0 {
		t.Errorf("a sound file is odd: %v", odd)
	}
	for add, want := range map[string]string{
		"[cars.heron.mount]\nleast_teeth = 95\nmost_teeth = 99\n":         "cars.toml:7: cars.heron.mount: no pair of the gears named fits",
		"[cars.heron.tires]\nbig = \"36in\"\n":                            "cars.toml:8: cars.heron.tires.big:",
		"[cars.heron.tires]\nbig = \"2.2 in\"\n":                          "cars.toml:8: cars.heron.tires.big: \"2.2 in\": is a rim size, measure across the rubber",
		"[cars.gull]\n":                                                   "cars.toml:7: cars.gull: no spurs are named",
		"[[cars.heron.other_gears]]\npitch = \"48 dp\"\npinions = [20]\n": "meshes with nothing",
		"[cars.gull]\nspurs = [17]\npinions = [68]\n":                     "look whether spurs and pinions are swapped",
		"[cars.gull]\ncells = 50\nmotor_kv = 30\ninternal_ratio = 0.4\n":  "cars.gull.cells: \"50\": is outside the usual 1 to 12",
		"[cars.gull.limits]\nmotor = \"80F\"\n":                           "cars.gull.limits.motor: \"26.6667\": is outside the usual 40 to 120",
		"[cars.gull.limits]\nbattery = \"60C\"\n":                         "it is not said whose limit this is",
	} {
		found := false
		odd := mustRead(t, sound+add).Check()
		for _, p := range odd {
			found = found || strings.Contains(p.String(), want)
		}
		if !found {
			t.Errorf("%q: want %s, got %v", add, want, odd)
		}
	}
	// The same length in mm is a tire of a small car.
	if odd := mustRead(t, sound+"[cars.heron.tires]\nsmall = \"96.52mm\"\nbig = \"4.65in\"\n").Check(); len(odd) != 0 {
		t.Errorf("tires that are none of a rim: %v", odd)
	}
	if odd := mustRead(t, "").Check(); len(odd) != 1 {
		t.Errorf("an empty file: %v", odd)
	}
}

// What is written is read back as it was said, whatever the names.
func TestDraftIsReadBack(t *testing.T) {
	for _, name := range []string{"heron", "big heron", `the "old" one\`, "löffler", "a.b", "tab\there"} {
		d := Draft{
			Name: name, Internal: "2.5", KV: "2200", Cells: "4", Pitch: "48 dp", Spurs: []int{68}, Pinions: []int{13, 15},
			TireNames: []string{name}, TireSizes: []string{`4.65"`}, LeastTeeth: "80", MostTeeth: "90",
			Motor: "80C", MotorWhose: name, Battery: "60C",
		}
		f := mustRead(t, Heading(units.Metric)+d.Text()+"\n"+Draft{Name: "blank"}.Text())
		c := f.Cars[name]
		if *f.Units != units.Metric || len(f.Cars) != 2 || c == nil {
			t.Fatalf("%q: read %+v", name, f)
		}
		if c.Internal != 2.5 || c.KV != 2200 || c.Cells != 4 || c.Boxes[0].Pitch != drivetrain.DiametralPitch(48) || len(c.Boxes[0].Pinions) != 2 ||
			c.Tires[name] != units.FromInches(4.65) || c.Mount == nil || c.Limits.At(run.Motor) != (Limit{80, name}) || c.Limits.At(run.Battery) != (Limit{60, ""}) {
			t.Errorf("%q: read %+v", name, c)
		}
		if b := f.Cars["blank"]; b == nil || b.Mount != nil || b.Internal != 0 || b.Limits.Len()+len(b.Tires) > 0 {
			t.Errorf("a blank car: %+v", b)
		}
	}
}

// FuzzRead asks that nothing panics, and that what is read can be trusted.
func FuzzRead(f *testing.F) {
	f.Add(whole)
	f.Add(Heading(units.US) + Draft{Name: "heron"}.Text())
	f.Add("[cars.a]\ntires = {big = \"1mm\"}\n[cars.a.mount]\nleast_teeth=1\nmost_teeth=2")
	f.Fuzz(func(t *testing.T, text string) {
		file, err := Read("cars.toml", strings.NewReader(text))
		if err != nil {
			return
		}
		for _, c := range file.Cars {
			if !(c.Internal >= 0) || !(c.KV >= 0) || c.Cells < 0 || math.IsInf(c.Internal+c.KV, 0) {
				t.Errorf("%q: %+v", text, c)
			}
			for _, size := range c.Tires {
				if !(size >= minTire && size <= maxTire) {
					t.Errorf("%q: tire of %g", text, size)
				}
			}
		}
		for _, p := range file.Check() {
			if p.File != "cars.toml" || p.What == "" {
				t.Errorf("%q: %+v", text, p)
			}
		}
	})
}

// A car's name is the same whatever its letter case and blanks, in the file as in the log.
func TestCarByAnySpelling(t *testing.T) {
	heron := &Car{KV: 2000}
	f := &File{Cars: map[string]*Car{"heron": heron, "gull": {}}}
	for _, name := range []string{"heron", "Heron", " HERON "} {
		if got, note := f.Of(name); got != heron || note != "" {
			t.Errorf("%q: %v, %q", name, got, note)
		}
	}
	if _, note := f.Of("hern"); note == "" {
		t.Error("a car that is not in the file goes unsaid")
	}
}
