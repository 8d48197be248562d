package report

import (
	"fmt"
	"strconv"
	"strings"

	"regear/advise"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/document"
)

// candidates is the table of every candidate, with its legend.
func (t adviceWords) candidates() document.Table {
	table := document.Table{
		Caption: "What each candidate would do in the next run",
		Columns: []document.Column{{Head: "\npinion"}},
		Legend:  t.legend(),
	}
	if t.severalSpurs() {
		table.Columns = append(table.Columns, document.Column{Head: "\nspur"})
	}
	table.Columns = append(table.Columns, document.Column{Head: "\nratio", Later: true},
		document.Column{Head: "rollout\n" + t.Units.lengthUnit(), Later: true}, document.Column{Head: "\nspeed", Later: true},
		document.Column{Head: "\nchance"})
	for _, f := range t.Car.Fits() {
		table.Columns = append(table.Columns, t.partColumn(f.Part))
	}
	table.Columns = append(table.Columns, document.Column{Head: "longest\nrun, min"}, remarkColumn(""))
	for i := range t.Candidates {
		table.Rows = append(table.Rows, t.candidateRow(&t.Candidates[i]))
	}
	return table
}

// remarkColumn is a last column of remarks, which text can leave without a head.
func remarkColumn(head string) document.Column {
	return document.Column{Head: head, Full: "remarks", Kind: document.Label}
}

// partColumn names a part's column with its limit.
func (t adviceWords) partColumn(part runlog.Part) document.Column {
	name := fmt.Sprintf("%s %s", part.Word(), t.Units.degree())
	if l, ok := t.Limits[part]; ok {
		limit := "limit " + t.Units.givenNumber(l.Temperature)
		return document.Column{Head: name + "\n" + limit, Full: name + ", " + limit}
	}
	return document.Column{Head: name + "\nno limit", Full: name + ", no limit"}
}

func (t adviceWords) candidateRow(c *advise.Candidate) document.Row {
	cells := []string{strconv.Itoa(c.Gearing.Pinion)}
	if t.severalSpurs() {
		cells = append(cells, strconv.Itoa(c.Gearing.Spur))
	}
	cells = append(cells, fixed(c.Ratio, 2), t.Units.rollout(c.Rollout), speedChange(c.SpeedChange), chance(c.Chance))
	for _, f := range t.Car.Fits() {
		cells = append(cells, t.Units.peaks(c.Parts[f.Part]))
	}
	longest := lengthCell(advise.Longest{Minutes: c.MinutesToLimit, Bounded: c.HasMinutesToLimit})
	return document.Row{
		Cells:  append(cells, longest, strings.Join(t.marks(c), ", ")),
		Strong: c == t.Pick && t.Action != advise.NoneReachesConfidence,
	}
}

// The marks of a candidate, as the table writes them.
const (
	markPick     = "pick"
	markLikely   = "most probable"
	markNow      = "now fitted"
	markUntested = "untested"
	markTooFarUp = "too far up"
)

func (t adviceWords) marks(c *advise.Candidate) []string {
	var marks []string
	switch {
	case c != t.Pick:
	case t.Action == advise.NoneReachesConfidence:
		marks = append(marks, markLikely)
	default:
		marks = append(marks, markPick)
	}
	if c.Gearing == t.Current.Gearing {
		marks = append(marks, markNow)
	}
	if c.Outside {
		marks = append(marks, markUntested)
	}
	if c.TooFarUp {
		marks = append(marks, markTooFarUp)
	}
	return marks
}

// legend explains what the table's columns and marks don't say themselves.
func (t adviceWords) legend() string {
	prose := fmt.Sprintf("Chance: of staying under every limit. Temperatures: 80 %% of runs peak between the first and the last, "+
		"half of them below the middle one. Speed: at equal motor speed, against the gearing now fitted. Longest run: still reaches %s.", wanted(t.Confidence))
	var untested, tooFarUp bool
	for _, c := range t.Candidates {
		untested = untested || c.Outside
		tooFarUp = tooFarUp || c.TooFarUp
	}
	if untested {
		prose += " Untested: outside the rollouts already run (" + t.Units.span(t.Car.Tested()) + ")."
	}
	if tooFarUp {
		prose += fmt.Sprintf(" Too far up: more than %s above the tallest of them.", teeth(t.MaxStepUp))
	}
	return prose
}
