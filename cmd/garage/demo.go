package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	domain "regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/garage/internal/physics"
)

// demoSeed is the luck of the demo, taken from a few for a story that reads well.
const demoSeed = 9

const (
	smallTire = 104.0 // mm, before the conversion
	largeTire = 118.0 // mm
)

// demoDay is a day of the invented season.
type demoDay struct {
	date time.Time
	air  float64 // °C
	tire float64 // mm
	runs []demoRun
}

// demoRun is a run as its driver planned it.
type demoRun struct {
	pinion  int
	minutes float64
	rest    float64 // minutes since the run before; 0 = cold
	note    string
}

func morning(month time.Month, date int) time.Time {
	return time.Date(2026, month, date, 10, 10, 0, 0, time.UTC)
}

// season is the invented season: days on the smaller tires, and a weekend that is the
// first on the larger ones.
var season = []demoDay{
	{morning(time.March, 14), 13, smallTire, []demoRun{{pinion: 16, minutes: 10, note: "first outing of the year"}, {pinion: 17, minutes: 11}, {pinion: 17, minutes: 12}, {pinion: 17, minutes: 12}}},
	{morning(time.March, 28), 16, smallTire, []demoRun{{pinion: 17, minutes: 12}, {pinion: 18, minutes: 11}, {pinion: 18, minutes: 12.5}, {pinion: 18, minutes: 11, rest: 14, note: "straight back out"}}},
	{morning(time.April, 11), 18, smallTire, []demoRun{{pinion: 18, minutes: 12}, {pinion: 19, minutes: 8}, {pinion: 19, minutes: 12}, {pinion: 18, minutes: 14}}},
	{morning(time.April, 12), 20, smallTire, []demoRun{{pinion: 18, minutes: 12}, {pinion: 18, minutes: 10}, {pinion: 17, minutes: 12}, {pinion: 18, minutes: 12, rest: 18}}},
	{morning(time.April, 25), 21, smallTire, []demoRun{{pinion: 18, minutes: 12}, {pinion: 19, minutes: 11}, {pinion: 19, minutes: 12}, {pinion: 18, minutes: 6, note: "rain, stopped early"}}},
	{morning(time.May, 9), 24, smallTire, []demoRun{{pinion: 18, minutes: 12}, {pinion: 18, minutes: 12}, {pinion: 17, minutes: 13}, {pinion: 18, minutes: 12}}},
	{morning(time.May, 16), 25, largeTire, []demoRun{{pinion: 17, minutes: 12, note: "first run on the larger tires"}, {pinion: 17, minutes: 8, note: "short one to be sure"}, {pinion: 16, minutes: 12}}},
	{morning(time.May, 17), 27, largeTire, []demoRun{{pinion: 16, minutes: 13}, {pinion: 16, minutes: 10}, {pinion: 17, minutes: 12, note: "17 again, too hot to touch"}}},
}

// weekendRuns is how many runs the weekend has.
const weekendRuns = 6

// writeDemo writes the demo logs into a folder: the weekend, the same
// weekend as read in °F and inches, and the season that it ends.
func writeDemo(dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	runs := driveDemo(season)
	weekend := runs[len(runs)-weekendRuns:]
	return errors.Join(
		writeDemoFile(filepath.Join(dir, "weekend.csv"), weekend, false),
		writeDemoFile(filepath.Join(dir, "weekend-us.csv"), weekend, true),
		writeDemoFile(filepath.Join(dir, "season.csv"), runs, false))
}

// driveDemo drives the demo's car through some days.
func driveDemo(days []demoDay) []domain.Run {
	d := driver{Member: physics.Heron(), r: rand.New(rand.NewPCG(demoSeed, 0)), parts: domain.Parts[:]}
	var plan []planned
	var when []time.Time
	var notes []string
	for i, day := range days {
		at := day.date
		for _, r := range day.runs {
			plan = append(plan, planned{pinion: r.pinion, tire: day.tire, minutes: r.minutes, day: i, air: day.air, wear: 1, rest: r.rest})
			pause := 40 * time.Minute
			if r.rest > 0 {
				pause = time.Duration(r.rest+r.minutes+1) * time.Minute
			}
			at = at.Add(pause)
			when, notes = append(when, at), append(notes, r.note)
		}
	}
	log := d.drive(plan)
	for i := range log {
		log[i].Car, log[i].When, log[i].Note = "heron", when[i], notes[i]
	}
	return log
}

// inUS turns the columns that a driver reads in °F and inches, by the ending of their
// names: whole °C turned to °F keep their tenth, so that both files tell exactly the same.
var inUS = map[string]struct {
	ending string
	cell   func(x float64) string
}{
	"c":  {"f", func(x float64) string { return units.Fixed(units.Celsius(x).Fahrenheit(), 1) }},
	"mm": {"in", func(x float64) string { return units.Fixed(units.Millimeters(x).Inches(), 3) }},
}

// writeDemoFile writes runs as a log with those of the columns that hold anything.
func writeDemoFile(path string, runs []domain.Run, us bool) error {
	rows := make([][]string, len(runs)+1)
	for i, column := range runlog.WrittenColumns() {
		cells, used := make([]string, len(runs)), false
		for j, r := range runs {
			cells[j] = runlog.Written(r)[i]
			used = used || cells[j] != ""
		}
		if !used {
			continue
		}
		end := strings.LastIndex(column, "_") + 1
		if unit, measured := inUS[column[end:]]; us && measured {
			column = column[:end] + unit.ending
			for j := range cells {
				if x, err := strconv.ParseFloat(cells[j], 64); err == nil {
					cells[j] = unit.cell(x)
				}
			}
		}
		for j, cell := range append([]string{column}, cells...) {
			rows[j] = append(rows[j], cell)
		}
	}
	var text strings.Builder
	fmt.Fprintln(&text, "# Invented: no such car or weekend exists. Made by: go run ./cmd/garage demo testdata/demo")
	if err := csv.NewWriter(&text).WriteAll(rows); err != nil {
		return err
	}
	return os.WriteFile(path, []byte(text.String()), 0o644)
}
