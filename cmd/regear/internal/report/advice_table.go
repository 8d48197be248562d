package report

import (
	"fmt"
	"slices"
	"strconv"

	"regear/advise"
	"regear/analyze/drivetrain"
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
	type candidate = advise.Candidate
	columns := []column[candidate]{{document.Column{Head: "\npinion"}, func(c *candidate) string { return strconv.Itoa(c.Gearing.Pinion) }}}
	add := func(c document.Column, cell func(*candidate) string) {
		columns = append(columns, column[candidate]{c, cell})
	}
	if t.severalSpurs() {
		add(document.Column{Head: "\nspur"}, func(c *candidate) string { return strconv.Itoa(c.Gearing.Spur) })
	}
	add(document.Column{Head: "\nratio", Later: true, Spare: 6}, func(c *candidate) string { return fixed(c.Ratio, 2) })
	add(document.Column{Head: "rollout\n" + t.Units.LengthUnit(), Later: true, Spare: 5}, func(c *candidate) string { return t.Units.Rollout(c.Rollout) })
	add(document.Column{Head: "\nspeed", Later: true, Spare: 1}, func(c *candidate) string { return signedShare(c.SpeedChange) })
	add(document.Column{Head: "\nchance"}, func(c *candidate) string { return chance(c.Chance) })
	for _, f := range t.Car.Fits() {
		add(t.partColumn(f.Part), func(c *candidate) string { return peaks(t.Units, c.Parts.At(f.Part)) })
	}
	add(document.Column{Head: "longest\nrun, min", Spare: 4}, func(c *candidate) string { return lengthCell(longestOf(c)) })
	table := tableOf("What each candidate would do in the next run", of, append(columns, remarked(t.marks)))
	for i := range of {
		table.Rows[i].Strong = t.picks(of[i].Gearing)
	}
	return table
}

func longestOf(c *advise.Candidate) advise.Longest {
	return advise.Longest{Minutes: c.MinutesToLimit, Bounded: c.HasMinutesToLimit}
}

// picks reports whether a gearing is the pick, and reaches the confidence.
func (t adviceWords) picks(g drivetrain.Gearing) bool {
	return g == t.Pick.Gearing && t.Action != advise.NoneReachesConfidence
}

// partColumn is a part's column, named with its limit.
func (t adviceWords) partColumn(part run.Part) document.Column {
	name, limit := part.Word()+" "+t.Units.TemperatureUnit(), "no limit"
	if l, ok := t.Limits.Of(part); ok {
		limit = "limit " + t.Units.ReadingNumber(l.Temperature)
	}
	return document.Column{Head: name + "\n" + limit, Full: name + ", " + limit, Spare: t.spareOf(part)}
}

// spareOf returns how well a part's column can be spared: the one that decides not at all,
// and of the others first the one that is the least likely to.
func (t adviceWords) spareOf(part run.Part) int {
	if part == t.Binding {
		return 0
	}
	spare := 2
	for other, f := range t.Pick.Parts.All() {
		if its := t.Pick.Parts.At(part); other != t.Binding && other != part && (!its.HasLimit || f.HasLimit && f.Chance < its.Chance) {
			spare = 3
		}
	}
	return spare
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
	marks := t.role(c.Gearing)
	if c.Outside {
		marks = append(marks, markUntested)
	}
	if c.TooFarUp {
		marks = append(marks, markTooFarUp)
	}
	return marks
}

// role says what a gearing is in this answer.
func (t adviceWords) role(g drivetrain.Gearing) []string {
	var role []string
	switch {
	case t.picks(g):
		role = append(role, markPick)
	case g == t.Pick.Gearing:
		role = append(role, markLikely)
	}
	if g == t.Current.Gearing {
		role = append(role, markNow)
	}
	return role
}

// legend explains what the table's columns and marks don't say themselves.
func (t adviceWords) legend() string {
	prose := fmt.Sprintf("Chance: of staying under every limit. Temperatures: 80 %% of runs peak between the first and the last, "+
		"half of them below the middle one. Speed: flat out, against the last run. Longest run: still reaches %s.", wanted(t.Confidence))
	if slices.ContainsFunc(t.Candidates, func(c advise.Candidate) bool { return c.Outside }) {
		prose += " Untested: outside the rollouts already run (" + span(t.Units, t.Car.Tested()) + ")."
	}
	if slices.ContainsFunc(t.Candidates, func(c advise.Candidate) bool { return c.TooFarUp }) {
		prose += fmt.Sprintf(" Too far up: more than %s above what is fitted, or above the tallest gearing that a run has proven.", teeth(t.MaxStepUp))
	}
	return prose
}
