package report

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"regear/advise"
	"regear/analyze/run"
	"regear/cmd/regear/internal/document"
)

// candidates is the table of every candidate, with its legend.
func (t adviceWords) candidates() document.Table {
	table := t.table(t.Candidates)
	for i := range table.Columns {
		table.Columns[i].Spare = 0 // all there is
	}
	table.Legend = t.legend()
	return table
}

// mostAround is how many candidates the short answer shows.
const mostAround = 7

// around is the table of the candidates around the pick. What is said elsewhere in a short
// answer, and what a driver at a tailgate can do without, may be left out.
func (t adviceWords) around() document.Table {
	at := slices.IndexFunc(t.Candidates, func(c advise.Candidate) bool { return c.Gearing == t.Pick.Gearing })
	from := max(0, min(at-mostAround/2, len(t.Candidates)-mostAround))
	return t.table(t.Candidates[from:min(from+mostAround, len(t.Candidates))])
}

// table is a table of some candidates. Where a line is short, it can spare first the ratio,
// then the rollout, the longest run, the parts that don't decide, and the speed.
func (t adviceWords) table(of []advise.Candidate) document.Table {
	table := document.Table{
		Caption: "What each candidate would do in the next run",
		Columns: []document.Column{{Head: "\npinion"}},
	}
	if t.severalSpurs() {
		table.Columns = append(table.Columns, document.Column{Head: "\nspur"})
	}
	table.Columns = append(table.Columns, document.Column{Head: "\nratio", Later: true, Spare: 6},
		document.Column{Head: "rollout\n" + t.Units.LengthUnit(), Later: true, Spare: 5},
		document.Column{Head: "\nspeed", Later: true, Spare: 1}, document.Column{Head: "\nchance"})
	for _, f := range t.Car.Fits() {
		column := t.partColumn(f.Part)
		column.Spare = t.spareOf(f.Part)
		table.Columns = append(table.Columns, column)
	}
	table.Columns = append(table.Columns, document.Column{Head: "longest\nrun, min", Spare: 4}, remarkColumn(""))
	for i := range of {
		table.Rows = append(table.Rows, t.candidateRow(&of[i]))
	}
	return table
}

// spareOf returns how well a part's column can be spared: the one that decides not at all,
// and of the others first the one that is the least likely to.
func (t adviceWords) spareOf(part run.Part) int {
	if part == t.Binding {
		return 0
	}
	spare := 2
	for other, f := range t.Pick.Parts.All() {
		if own := t.Pick.Parts.At(part); other != t.Binding && other != part && (!own.HasLimit || f.HasLimit && f.Chance < own.Chance) {
			spare = 3
		}
	}
	return spare
}

// remarkColumn is a last column of remarks, which text can leave without a head.
func remarkColumn(head string) document.Column {
	return document.Column{Head: head, Full: "remarks", Kind: document.Label}
}

// partColumn names a part's column with its limit.
func (t adviceWords) partColumn(part run.Part) document.Column {
	name := fmt.Sprintf("%s %s", part.Word(), t.Units.TemperatureUnit())
	if l, ok := t.Limits.Of(part); ok {
		limit := "limit " + t.Units.ReadingNumber(l.Temperature)
		return document.Column{Head: name + "\n" + limit, Full: name + ", " + limit}
	}
	return document.Column{Head: name + "\nno limit", Full: name + ", no limit"}
}

func (t adviceWords) candidateRow(c *advise.Candidate) document.Row {
	cells := []string{strconv.Itoa(c.Gearing.Pinion)}
	if t.severalSpurs() {
		cells = append(cells, strconv.Itoa(c.Gearing.Spur))
	}
	cells = append(cells, fixed(c.Ratio, 2), t.Units.Rollout(c.Rollout), speedChange(c.SpeedChange), chance(c.Chance))
	for _, f := range t.Car.Fits() {
		cells = append(cells, peaks(t.Units, c.Parts.At(f.Part)))
	}
	longest := lengthCell(advise.Longest{Minutes: c.MinutesToLimit, Bounded: c.HasMinutesToLimit})
	return document.Row{
		Cells:  append(cells, longest, strings.Join(t.marks(c), ", ")),
		Strong: c.Gearing == t.Pick.Gearing && t.Action != advise.NoneReachesConfidence,
	}
}

// The marks of a candidate, as the table writes them.
const (
	markPick     = "pick"
	markLikely   = "likeliest"
	markNow      = "now fitted"
	markUntested = "untested"
	markTooFarUp = "too far up"
)

func (t adviceWords) marks(c *advise.Candidate) []string {
	var marks []string
	switch {
	case c.Gearing != t.Pick.Gearing:
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
		"half of them below the middle one. Speed: flat out, against the last run. Longest run: still reaches %s.", wanted(t.Confidence))
	var untested, tooFarUp bool
	for _, c := range t.Candidates {
		untested = untested || c.Outside
		tooFarUp = tooFarUp || c.TooFarUp
	}
	if untested {
		prose += " Untested: outside the rollouts already run (" + span(t.Units, t.Car.Tested()) + ")."
	}
	if tooFarUp {
		prose += fmt.Sprintf(" Too far up: more than %s above what is fitted, or above the tallest gearing that a run has proven.", teeth(t.MaxStepUp))
	}
	return prose
}
