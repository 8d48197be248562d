package report

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/document"
)

// Noted has every note on a line of its own that begins with its place, for people and for
// editors that jump there; it is empty if there is none. What looks implausible in the same way
// in many rows of a log is said once: on a hot day every row's air is hot.
func Noted(n app.Notes) document.Document {
	lines := noteLines(n)
	if len(lines) == 0 {
		return nil
	}
	return document.Document{document.Lines{Items: lines}}
}

func noteLines(n app.Notes) []string {
	var lines []string
	for _, k := range kindsOf(n) {
		for _, g := range k.notes() {
			lines = append(lines, g.line()+k.consequences())
		}
	}
	return lines
}

// Doubts has a line for each problem to ask about, or for all that are alike, up to twenty.
func Doubts(problems []run.Problem) []string {
	const most = 20
	var lines []string
	for _, g := range (kind{once: true, problems: problems}).notes() {
		lines = append(lines, g.line())
	}
	if more := len(lines) - most; more > 0 {
		lines = append(lines[:most], fmt.Sprintf("and %d more", more))
	}
	return lines
}

// kind is one kind of note: its code in JSON, and what became of the row.
type kind struct {
	code, consequence, inBrief string
	once                       bool // notes alike are said once
	problems                   []run.Problem
}

// consequences ends a note with what became of the row.
func (k kind) consequences() string {
	if k.consequence == "" {
		return ""
	}
	return "; " + k.consequence
}

// note is a problem with the places of all that are alike.
type note struct {
	first run.Problem
	at    []run.Position
}

// line tells the first problem, and in how many rows more it is.
func (n note) line() string {
	switch more := len(n.at) - 1; {
	case more == 1:
		return n.first.String() + " (and in one more row)"
	case more > 1:
		return fmt.Sprintf("%v (and in %d more rows)", n.first, more)
	}
	return n.first.String()
}

// notes groups the problems in the order of their first places.
func (k kind) notes() []note {
	type likeness struct{ file, column, what string }
	var all []note
	known := map[likeness]int{}
	for _, p := range k.problems {
		like := likeness{p.File, p.Column, p.What}
		if i, seen := known[like]; seen && k.once {
			all[i].at = append(all[i].at, p.Position)
			continue
		}
		known[like] = len(all)
		all = append(all, note{p, []run.Position{p.Position}})
	}
	return all
}

func kindsOf(n app.Notes) []kind {
	return []kind{
		{"row_left_out", "row left out", "left out", false, n.LeftOut},
		{"looks_implausible", "used as it is", "looks odd, used as it is", true, n.Implausible},
		{"counted_once", "counted once", "in two logs, counted once", false, n.CountedOnce},
		{"cell_left_out", "cell left out", "cells left out", false, n.Lost},
		{"noticed", "", "notes on how it was read", true, n.Noticed},
	}
}

func toNotes(n app.Notes) []warningJSON {
	var all []warningJSON
	for _, k := range kindsOf(n) {
		for _, g := range k.notes() {
			p := g.first
			one := warningJSON{Code: k.code, Action: p.Do}
			if p.Line > 0 {
				one.Runs = worded(g.at, run.Position.String)
			}
			p.Do = ""
			one.Message = p.String() + k.consequences()
			all = append(all, one)
		}
	}
	return all
}

// RunProblem is what keeps a row or a run out of fits.
type RunProblem struct {
	run.Position
	Car   string     // "" where the row is not known to be of a car
	Parts []run.Part // whose fits lack the run; none stands for all
	Why   string
}

// RowProblems lists the notes of logs, row by row.
func RowProblems(n app.Notes) []RunProblem {
	var all []RunProblem
	for _, k := range kindsOf(n) {
		for _, p := range k.problems {
			all = append(all, RunProblem{Position: p.Position, Why: p.String() + k.consequences()})
		}
	}
	return all
}

// NoUsableRun says that no run of a car or a log can be fitted.
func NoUsableRun(beginning string) string {
	return beginning + " can be used: a run counts if it isn't skipped and some part got hotter than it started"
}

// LeftOutOf lists the runs that some fit of a car leaves out, in the order of the log.
func LeftOutOf(car *analyze.Car) []RunProblem {
	var all []RunProblem
	for _, f := range car.Fits() {
		for _, left := range f.LeftOut {
			why := left.Position.String() + ": " + reasons[left.Reason].words
			at := slices.IndexFunc(all, func(p RunProblem) bool { return p.Position == left.Position && p.Why == why })
			if at < 0 {
				at = len(all)
				all = append(all, RunProblem{Position: left.Position, Car: car.Name, Why: why})
			}
			all[at].Parts = append(all[at].Parts, f.Part)
		}
	}
	slices.SortStableFunc(all, func(a, b RunProblem) int { return a.Line - b.Line })
	return all
}

func problemWords(problems []RunProblem, _ units.System) document.Document {
	if len(problems) == 0 {
		return document.Document{document.Paragraph("Nothing keeps a run out of the fits.")}
	}
	return document.Document{document.Lines{Items: problemLines(problems)}}
}

func problemLines(problems []RunProblem) []string {
	return worded(problems, func(p RunProblem) string {
		if len(p.Parts) > 0 {
			return p.Why + "; left out of the fit of the " + list(worded(p.Parts, run.Part.Word))
		}
		return p.Why
	})
}

func problemRows(problems []RunProblem) [][]string {
	rows := [][]string{{"place", "car", "parts", "why"}}
	for _, p := range problems {
		rows = append(rows, append([]string{p.place()}, cells(p.Car, strings.Join(worded(p.Parts, run.Part.String), " "), p.Why)...))
	}
	return rows
}

// place returns where the problem is, "" if it is nowhere in particular.
func (p RunProblem) place() string {
	switch {
	case p.File == "":
		return ""
	case p.Line == 0:
		return p.File
	}
	return p.Position.String()
}

type runProblemJSON struct {
	Place string   `json:"place,omitempty"`
	Car   string   `json:"car,omitempty"`
	Parts []string `json:"parts,omitempty"`
	Why   string   `json:"why"`
}

type problemsJSON struct {
	Schema   int              `json:"schema"`
	Problems []runProblemJSON `json:"problems"`
}

func toProblems(problems []RunProblem) problemsJSON {
	doc := problemsJSON{Schema, []runProblemJSON{}}
	for _, p := range problems {
		doc.Problems = append(doc.Problems, runProblemJSON{p.place(), p.Car, worded(p.Parts, run.Part.String), p.Why})
	}
	return doc
}

// ByFlags words a remedy for the command line, which has a flag for it; "" where it has none.
func ByFlags(r run.Remedy) string {
	switch r.Kind {
	case run.ChooseDateOrder:
		return "say which with --date-order day-first or --date-order month-first"
	case run.MapColumn:
		return fmt.Sprintf("if it is %s, rename it or use --column %s", r.Column, mapping(r))
	case run.NameCar:
		if r.Header == "" {
			return "add --car NAME"
		}
		return fmt.Sprintf("use --column %s if so, or add --car NAME", mapping(run.Remedy{Header: r.Header, Column: "car"}))
	case run.ReadHeatStops:
		return "if heat ended this run, add --heat-stops"
	case run.GiveConstant:
		return fmt.Sprintf("fill it in, or give one value for all blank cells with --constant %s=VALUE", r.Column)
	}
	return ""
}

// Flags writes options as flags, for what a log still needs to be read.
func Flags(o *runlog.Options) []string {
	var all []string
	for _, header := range slices.Sorted(maps.Keys(o.Columns)) {
		all = append(all, "--column", header+"="+o.Columns[header])
	}
	if o.FileUnits != nil {
		all = append(all, "--file-units", o.FileUnits.String())
	}
	if o.DateOrder != runlog.OrderOfLog {
		all = append(all, "--date-order", o.DateOrder.String())
	}
	for _, c := range o.Constants {
		all = append(all, "--constant", c.String())
	}
	return all
}

// IfTrue says what has to be true of a log for the options that are to be tried; "" for nothing.
// That the values of constants are the driver's is for the caller to say.
func IfTrue(try *runlog.Options) string {
	var all []string
	if len(try.Columns) > 0 {
		all = append(all, "each header stands for what is said of it")
	}
	if try.FileUnits != nil {
		all = append(all, fmt.Sprintf("the file is in %s and %s", try.FileUnits.TemperatureUnit(), try.FileUnits.LengthUnit()))
	}
	switch try.DateOrder {
	case runlog.DayFirst:
		all = append(all, "its dates have the day first")
	case runlog.MonthFirst:
		all = append(all, "its dates have the month first")
	}
	if len(all) == 0 {
		return ""
	}
	return " if " + list(all)
}

// inReport words a remedy for readers of a report, who may have nothing but the log.
func inReport(r run.Remedy) string {
	switch r.Kind {
	case run.ChooseDateOrder:
		return "say whether the day or the month stands first, and ask again"
	case run.MapColumn:
		return fmt.Sprintf("if it is %s, rename it", r.Column)
	case run.NameCar:
		return "add a column that names the car"
	case run.ReadHeatStops:
		return "if heat ended this run, put yes in stopped_by_heat"
	case run.GiveConstant:
		return "fill it in"
	}
	return ""
}

// mapping writes the mapping of a header to a column as flags take it, and the unit
// for which it is right.
func mapping(r run.Remedy) string {
	text := fmt.Sprintf("'%s=%s'", run.Printable(r.Header), r.Column)
	if r.Unit != "" {
		text += " if it is in " + r.Unit
	}
	return text
}
