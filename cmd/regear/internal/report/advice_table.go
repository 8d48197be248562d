package report

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"regear/advise"
	"regear/analyze/runlog"
)

// candidates is the table of every candidate, with its legend.
func (t adviceText) candidates() string {
	header := table.Row{"\npinion"}
	if t.severalSpurs() {
		header = append(header, "\nspur")
	}
	header = append(header, "\nratio", "rollout\n"+t.Units.lengthUnit(), "\nspeed", "\nchance")
	for _, f := range t.Car.Fits() {
		header = append(header, t.partHeader(f.Part))
	}
	header = append(header, "longest\nrun, min", "")

	rows := make([]table.Row, len(t.Candidates))
	for i := range t.Candidates {
		rows[i] = t.candidateRow(&t.Candidates[i])
	}
	return "Candidates:\n" + t.table(header, rows) + t.legend()
}

// partHeader names a part's column with its limit.
func (t adviceText) partHeader(part runlog.Part) string {
	name := fmt.Sprintf("%s %s", part.Word(), t.Units.degree())
	if l, ok := t.Limits[part]; ok {
		return name + "\nlimit " + t.Units.givenNumber(l.Temperature)
	}
	return name + "\nno limit"
}

func (t adviceText) candidateRow(c *advise.Candidate) table.Row {
	row := table.Row{strconv.Itoa(c.Gearing.Pinion)}
	if t.severalSpurs() {
		row = append(row, strconv.Itoa(c.Gearing.Spur))
	}
	row = append(row, fixed(c.Ratio, 2), t.Units.rollout(c.Rollout), speedChange(c.SpeedChange), chance(c.Chance))
	for _, f := range t.Car.Fits() {
		p := c.Parts[f.Part]
		row = append(row, t.Units.peak(p.P10)+"–"+t.Units.peak(p.P50)+"–"+t.Units.peak(p.P90))
	}
	run := "over " + whole(float64(advise.MaxMinutes))
	if c.HasMinutesToLimit {
		run = longest(c.MinutesToLimit)
	}
	row = append(row, run, strings.Join(t.marks(c), ", "))
	if c == t.Pick && t.Action != advise.NoneReachesConfidence {
		for i, cell := range row {
			row[i] = t.strong(cell.(string))
		}
	}
	return row
}

// The marks of a candidate, as the table writes them.
const (
	markPick     = "pick"
	markLikely   = "most probable"
	markNow      = "now fitted"
	markUntested = "untested"
	markTooFarUp = "too far up"
)

func (t adviceText) marks(c *advise.Candidate) []string {
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
func (t adviceText) legend() string {
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
	return t.paragraph("  ", prose)
}

// table lays out right-aligned columns, the last one left-aligned, without rules.
func (s Style) table(header table.Row, rows []table.Row) string {
	w := table.NewWriter()
	w.SetStyle(table.Style{
		Box:     table.BoxStyle{PaddingLeft: "  "},
		Options: table.OptionsNoBordersAndSeparators,
	})
	columns := make([]table.ColumnConfig, len(header))
	for i := range columns {
		align := text.AlignRight
		if i == len(header)-1 {
			align = text.AlignLeft
		}
		columns[i] = table.ColumnConfig{Number: i + 1, Align: align, AlignHeader: align, VAlignHeader: text.VAlignBottom}
	}
	w.SetColumnConfigs(columns)
	w.AppendHeader(header)
	w.AppendRows(rows)
	var b strings.Builder
	for line := range strings.Lines(w.Render() + "\n") {
		b.WriteString(strings.TrimRight(line, " \n") + "\n")
	}
	return b.String()
}
