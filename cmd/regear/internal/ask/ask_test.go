package ask

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

func TestGearLists(t *testing.T) {
	for text, want := range map[string]string{"11-13": "[11 12 13]", "15,11,13": "[11 13 15]", "11-13, 12 ,20": "[11 12 13 20]", "7": "[7]"} {
		if got, err := Gears.Parse(text); err != nil || fmt.Sprint(got) != want {
			t.Errorf("%q gives %v (%v), want %s", text, got, err, want)
		}
	}
	for _, text := range []string{"", "-", "11-", "0", "-3", "11,,13", "1-1000", "401", "13-11", "11.5", "1e1"} {
		if got, err := Gears.Parse(text); err == nil {
			t.Errorf("%q gives %v, want an error", text, got)
		}
	}
}

// A bare number gets the unit that its field has in a system, and nothing else gets any.
func TestUnitsBehind(t *testing.T) {
	var next NextRun
	for _, c := range []struct{ name, text, metric, us string }{
		{"ambient", "30", "30C", "30F"},
		{"ambient", " -3,5 ", " -3,5 C", " -3,5 F"},
		{"ambient", "30F", "30F", "30F"},
		{"ambient", "warm", "warm", "warm"},
		{"ambient", "", "", ""},
		{"tire", "4.65", "4.65mm", "4.65in"},
		{"tire", "118 mm", "118 mm", "118 mm"},
		{"tire", "street", "street", "street"},
		{"limit", "motor=80", "motor=80C", "motor=80F"},
		{"limit", "motor=none", "motor=none", "motor=none"},
		{"limit", "80", "80C", "80F"}, // and is refused, for want of a part
		{"minutes", "12", "12", "12"},
		{"pinions", "16", "16", "16"},
		{"cells", "4", "4", "4"},
		{"surface", "3", "3", "3"},
	} {
		v := named(t, &next, c.name)
		if m, us := v.Units.Behind(c.text, units.Metric), v.Units.Behind(c.text, units.US); m != c.metric || us != c.us {
			t.Errorf("%s: %q becomes %q and %q, want %q and %q", c.name, c.text, m, us, c.metric, c.us)
		}
	}
}

// A chance is a share of one, or a percentage with its sign.
func TestConfidence(t *testing.T) {
	for text, want := range map[string]float64{"0.8": 0.8, "0,8": 0.8, "80%": 0.8, " 80 % ": 0.8, "92.5%": 0.925, "0.5%": 0.005} {
		if got, err := Confidence.Parse(text); err != nil || got != want {
			t.Errorf("%q is read as %g, %v, want %g", text, got, err, want)
		}
	}
}

func named(t *testing.T, n *NextRun, name string) Value {
	t.Helper()
	values := n.Values()
	at := slices.IndexFunc(values, func(v Value) bool { return v.Name == name })
	if at < 0 {
		t.Fatalf("there is no %q", name)
	}
	return values[at]
}

// Wrong texts are refused by each value, in words that name no flag, and change nothing.
func TestWrongTexts(t *testing.T) {
	car, setup := weekend(t), &carfile.Car{}
	for name, texts := range map[string][]string{
		"limit":       {"", "80C", "motor", "motor=", "motor=80", "motor=600C", "motr=80C", "motor=no"},
		"confidence":  {"", "0", "1", "80", "100%", "0%", "%", "80%%", "NaN"},
		"pinions":     {"", "0", "16-12"},
		"spurs":       {"", "x"},
		"ambient":     {"", "30", "86", "71C", "hot", "30K"},
		"minutes":     {"", "0", "-1", "12:61", "1441"},
		"tire":        {"", "118", "5mm", "2m"},
		"cells":       {"", "0", "100", "4.5"},
		"max-step-up": {"", "-1", "401"},
	} {
		for _, text := range texts {
			var next NextRun
			if err := next.Set(name, text); err == nil || strings.Contains(err.Error(), "--") {
				t.Errorf("%s: %q: %v", name, text, err)
			}
			got, err := next.Request(car, setup)
			var nothing NextRun
			want, errWant := nothing.Request(car, setup)
			if err != nil || errWant != nil || fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("%s: %q changed the request to %v", name, text, got)
			}
		}
	}
	var next NextRun
	if err := next.Set("colour", "red"); err == nil {
		t.Error("a next run has a colour")
	}
}

// weekend fits the demo's car.
func weekend(t *testing.T) *analyze.Car {
	t.Helper()
	file, err := os.Open(filepath.Join("..", "..", "..", "..", "testdata", "demo", "weekend.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	log, err := runlog.Read("weekend.csv", file, runlog.Options{})
	if err != nil {
		t.Fatal(err)
	}
	car, err := analyze.FitCar(log.Runs)
	if err != nil {
		t.Fatal(err)
	}
	return car
}

func heron(t *testing.T) *carfile.Car {
	t.Helper()
	file, err := carfile.Read("cars.toml", strings.NewReader(`[cars.heron]
cells = 3
pinions = [14, 15]
spurs = [70]
[cars.heron.tires]
small = "104mm"
[cars.heron.limits]
motor = "85C"
motor_whose = "the maker's sheet"
`))
	if err != nil {
		t.Fatal(err)
	}
	return file.Cars["heron"]
}

// What was said comes first, then the car file, then the last run or the defaults, and the
// request says of each which it was.
func TestWhatComesFirst(t *testing.T) {
	car, setup := weekend(t), heron(t)
	last := analyze.ConditionsOf(car.Last)
	var next NextRun
	req, err := next.Request(car, setup)
	if err != nil {
		t.Fatal(err)
	}
	want := advise.Origins{Pinions: advise.CarFile, Spurs: advise.CarFile, Cells: advise.CarFile,
		Ambient: advise.LastRun, Minutes: advise.LastRun, Tire: advise.LastRun, Surface: advise.LastRun, Cooling: advise.LastRun}
	if req.From != want || req.Next.Ambient != last.Ambient || req.Next.Cells != 3 || len(req.Gearings) != 2 || req.Gearings[0].Spur != 70 {
		t.Errorf("nothing said: %+v", req)
	}
	if motor, esc := req.Limits.At(run.Motor), req.Limits.At(run.ESC); motor != (advise.Limit{Temperature: 85, Origin: advise.CarFile, Whose: "the maker's sheet"}) ||
		esc != advise.DefaultLimits().At(run.ESC) {
		t.Errorf("limits %+v", req.Limits)
	}
	if req, err = next.Request(car, &carfile.Car{}); err != nil || req.From.Pinions != advise.LastRun || req.Next.Cells != last.Cells {
		t.Errorf("no car file: %+v, %v", req, err)
	}
	for name, text := range map[string]string{"pinions": "12,13", "spurs": "68", "ambient": "86F", "minutes": "12:30", "tire": "small", "cells": "4",
		"surface": "sand", "cooling": "fan", "confidence": "0.9", "max-step-up": "1", "limit": "motor=none"} {
		if err := next.Set(name, text); err != nil {
			t.Fatal(name, err)
		}
	}
	if req, err = next.Request(car, setup); err != nil || req.From != (advise.Origins{}) || req.Next.Tire != 104 || math.Abs(float64(req.Next.Ambient)-30) > 1e-9 ||
		req.Next.Minutes != 12.5 || req.Confidence != 0.9 || req.MaxStepUp != 1 || len(req.Gearings) != 2 {
		t.Errorf("all said: %+v, %v", req, err)
	}
	if judged := req.Limits.Has(run.Motor); judged {
		t.Error("the motor is judged though nobody wants it")
	}
}

// A copy goes its own way: what one next run is asked is not asked of the other.
func TestCopiesAreApart(t *testing.T) {
	car, setup := weekend(t), &carfile.Car{}
	var next NextRun
	if err := next.Set("limit", "motor=80C"); err != nil {
		t.Fatal(err)
	}
	before, err := next.Request(car, setup)
	if err != nil {
		t.Fatal(err)
	}
	other := next
	for name, text := range map[string]string{"ambient": "35C", "limit": "battery=50C", "surface": "ice"} {
		if err := other.Set(name, text); err != nil {
			t.Fatal(err)
		}
	}
	after, err := next.Request(car, setup)
	if err != nil || fmt.Sprint(after) != fmt.Sprint(before) {
		t.Errorf("the copy changed %v to %v", before, after)
	}
	if err := next.Set("limit", "battery=55C"); err != nil {
		t.Errorf("the copy's limit stands in the way: %v", err)
	}
	if err := next.Set("limit", "motor=none"); err == nil {
		t.Error("the motor's limit was given twice")
	}
}

// A tire's name shows to be wrong only once the car is known; the error says of what.
func TestUnknownTire(t *testing.T) {
	var next NextRun
	if err := next.Set("tire", "smal"); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		setup *carfile.Car
		want  string
	}{{heron(t), "did you mean small?"}, {&carfile.Car{}, "names no tire"}} {
		_, err := next.Answer(weekend(t), c.setup)
		var wrong *ValueError
		if !errors.As(err, &wrong) || wrong.Name != "tire" || wrong.Text != "smal" || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %s", err, c.want)
		}
	}
	if _, err := Length.Parse("118"); !errors.Is(err, units.ErrNoUnit) {
		t.Error(err)
	}
}

// Both days of a filter are in it, whatever the hour, and a tire is known to half a millimetre.
func TestRunFilter(t *testing.T) {
	run := run.Run{When: time.Date(2026, 5, 16, 23, 59, 0, 0, time.UTC), HasTime: true, Tire: 118.11, Surface: "grass"}
	run.Gearing.Pinion = 16
	for _, c := range []struct {
		name, text string
		wants      bool
	}{
		{"since", "2026-05-16", true}, {"since", "2026-05-17", false}, {"until", "2026-05-16", true}, {"until", "2026-05-15", false},
		{"since", "2026-05", true}, {"since", "2026-06", false}, {"until", "2026-05", true}, {"until", "2026-04", false},
		{"pinion", "14-16", true}, {"pinion", "14,15", false}, {"tire", "4.65in", true}, {"tire", "118mm", true}, {"tire", "117.6mm", false},
		{"surface", " Grass", true}, {"surface", "clay", false}, {"last", "1", true},
	} {
		var filter RunFilter
		if !filter.wants(&run) {
			t.Fatal("a filter that nothing was said of keeps a run out")
		}
		for _, v := range filter.Values() {
			if v.Name == c.name {
				if err := v.Set(c.text); err != nil {
					t.Fatal(err)
				}
			}
		}
		if got := filter.wants(&run); got != c.wants {
			t.Errorf("%s %s: %t", c.name, c.text, got)
		}
	}
	// February had 28 days in 2026.
	if day, err := lastDay.Parse("2026-02"); err != nil || day.Format(time.DateOnly) != "2026-02-28" {
		t.Errorf("February ends on %v, %v", day, err)
	}
	for _, text := range []string{"16.5.2026", "2026", "2026-13", "05-2026", ""} {
		if day, err := firstDay.Parse(text); err == nil {
			t.Errorf("%q is read as %v", text, day)
		}
	}
}

// The latest runs are those of the latest moments, wherever they stand.
func TestLatestRuns(t *testing.T) {
	day := time.Date(2026, 5, 16, 0, 0, 0, 0, time.UTC)
	var latest RunFilter
	last, _ := Named(latest.Values(), "last")
	if err := last.Set("2"); err != nil {
		t.Fatal(err)
	}
	days := []run.Run{{When: day.AddDate(0, 0, 2)}, {When: day}, {When: day.AddDate(0, 0, 1)}}
	if got := latest.Of(days); len(got) != 2 || got[0].When != days[2].When || got[1].When != days[0].When {
		t.Errorf("the latest 2 of %v are %v", days, got)
	}
}
