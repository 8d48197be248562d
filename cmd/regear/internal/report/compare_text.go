package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/runlog"
)

// NextRun is the answer for one of several next runs.
type NextRun struct {
	Different string // what is different about it, as it was asked; "" for the first
	*advise.Advice
}

// WarningsOfAll returns the warnings of several answers, each kind once for a part or
// a run of the log.
func WarningsOfAll(all []NextRun) []analyze.Warning {
	var out []analyze.Warning
	told := map[string]bool{}
	for _, r := range all {
		for _, w := range r.Warnings {
			key := fmt.Sprint(w.Code, w.Part, w.Runs)
			if !told[key] {
				told[key] = true
				out = append(out, w)
			}
		}
	}
	return out
}

// CompareText writes several answers side by side.
func CompareText(w io.Writer, all []NextRun, _ Noticed, s Style) error {
	t := compareText{all, s}
	first := adviceText{all[0].Advice, s}
	return s.answer(w, t.headline(),
		t.picks(),
		t.chances(),
		s.section("Assumed of every run, unless named above", append(append(first.circumstances(), first.choice()), t.unknown()...)),
	)
}

type compareText struct {
	runs []NextRun
	Style
}

// headline says whether the pick is the same throughout.
func (t compareText) headline() string {
	var words []string
	same := true
	for _, r := range t.runs {
		same = same && r.Pick.Gearing == t.runs[0].Pick.Gearing && r.Action != advise.NoneReachesConfidence
		pick := pair(r.Pick.Gearing)
		if r.Action == advise.NoneReachesConfidence {
			pick = "nothing reaches " + wanted(r.Confidence)
		}
		words = append(words, fmt.Sprintf("%s: %s", t.title(r), pick))
	}
	if same {
		return fmt.Sprintf("The pick is %s in each of these runs.", pair(t.runs[0].Pick.Gearing))
	}
	return "The pick changes. " + capital(strings.Join(words, "; ")) + "."
}

func (t compareText) title(r NextRun) string {
	if r.Different == "" {
		return "next run"
	}
	return strings.ReplaceAll(r.Different, ",", ", ")
}

// picks is the table of what is picked, a column a run.
func (t compareText) picks() string {
	var rows []table.Row
	add := func(label string, cell func(a adviceText) string) {
		row := table.Row{label}
		for _, r := range t.runs {
			row = append(row, cell(adviceText{r.Advice, t.Style}))
		}
		rows = append(rows, append(row, ""))
	}
	add("air "+t.Units.degree(), func(a adviceText) string { return a.Units.givenNumber(a.Next.Ambient) })
	add("minutes", func(a adviceText) string { return trimmed(float64(a.Next.Minutes), 1) })
	add("tire", func(a adviceText) string { return a.Units.tire(a.Next.Tire) })
	add("pick", func(a adviceText) string {
		if a.Action == advise.NoneReachesConfidence {
			return "none"
		}
		return pair(a.Pick.Gearing)
	})
	add("most probable", func(a adviceText) string { return pair(a.Pick.Gearing) })
	add("its chance", func(a adviceText) string { return chance(a.Pick.Chance) })
	add("its speed", func(a adviceText) string { return speedChange(a.Pick.SpeedChange) })
	for _, f := range t.runs[0].Car.Fits() {
		add("its "+f.Part.Word()+" "+t.Units.degree(), func(a adviceText) string {
			p := a.Pick.Parts[f.Part]
			return a.Units.peak(p.P10) + "–" + a.Units.peak(p.P50) + "–" + a.Units.peak(p.P90)
		})
	}
	add("its longest run", func(a adviceText) string {
		return lengthCell(advise.Longest{Minutes: a.Pick.MinutesToLimit, Bounded: a.Pick.HasMinutesToLimit})
	})
	rows = t.withoutTwins(rows)
	legend := fmt.Sprintf("Chance: of staying under every limit (%s). Speed: at equal motor speed, against the gearing now fitted on the same tire. "+
		"Temperatures: 80 %% of runs peak between the first and the last. Longest run: in minutes, still reaches %s.",
		t.limits(), wanted(t.runs[0].Confidence))
	return "The pick:\n" + t.table(t.header(""), rows) + t.paragraph("  ", legend)
}

// unknown tells of labels that the log has not seen, of whose effect nothing is known.
func (t compareText) unknown() []string {
	surfaces, coolings := map[string]bool{}, map[string]bool{}
	for _, f := range t.runs[0].Car.Fits() {
		for _, r := range f.Used() {
			surfaces[r.Surface], coolings[r.Cooling] = true, true
		}
	}
	var items []string
	const says = "The log has no run with %s %q, so what it does is not known here: the forecast is only less sure."
	for _, r := range t.runs {
		if !surfaces[r.Next.Surface] {
			items = append(items, fmt.Sprintf(says, "surface", r.Next.Surface))
		}
		if !coolings[r.Next.Cooling] {
			items = append(items, fmt.Sprintf(says, "cooling", r.Next.Cooling))
		}
	}
	return items
}

// withoutTwins leaves the most probable gearing out where every run has a pick.
func (t compareText) withoutTwins(rows []table.Row) []table.Row {
	for _, r := range t.runs {
		if r.Action == advise.NoneReachesConfidence {
			return rows
		}
	}
	var left []table.Row
	for _, row := range rows {
		if row[0] != "most probable" {
			left = append(left, row)
		}
	}
	return left
}

// limits names the limits, which are those of every run.
func (t compareText) limits() string {
	var words []string
	for _, part := range runlog.Parts {
		if l, ok := t.runs[0].Limits[part]; ok {
			words = append(words, part.Word()+" "+t.Units.given(l.Temperature))
		}
	}
	return strings.Join(words, ", ")
}

// header names the runs, each difference on a line of its own.
func (t compareText) header(first string) table.Row {
	header := table.Row{first}
	for _, r := range t.runs {
		header = append(header, strings.ReplaceAll(t.title(r), ", ", "\n"))
	}
	return append(header, "")
}

// chances is the table of every gearing's chance, a column a run.
func (t compareText) chances() string {
	var rows []table.Row
	for i := range t.runs[0].Candidates {
		g := t.runs[0].Candidates[i].Gearing
		row := table.Row{strconv.Itoa(g.Pinion) + "/" + strconv.Itoa(g.Spur)}
		for _, r := range t.runs {
			row = append(row, t.chanceOf(r, g))
		}
		mark := ""
		if g == t.runs[0].Current.Gearing {
			mark = markNow
		}
		rows = append(rows, append(row, mark))
	}
	return "Chance of staying under every limit (* the pick):\n" + t.table(t.header("gearing"), rows)
}

func (t compareText) chanceOf(r NextRun, g drivetrain.Gearing) string {
	c := adviceText{r.Advice, t.Style}.candidate(g)
	if c == r.Pick && r.Action != advise.NoneReachesConfidence {
		return "* " + chance(c.Chance)
	}
	return chance(c.Chance)
}
