package report

import (
	"strings"

	"regear/analyze/runlog"
)

// Noticed is what was noticed while the logs were read.
type Noticed struct {
	LeftOut     []runlog.Problem // rows that could not be used
	Doubtful    []runlog.Problem // what looks implausible and was used all the same
	CountedOnce []runlog.Problem // runs that stand in more than one log
}

// Text writes every finding on a line of its own that begins with its place, for
// people and for editors that jump there.
func (n Noticed) Text() string {
	var b strings.Builder
	for _, k := range n.kinds() {
		for _, p := range k.problems {
			b.WriteString(p.String() + "; " + k.consequence + "\n")
		}
	}
	return b.String()
}

// kind is one kind of finding: its code in JSON, and what became of the row.
type kind struct {
	code, consequence string
	problems          []runlog.Problem
}

func (n Noticed) kinds() []kind {
	return []kind{
		{"row_left_out", "row left out", n.LeftOut},
		{"looks_implausible", "nothing was changed", n.Doubtful},
		{"counted_once", "counted once", n.CountedOnce},
	}
}

func (n Noticed) toJSON() []warningJSON {
	var all []warningJSON
	for _, k := range n.kinds() {
		for _, p := range k.problems {
			one := warningJSON{Code: k.code, Action: p.Do}
			if p.Line > 0 {
				one.Runs = []string{p.Position.String()}
			}
			p.Do = ""
			one.Message = p.String() + "; " + k.consequence
			all = append(all, one)
		}
	}
	return all
}
