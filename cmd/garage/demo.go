package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"time"

	domain "regear/analyze/run"
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

func day(month time.Month, date int) time.Time {
	return time.Date(2026, month, date, 10, 10, 0, 0, time.UTC)
}

// spring is the season before the weekend, on the smaller tires.
var spring = []demoDay{
	{day(time.March, 14), 13, smallTire, []demoRun{{pinion: 16, minutes: 10, note: "first outing of the year"}, {pinion: 17, minutes: 11}, {pinion: 17, minutes: 12}, {pinion: 17, minutes: 12}}},
	{day(time.March, 28), 16, smallTire, []demoRun{{pinion: 17, minutes: 12}, {pinion: 18, minutes: 11}, {pinion: 18, minutes: 12.5}, {pinion: 18, minutes: 11, rest: 14, note: "straight back out"}}},
	{day(time.April, 11), 18, smallTire, []demoRun{{pinion: 18, minutes: 12}, {pinion: 19, minutes: 8}, {pinion: 19, minutes: 12}, {pinion: 18, minutes: 14}}},
	{day(time.April, 12), 20, smallTire, []demoRun{{pinion: 18, minutes: 12}, {pinion: 18, minutes: 10}, {pinion: 17, minutes: 12}, {pinion: 18, minutes: 12, rest: 18}}},
	{day(time.April, 25), 21, smallTire, []demoRun{{pinion: 18, minutes: 12}, {pinion: 19, minutes: 11}, {pinion: 19, minutes: 12}, {pinion: 18, minutes: 6, note: "rain, stopped early"}}},
	{day(time.May, 9), 24, smallTire, []demoRun{{pinion: 18, minutes: 12}, {pinion: 18, minutes: 12}, {pinion: 17, minutes: 13}, {pinion: 18, minutes: 12}}},
}

// weekend is the first one on the larger tires.
var weekend = []demoDay{
	{day(time.May, 16), 25, largeTire, []demoRun{{pinion: 17, minutes: 12, note: "first run on the larger tires"}, {pinion: 17, minutes: 8, note: "short one to be sure"}, {pinion: 16, minutes: 12}}},
	{day(time.May, 17), 27, largeTire, []demoRun{{pinion: 16, minutes: 13}, {pinion: 16, minutes: 10}, {pinion: 17, minutes: 12, note: "17 again, too hot to touch"}}},
}

// writeDemo writes the demo logs into a folder: the weekend, the same
// weekend as read in °F and inches, and the season that it ends.
func writeDemo(dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	runs := driveDemo(append(spring[:len(spring):len(spring)], weekend...))
	before := 0
	for _, d := range spring {
		before += len(d.runs)
	}
	for _, f := range []struct {
		name  string
		runs  []domain.Run
		units demoUnits
	}{
		{"weekend.csv", runs[before:], metric},
		{"weekend-us.csv", runs[before:], us},
		{"season.csv", runs, metric},
	} {
		if err := writeDemoFile(filepath.Join(dir, f.name), f.runs, f.units); err != nil {
			return err
		}
	}
	return nil
}

// driveDemo drives the demo's car through some days.
func driveDemo(days []demoDay) []domain.Run {
	b := &builder{
		Member: physics.Heron(),
		r:      rand.New(rand.NewPCG(demoSeed, 0)),
		parts:  domain.Parts[:],
		loads:  map[physics.Setup]physics.Load{},
	}
	var when []time.Time
	var notes []string
	for i, d := range days {
		at := d.date
		for _, r := range d.runs {
			b.plan = append(b.plan, planned{
				pinion: r.pinion, tire: d.tire, minutes: r.minutes, day: i, air: d.air, wear: 1, rest: r.rest,
			})
			pause := 40 * time.Minute
			if r.rest > 0 {
				pause = time.Duration(r.rest+r.minutes+1) * time.Minute
			}
			at = at.Add(pause)
			when = append(when, at)
			notes = append(notes, r.note)
		}
	}
	b.drive()
	for i := range b.log {
		b.log[i].Car, b.log[i].When, b.log[i].Note = "heron", when[i], notes[i]
	}
	return b.log
}

// demoUnits are the units that a driver reads in. °C readings are whole; turned to
// °F they keep their tenth, so that both files tell exactly the same.
type demoUnits struct {
	temperature, length string // column endings
	degrees             func(units.Celsius) string
	size                func(units.Millimeters) string
}

var (
	metric = demoUnits{
		temperature: "_c", length: "_mm",
		degrees: func(c units.Celsius) string { return decimal(float64(c), 0) },
		size:    func(m units.Millimeters) string { return decimal(float64(m), 0) },
	}
	us = demoUnits{
		temperature: "_f", length: "_in",
		degrees: func(c units.Celsius) string { return decimal(c.Fahrenheit(), 1) },
		size:    func(m units.Millimeters) string { return decimal(m.Inches(), 3) },
	}
)

func decimal(x float64, places int) string { return strconv.FormatFloat(x, 'f', places, 64) }

func writeDemoFile(path string, runs []domain.Run, u demoUnits) (err error) {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer func() {
		if closeErr := f.Close(); err == nil {
			err = closeErr
		}
	}()
	if _, err := fmt.Fprintln(f, "# Invented: no such car or weekend exists. Made by: go run ./cmd/garage demo testdata/demo"); err != nil {
		return err
	}
	return writeRuns(f, runs, u)
}

// demoColumn is a column of a demo file; blank cells mean not measured.
type demoColumn struct {
	name string
	cell func(domain.Run) string
}

// writeRuns writes runs as a CSV with those of the columns that hold anything.
func writeRuns(out io.Writer, runs []domain.Run, u demoUnits) error {
	columns := []demoColumn{
		{"date", func(r domain.Run) string { return r.When.Format("2006-01-02T15:04") }},
		{"car", func(r domain.Run) string { return r.Car }},
		{"pinion_teeth", func(r domain.Run) string { return strconv.Itoa(r.Gearing.Pinion) }},
		{"spur_teeth", func(r domain.Run) string { return strconv.Itoa(r.Gearing.Spur) }},
		{"internal_ratio", func(r domain.Run) string { return strconv.FormatFloat(r.Gearing.Internal, 'f', -1, 64) }},
		{"tire_diameter" + u.length, func(r domain.Run) string { return u.size(r.Tire) }},
		{"ambient" + u.temperature, func(r domain.Run) string { return u.degrees(r.Ambient) }},
		{"run_minutes", func(r domain.Run) string { return strconv.FormatFloat(float64(r.Minutes), 'f', -1, 64) }},
	}
	for _, part := range domain.Parts {
		columns = append(columns, demoColumn{part.String() + "_peak" + u.temperature, func(r domain.Run) string { return u.reading(r.Peak, part) }})
	}
	for _, part := range domain.Parts {
		columns = append(columns, demoColumn{part.String() + "_start" + u.temperature, func(r domain.Run) string { return u.reading(r.Start, part) }})
	}
	columns = append(columns,
		demoColumn{"cells", func(r domain.Run) string { return strconv.Itoa(r.Cells) }},
		demoColumn{"note", func(r domain.Run) string { return r.Note }})

	w := csv.NewWriter(out)
	rows := make([][]string, len(runs)+1)
	for _, c := range columns {
		cells, used := make([]string, len(runs)), false
		for i, r := range runs {
			cells[i] = c.cell(r)
			used = used || cells[i] != ""
		}
		if !used {
			continue
		}
		rows[0] = append(rows[0], c.name)
		for i, cell := range cells {
			rows[i+1] = append(rows[i+1], cell)
		}
	}
	return w.WriteAll(rows)
}

// reading writes a part's reading, or nothing where it was not taken.
func (u demoUnits) reading(r domain.Readings, part domain.Part) string {
	c, taken := r.Of(part)
	if !taken {
		return ""
	}
	return u.degrees(c)
}
