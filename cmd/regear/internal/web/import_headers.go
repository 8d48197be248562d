package web

import (
	"fmt"
	"net/url"
	"slices"
	"strings"

	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/app"
)

// columnWords are the columns of a log in a driver's words, by their names without a unit.
var columnWords = map[string]string{
	"date": "when it ended", "car": "the car", "pinion_teeth": "pinion, teeth", "spur_teeth": "spur, teeth",
	"internal_ratio": "internal ratio", "final_drive_ratio": "final drive ratio",
	"tire_diameter": "tire, diameter", "tire_circumference": "tire, distance of one turn",
	"ambient": "air", "run_minutes": "minutes driven",
	"motor_peak": "motor, highest", "esc_peak": "ESC, highest", "battery_peak": "battery, highest",
	"motor_start": "motor, before the run", "esc_start": "ESC, before the run", "battery_start": "battery, before the run",
	"stopped_by_heat": "heat cut the run short", "cells": "cells in series", "motor": "which motor",
	"surface": "surface", "cooling": "cooling", "skip": "left out of the fits", "note": "note",
	runlog.NumberColumn: "number in the log book",
}

// groupWords are what a log must say, by the first column that says it.
var groupWords = map[string]string{
	"date": "when a run ended", "pinion_teeth": "the pinion's teeth", "spur_teeth": "the spur's teeth",
	"tire_diameter_mm": "the tire's size", "ambient_c": "how warm the air was", "run_minutes": "how long the car was driven",
	"motor_peak_c": "how hot the motor, the ESC or the battery got",
}

// nothing is what a header stands for that is no column.
const nothing = "nothing: keep it as it is"

// columnOf is a column of a log, the place in its names, and the unit of those in a unit.
func columnOf(name string) (quantity, unit string) {
	signs := map[string]string{"c": "°C", "f": "°F", "mm": "mm", "in": "inches"}
	if at := strings.LastIndexByte(name, '_'); at >= 0 && columnWords[name] == "" && signs[name[at+1:]] != "" {
		return name[:at], signs[name[at+1:]]
	}
	return name, ""
}

// wordsOf returns a column in a driver's words, with its unit, and a header of the driver's own as
// it is.
func wordsOf(column string) string {
	quantity, unit := columnOf(column)
	switch words := columnWords[quantity]; {
	case words == "":
		return column
	case unit == "":
		return words
	default:
		return words + ", " + unit
	}
}

// Headers are the headers of the files, each with what it is.
type Headers struct{ All []*headerRow }

// headerRow is one header: what the form sends of it, and what it shows besides.
type headerRow struct {
	N          int
	Header     string
	As         string // the column that is chosen, "" for none
	Taken      string // what the file was read with unasked; what is chosen says so only if it differs
	Examples   []string
	CouldBe    string
	IsOpen     bool
	Remembered bool
}

// answered stands for what the file was read with where the form said it: it has to be said again.
const answered = "?"

// Open are the headers that are asked about.
func (h Headers) Open() []*headerRow { return h.those(true) }

// Settled are those that need not be asked about.
func (h Headers) Settled() []*headerRow { return h.those(false) }

func (h Headers) those(open bool) (all []*headerRow) {
	for _, row := range h.All {
		if row.IsOpen == open {
			all = append(all, row)
		}
	}
	return all
}

// sentHeaders are the headers of a form that was sent.
func sentHeaders(form url.Values) (h Headers) {
	as, taken := form["as"], form["taken"]
	for n, header := range form["header"] {
		if n < len(as) && n < len(taken) {
			h.All = append(h.All, &headerRow{N: n, Header: header, As: as[n], Taken: taken[n]})
		}
	}
	return h
}

// said is what the driver says of headers.
func (h Headers) said() (map[string]string, error) {
	columns := map[string]string{}
	for _, row := range h.All {
		if row.As == row.Taken {
			continue
		}
		if row.As != "" {
			if _, _, err := runlog.ParseColumn(row.Header + "=" + row.As); err != nil {
				return nil, fmt.Errorf("the header %q: %w", row.Header, err)
			}
		}
		columns[row.Header] = row.As
	}
	return columns, nil
}

// ask takes over the headers of files that were read, with what would read those that can't be.
func (h *Headers) ask(headers []app.Header, try *runlog.Options) {
	const most = 100 // of a page
	h.All = nil
	for n, header := range headers[:min(len(headers), most)] {
		row := &headerRow{N: n, Header: header.Header, As: header.Name, Taken: header.Name,
			Examples: header.Examples, Remembered: header.From == runlog.AsRemembered}
		if header.From == runlog.AsSaid {
			row.Taken = answered
		}
		if try != nil && try.Columns[header.Header] != "" {
			row.As, row.IsOpen = try.Columns[header.Header], true
		}
		h.All = append(h.All, row)
	}
}

// open asks about the header of a remedy.
func (h Headers) open(r run.Remedy) {
	if r.Header == "" || r.Kind != run.MapColumn && r.Kind != run.NameCar {
		return
	}
	for _, row := range h.All {
		if runlog.SameHeader(row.Header, r.Header) && row.Taken != answered {
			row.IsOpen = true
			if r.Column != "" {
				row.CouldBe = wordsOf(r.Column)
			}
		}
	}
}

// openUnread asks about the headers that stand for nothing.
func (h Headers) openUnread() {
	for _, row := range h.All {
		row.IsOpen = row.As == ""
	}
}

// choiceOf is one choice of what a header is.
type choiceOf struct {
	Value, Words string
	Chosen       bool
}

// Choices are what a header can be.
func (r *headerRow) Choices() []choiceOf {
	all := []choiceOf{{Words: nothing}}
	columns := runlog.Columns()
	for _, c := range columns {
		if c.Name() == runlog.NumberColumn && r.As != c.Name() {
			continue
		}
		if quantity, unit := columnOf(c.Name()); unit != "" && r.As == quantity { // asked for once, for the whole file
			all = append(all, choiceOf{Value: quantity, Words: wordsOf(quantity) + ", in the file's unit"})
		}
		for _, name := range c.Names {
			all = append(all, choiceOf{Value: name, Words: wordsOf(name)})
		}
	}
	at := slices.IndexFunc(all, func(c choiceOf) bool { return c.Value == r.As })
	all[max(at, 0)].Chosen = true
	return all
}
