package report

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"regear/advise"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// NextRun is the answer for one of several next runs.
type NextRun struct {
	Different string // what is different about it, as it was asked; "" for the first
	*advise.Advice
}

// Compare is the pick for each of several next runs, side by side.
func Compare(c Compared, u units.System) document.Document {
	t := compareWords{c.Runs, u}
	first := adviceWords{c.Runs[0].Advice, u}
	return document.Document{
		document.Headline(t.headline()),
		section("pick", "The pick", t.picks()),
		section("chances", "Chance of staying under every limit (* the pick)", t.chances()),
		section("assumed", "Assumed of every run, unless named above",
			document.List(append(append(first.circumstances(), first.choice()), t.unknown()...))),
	}
}

type compareWords struct {
	runs  []NextRun
	Units units.System
}

func (t compareWords) headline() string {
	var words []string
	same := true
	for _, r := range t.runs {
		pick := pair(r.Pick.Gearing)
		if r.Action == advise.NoneReachesConfidence {
			pick = "nothing reaches " + wanted(r.Confidence)
		}
		same = same && pick == pair(t.runs[0].Pick.Gearing)
		words = append(words, fmt.Sprintf("%s: %s", t.title(r), pick))
	}
	if same {
		return fmt.Sprintf("The pick is %s in each of these runs.", pair(t.runs[0].Pick.Gearing))
	}
	return "The pick changes. " + capital(strings.Join(words, "; ")) + "."
}

func (t compareWords) title(r NextRun) string {
	if r.Different == "" {
		return "next run"
	}
	return strings.ReplaceAll(r.Different, ",", ", ")
}

func (t compareWords) picks() document.Table {
	table := document.Table{Caption: "What is picked for each next run", OnPhone: document.Wraps, Columns: t.columns(document.Column{Full: "what"})}
	add := func(label string, cell func(a adviceWords) string) {
		cells := []string{label}
		for _, r := range t.runs {
			cells = append(cells, cell(adviceWords{r.Advice, t.Units}))
		}
		table.Rows = append(table.Rows, document.Row{Cells: cells})
	}
	add("air "+t.Units.TemperatureUnit(), func(a adviceWords) string { return a.Units.ReadingNumber(a.Next.Ambient) })
	add("minutes", func(a adviceWords) string { return trimmed(float64(a.Next.Minutes), 1) })
	add("tire "+t.Units.LengthUnit(), func(a adviceWords) string { return a.Units.TireNumber(a.Next.Tire) })
	add("pick", func(a adviceWords) string {
		if a.Action == advise.NoneReachesConfidence {
			return "none"
		}
		return pair(a.Pick.Gearing)
	})
	if slices.ContainsFunc(t.runs, func(r NextRun) bool { return r.Action == advise.NoneReachesConfidence }) {
		add("most probable", func(a adviceWords) string { return pair(a.Pick.Gearing) })
	}
	add("its chance", func(a adviceWords) string { return chance(a.Pick.Chance) })
	add("its speed", func(a adviceWords) string { return signedShare(a.Pick.SpeedChange) })
	for _, f := range t.runs[0].Car.Fits() {
		add("its "+f.Part.Word()+" "+t.Units.TemperatureUnit(), func(a adviceWords) string {
			return peaks(a.Units, a.Pick.Parts.At(f.Part))
		})
	}
	add("its longest run", func(a adviceWords) string { return lengthCell(longestOf(a.Pick)) })
	limits := eachOf(t.runs[0].Limits, func(part run.Part, l advise.Limit) string { // those of every run
		return part.Word() + " " + t.Units.Reading(l.Temperature)
	})
	table.Legend = fmt.Sprintf("Chance: of staying under every limit (%s). Speed: flat out, against the last run. "+
		"Temperatures: 80 %% of runs peak between the first and the last. Longest run: in minutes, still reaches %s.",
		strings.Join(limits, ", "), wanted(t.runs[0].Confidence))
	return table
}

// unknown tells of labels that are not in the log: what they do to heat is not known.
func (t compareWords) unknown() []string {
	surfaces, coolings := map[string]bool{}, map[string]bool{}
	for _, f := range t.runs[0].Car.Fits() {
		for _, r := range f.Used() {
			surfaces[run.Fold(r.Surface)], coolings[run.Fold(r.Cooling)] = true, true
		}
	}
	var items []string
	const says = "The log has no run with %s %q, so what it does is not known here: the forecast is only less sure."
	for _, r := range t.runs {
		if !surfaces[run.Fold(r.Next.Surface)] {
			items = append(items, fmt.Sprintf(says, "surface", r.Next.Surface))
		}
		if !coolings[run.Fold(r.Next.Cooling)] {
			items = append(items, fmt.Sprintf(says, "cooling", r.Next.Cooling))
		}
	}
	return items
}

// columns name the runs, each difference on a line of its own.
func (t compareWords) columns(first document.Column) []document.Column {
	first.Kind = document.Label
	columns := []document.Column{first}
	for _, r := range t.runs {
		columns = append(columns, document.Column{Head: strings.ReplaceAll(t.title(r), ", ", "\n"), Full: t.title(r)})
	}
	return columns
}

func (t compareWords) chances() document.Table {
	gears := map[drivetrain.Gearing]bool{} // of all runs: another tire may have others
	for _, r := range t.runs {
		for i := range r.Candidates {
			gears[r.Candidates[i].Gearing] = true
		}
	}
	table := document.Table{
		Caption: "Chance of each gearing in each next run",
		OnPhone: document.Wraps,
		Columns: append(t.columns(document.Column{Head: "gearing"}), remarkColumn),
	}
	for _, g := range slices.SortedFunc(maps.Keys(gears), advise.ByTeeth) {
		cells, mark := []string{pair(g)}, ""
		for _, r := range t.runs {
			a, cell := adviceWords{r.Advice, t.Units}, ""
			if c := a.candidate(g); c != nil {
				cell = chance(c.Chance)
			}
			if a.picks(g) {
				cell = "* " + cell
			}
			cells = append(cells, cell)
		}
		if g == t.runs[0].Current.Gearing {
			mark = markNow
		}
		table.Rows = append(table.Rows, document.Row{Cells: append(cells, mark)})
	}
	return table
}

type compareJSON struct {
	Schema int           `json:"schema"`
	Runs   []nextOneJSON `json:"next_runs"`
}

// nextOneJSON is what `regear advise` would answer for one next run.
type nextOneJSON struct {
	Different string     `json:"different,omitempty"`
	Advice    adviceJSON `json:"advice"`
}

func toCompared(c Compared) compareJSON {
	doc := compareJSON{Schema: Schema}
	for _, r := range c.Runs {
		doc.Runs = append(doc.Runs, nextOneJSON{r.Different, toAdvice(Advised{Advice: r.Advice, Notes: c.Notes})})
	}
	return doc
}
