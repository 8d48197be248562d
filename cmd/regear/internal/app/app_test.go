package app

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"regear/advise/carfile"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/entry"
)

// A report names files without their folders, in the places and in the words; unless that
// would make one of two.
func TestWithoutFolders(t *testing.T) {
	at := func(file string, line int) run.Run {
		return run.Run{Position: run.Position{File: file, Line: line}}
	}
	car := &Car{Runs: []run.Run{at("/home/me/spring.csv", 2), at("/home/me/a/log.csv", 3), at("/home/me/b/log.csv", 4)},
		Notes: Notes{CountedOnce: []run.Problem{{Position: run.Position{File: "/home/me/summer.csv", Line: 5}, What: "is the run of /home/me/spring.csv:2"}}}}
	short := car.WithoutFolders()
	var got []string
	for _, r := range short.Runs {
		got = append(got, r.Position.String())
	}
	got = append(got, short.Notes.CountedOnce[0].String())
	want := []string{"spring.csv:2", "/home/me/a/log.csv:3", "/home/me/b/log.csv:4", "summer.csv:5: is the run of spring.csv:2"}
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if car.Runs[0].File != "/home/me/spring.csv" || car.Notes.CountedOnce[0].File != "/home/me/summer.csv" {
		t.Error("what was given was changed")
	}
}

// logOf returns a log of a run of each car, on days one after the other.
func logOf(t *testing.T, name string, cars ...string) *runlog.Log {
	t.Helper()
	text := "date,car,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c\n"
	for day, car := range cars {
		text += fmt.Sprintf("2026-05-%02d,%s,16,68,118,22,12,84\n", day+1, car)
	}
	log, err := runlog.Read(name, strings.NewReader(text), runlog.Options{})
	if err != nil || len(log.Problems) > 0 {
		t.Fatal(err, log.Problems)
	}
	return log
}

// A run that two logs hold counts once, and one that a log holds twice counts twice.
func TestJoin(t *testing.T) {
	once := logOf(t, "once.csv", "heron", "gull")
	twice := logOf(t, "twice.csv", "heron")
	twice.Runs = append(twice.Runs, twice.Runs[0])
	twice.Runs[1].Line = 3
	logs := Join(once, twice)
	if got := len(logs.Runs); got != 3 || len(logs.ByCar["heron"]) != 2 || !slices.Equal(logs.Names, []string{"gull", "heron"}) {
		t.Errorf("%d runs of %v", got, logs.Names)
	}
	if again := logs.Notes.CountedOnce; len(again) != 1 || again[0].String() != "twice.csv:2: is the run of once.csv:2" {
		t.Errorf("counted once: %v", again)
	}
	if alone := Join(twice); len(alone.Runs) != 2 || len(alone.Notes.CountedOnce) != 0 {
		t.Errorf("alone: %+v", alone)
	}
}

func TestChoose(t *testing.T) {
	one, two, none := Join(logOf(t, "one.csv", "heron")), Join(logOf(t, "two.csv", "heron", "gull")), Join(logOf(t, "none.csv"))
	for _, c := range []struct {
		logs  *Logs
		name  string
		named bool
		want  string
		err   error
	}{
		{one, "", false, "heron", nil}, {one, " HERON", true, "heron", nil}, {one, "gull", true, "", ErrNoSuchCar}, {one, "", true, "", ErrNoSuchCar},
		{two, "", false, "", ErrWhichCar}, {two, "gull", true, "gull", nil}, {none, "", false, "", ErrNoUsableRun}, {none, "gull", true, "", ErrNoUsableRun},
	} {
		car, err := c.logs.Choose(c.name, c.named)
		if err != c.err || err == nil && (car.Name != c.want || len(car.Runs) != 1) {
			t.Errorf("%q (named: %t): %+v, %v; want %q, %v", c.name, c.named, car, err, c.want, c.err)
		}
	}
}

// The car that is meant where none was said is the book's only one, or of an empty book the
// car file's.
func TestUsualCar(t *testing.T) {
	const heron = "[cars.heron]\n"
	for _, c := range []struct {
		cars []string // in the book
		file string
		want string
	}{
		{nil, "", ""}, {nil, heron, "heron"}, {nil, heron + "[cars.gull]\n", ""},
		{[]string{"gull"}, heron, "gull"}, {[]string{"gull", "crane"}, heron, ""},
	} {
		a := &App{Now: time.Now, Cars: func() (*carfile.File, error) { return carfile.Read("cars.toml", strings.NewReader(c.file)) }}
		run, err := a.NewRun(Join(logOf(t, "book.csv", c.cars...)))
		if got := run.Usual.Text(entry.Car); got != c.want || err != nil {
			t.Errorf("%v in the book, file %q: %q (%v), want %q", c.cars, c.file, got, err, c.want)
		}
	}
}
