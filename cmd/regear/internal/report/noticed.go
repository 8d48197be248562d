package report

import (
	"strconv"
	"strings"

	"regear/analyze/run"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/document"
)

// Noticed is what was noticed while the logs were read.
type Noticed = app.Notes

// NoticedText writes every finding on a line of its own that begins with its place, for
// people and for editors that jump there. What looks implausible in the same way in
// many rows of a log is said once: on a hot day every row's air is hot.
func NoticedText(n Noticed) string {
	var b strings.Builder
	for _, line := range noticedLines(n) {
		b.WriteString(line + "\n")
	}
	return b.String()
}

// Noted are the same findings; there is nothing where there are none.
func Noted(n Noticed) document.Document {
	lines := noticedLines(n)
	if len(lines) == 0 {
		return nil
	}
	return document.Document{document.Lines{Items: lines}}
}

func noticedLines(n Noticed) []string {
	var lines []string
	for _, k := range kindsOf(n) {
		for _, g := range k.findings() {
			line := g.first.String()
			switch more := len(g.at) - 1; {
			case more == 1:
				line += " (and in one more row)"
			case more > 1:
				line += " (and in " + strconv.Itoa(more) + " more rows)"
			}
			lines = append(lines, line+"; "+k.consequence)
		}
	}
	return lines
}

// kind is one kind of finding: its code in JSON, and what became of the row.
type kind struct {
	code, consequence, inBrief string
	once                       bool // findings alike are said once
	problems                   []run.Problem
}

// finding is a problem with the places of all that are alike.
type finding struct {
	first run.Problem
	at    []run.Position
}

// findings groups the problems in the order of their first places.
func (k kind) findings() []finding {
	type likeness struct{ file, column, what string }
	var all []finding
	known := map[likeness]int{}
	for _, p := range k.problems {
		like := likeness{p.File, p.Column, p.What}
		if i, seen := known[like]; seen && k.once {
			all[i].at = append(all[i].at, p.Position)
			continue
		}
		known[like] = len(all)
		all = append(all, finding{p, []run.Position{p.Position}})
	}
	return all
}

func kindsOf(n Noticed) []kind {
	return []kind{
		{"row_left_out", "row left out", "left out", false, n.LeftOut},
		{"looks_implausible", "used as it is", "looks odd, used as it is", true, n.Doubtful},
		{"counted_once", "counted once", "in two logs, counted once", false, n.CountedOnce},
	}
}

func noticedJSON(n Noticed) []warningJSON {
	var all []warningJSON
	for _, k := range kindsOf(n) {
		for _, g := range k.findings() {
			p := g.first
			one := warningJSON{Code: k.code, Action: p.Do}
			if p.Line > 0 {
				for _, at := range g.at {
					one.Runs = append(one.Runs, at.String())
				}
			}
			p.Do = ""
			one.Message = p.String() + "; " + k.consequence
			all = append(all, one)
		}
	}
	return all
}
