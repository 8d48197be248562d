package report

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"

	"regear/advise"
	"regear/analyze/run"
)

// adviceColumns are the columns of an answer as CSV, in their order. Each part adds
// partColumns behind them, whether it was measured or not, and the last column
// holds the codes of the answer's warnings, parted by spaces.
var (
	adviceColumns = []string{
		"car", "pinion_teeth", "spur_teeth", "internal_ratio", "tire_diameter_mm", "final_drive_ratio", "rollout_mm",
		"speed_change_percent", "probability_under_limits", "minutes_to_limit",
		"current", "pick", "outside_tested_range", "too_far_up",
	}
	partColumns = []string{"p10_c", "p50_c", "p90_c", "limit_c", "probability_under_limit"}
)

// writeAdviceCSV writes an answer as one table of fixed columns, a row a candidate.
// A cell without a value is blank. "pick" is yes for the picked candidate, and no
// for all where none reaches the confidence.
func writeAdviceCSV(w io.Writer, a Advised, _ Style) error {
	out := csv.NewWriter(w)
	rows := [][]string{adviceHeader()}
	codes := warningCodes(a.Advice, a.Noticed)
	for i := range a.Candidates {
		rows = append(rows, append(adviceRow(a.Advice, &a.Candidates[i]), codes))
	}
	return out.WriteAll(rows)
}

func adviceHeader() []string {
	header := append([]string{}, adviceColumns...)
	for _, part := range run.Parts {
		for _, column := range partColumns {
			header = append(header, part.String()+"_"+column)
		}
	}
	return append(header, "warnings")
}

func adviceRow(a *advise.Advice, c *advise.Candidate) []string {
	j := toCandidate(c)
	minutes := ""
	if j.MinutesToLimit != nil {
		minutes = number(*j.MinutesToLimit)
	}
	row := []string{
		plainText(a.Car.Name), strconv.Itoa(j.Pinion), strconv.Itoa(j.Spur),
		number(decimals(c.Gearing.Internal, 6)), number(decimals(float64(a.Next.Tire), 3)), number(j.Ratio), number(j.Rollout),
		number(j.SpeedChange), number(j.Probability), minutes,
		yesNo(c.Gearing == a.Current.Gearing), yesNo(c == a.Pick && a.Action != advise.NoneReachesConfidence),
		yesNo(j.Outside), yesNo(j.TooFarUp),
	}
	for _, part := range run.Parts {
		row = append(row, partCells(a, c, part)...)
	}
	return row
}

func partCells(a *advise.Advice, c *advise.Candidate, part run.Part) []string {
	f, measured := c.Parts.Of(part)
	if !measured {
		return make([]string, len(partColumns))
	}
	j := toPart(f)
	cells := []string{number(j.Peak.P10), number(j.Peak.P50), number(j.Peak.P90), "", ""}
	if j.Probability != nil {
		cells[3], cells[4] = number(decimals(float64(a.Limits.At(part).Temperature), 2)), number(*j.Probability)
	}
	return cells
}

// warningCodes names each kind of warning once, in the order of the answer.
func warningCodes(a *advise.Advice, n Noticed) string {
	var codes []string
	seen := map[string]bool{}
	for _, w := range toWarnings(a.Warnings, n) {
		if !seen[w.Code] {
			seen[w.Code] = true
			codes = append(codes, w.Code)
		}
	}
	return strings.Join(codes, " ")
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// plainText keeps a spreadsheet from running a text of the log as a formula: a leading
// apostrophe makes it text there.
func plainText(cell string) string {
	if strings.ContainsAny(firstByte(cell), "=+-@\t\r") {
		return "'" + cell
	}
	return cell
}

func firstByte(s string) string { return s[:min(1, len(s))] }
