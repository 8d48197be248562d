package report

import (
	"fmt"
	"html"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// record is a record of an answer from two invented runs, with all warnings.
func record(t *testing.T) *Record {
	t.Helper()
	a := advice(t)
	var runs []run.Run
	for _, r := range a.Car.Fit(run.Motor).Used() {
		runs = append(runs, *r)
	}
	h, err := analyze.LookBack(runs, analyze.Limits{}.With(run.Motor, 71))
	if err != nil {
		t.Fatal(err)
	}
	return &Record{
		Answer: a, Hindsight: h, Runs: runs, Version: "v1.2.3", Made: time.Date(2026, 5, 18, 19, 4, 0, 0, time.UTC),
		Noticed: Noticed{
			LeftOut:     []run.Problem{{Position: run.Position{File: "weekend.csv", Line: 4}, Column: "motor_peak_c", Value: "hot", What: "is not a number", Do: "write it"}},
			Doubtful:    []run.Problem{{Position: run.Position{File: "weekend.csv", Line: 5}, What: "is odd", Do: "look"}},
			CountedOnce: []run.Problem{{Position: run.Position{File: "weekend.csv", Line: 6}, What: "is the run of a.csv:2"}},
		},
	}
}

// written is a record as HTML and as Markdown.
func written(t *testing.T, r *Record) (page, markdown string) {
	t.Helper()
	var h, m strings.Builder
	if err := r.HTML(&h); err != nil {
		t.Fatal(err)
	}
	if err := r.Markdown(&m); err != nil {
		t.Fatal(err)
	}
	return h.String(), m.String()
}

// inHTML is what a page says, without its tags.
func inHTML(page string) string {
	page = regexp.MustCompile(`(?s)<style>.*?</style>|<[^>]*>`).ReplaceAllString(page, "")
	return strings.ReplaceAll(html.UnescapeString(page), "\u00a0", " ")
}

var escape = regexp.MustCompile(`\\([[:punct:]])`)

// inMarkdown is what a text in Markdown says, without its signs.
func inMarkdown(text string) string {
	return escape.ReplaceAllString(strings.ReplaceAll(text, "**", ""), "$1")
}

// A record leaves nothing out: each warning with what to do, what was noticed in the log,
// each candidate, each run, the assumptions and the cautions, in both formats.
func TestRecordSaysEverything(t *testing.T) {
	for _, u := range []units.System{units.Metric, units.US} {
		r := record(t)
		r.Units = u
		a := adviceWords{r.Answer, u}
		wanted := []string{
			a.headline(), "heron: which pinion to run next", "v1.2.3", "2026-05-18 19:04",
			"weekend.csv:4: motor_peak_c: \"hot\": is not a number, write it; row left out", "weekend.csv:5: is odd, look", "weekend.csv:6: is the run of a.csv:2",
			"Rollout", "General rule", "Metal at", a.first(), "80 % range held",
		}
		if r.Answer.NextTest == nil {
			// A test of its own, for the words; which run is one is the advice's matter.
			r.Answer.NextTest = &advise.NextTest{Gearing: r.Answer.Candidates[0].Gearing, Minutes: 6, Chance: 0.91, For: r.Answer.Pick.Gearing, Narrower: 0.2}
		}
		wanted = append(wanted, a.nextTest())
		for _, w := range r.Answer.Warnings {
			message, action := Wording(u, w, AtCommandLine)
			wanted = append(wanted, message, capital(action))
		}
		wanted = append(append(wanted, a.why()...), a.assumed()...)
		for _, term := range howToRead {
			wanted = append(wanted, term.Word, term.Meaning)
		}
		page, markdown := written(t, r)
		for format, text := range map[string]string{"HTML": inHTML(page), "Markdown": inMarkdown(markdown)} {
			for _, w := range wanted {
				if !strings.Contains(text, w) {
					t.Errorf("%s does not say %q", format, w)
				}
			}
		}
		for i := range r.Answer.Candidates {
			row := a.candidates().Rows[i]
			if !strings.Contains(page, "<th scope=\"row\">"+row.Cells[0]+"</th>") {
				t.Errorf("HTML has no row of candidate %v", row.Cells)
			}
			for _, cell := range row.Cells {
				if !strings.Contains(inHTML(page), cell) || !strings.Contains(inMarkdown(markdown), cell) {
					t.Errorf("%q of candidate %v is missing", cell, row.Cells)
				}
			}
		}
		for i := range r.Runs {
			if when := whenOf(&r.Runs[i]); !strings.Contains(page, when) || !strings.Contains(markdown, when) {
				t.Errorf("the run of %s is missing", when)
			}
		}
	}
}

// A page asks nobody for anything, runs nothing, and holds each id once. The names of XML's
// own languages look like addresses, and are none.
func TestRecordStandsAlone(t *testing.T) {
	page, _ := written(t, record(t))
	bare := strings.ReplaceAll(page, ` xmlns="http://www.w3.org/2000/svg"`, "")
	for _, not := range []string{"http:", "https:", "//", "<script", " style=", " src=", " href=", "@import", "url("} {
		if strings.Contains(bare, not) {
			t.Errorf("the page holds %q", not)
		}
	}
	if n := strings.Count(page, "<svg"); n < 4 || strings.Count(page, `role="img"`) != n || strings.Count(page, "<title>") != n+1 || strings.Count(page, "<desc>") != n {
		t.Errorf("of %d drawings not each has a role, a title and a description", n)
	}
	var ids []string
	for _, found := range regexp.MustCompile(` id="([^"]*)"`).FindAllStringSubmatch(page, -1) {
		ids = append(ids, found[1])
	}
	if unique := slices.Compact(slices.Sorted(slices.Values(ids))); len(unique) != len(ids) || len(ids) < 12 {
		t.Errorf("ids are not unique: %v", ids)
	}
	level := 0
	for _, found := range regexp.MustCompile(`<h([1-6])>`).FindAllStringSubmatch(page, -1) {
		next := int(found[1][0] - '0')
		if next > level+1 {
			t.Errorf("a heading of level %d follows one of level %d", next, level)
		}
		level = next
	}
}

// What stands in a log stays text.
func TestRecordOfHostileLog(t *testing.T) {
	const car, note = `"><img src=x onerror=alert(1)>`, "<script>alert(1)</script>\n# | a | [b](http://c.example)"
	r := record(t)
	r.Answer.Car.Name = car
	for i := range r.Runs {
		r.Runs[i].Car, r.Runs[i].Note = car, note
	}
	page, markdown := written(t, r)
	if strings.Contains(page, "<script") || strings.Contains(page, "<img") || strings.Contains(page, "href=") {
		t.Error("HTML holds a tag of the log's")
	}
	for _, line := range strings.Split(escape.ReplaceAllString(markdown, ""), "\n") {
		for _, not := range []string{"<script", "<img", "](", "http:", "# |"} {
			if strings.Contains(line, not) {
				t.Errorf("Markdown holds %q: %s", not, line)
			}
		}
	}
	for format, text := range map[string]string{"HTML": inHTML(page), "Markdown": inMarkdown(markdown)} {
		if !strings.Contains(text, car) || !strings.Contains(text, "<script>alert(1)</script> / # | a | [b](http://c.example)") {
			t.Errorf("%s does not show the log's text", format)
		}
	}
}

// Without an earlier run there is no hindsight, and the record says why.
func TestRecordWithoutHindsight(t *testing.T) {
	r := record(t)
	r.Hindsight = nil
	page, markdown := written(t, r)
	for _, text := range []string{inHTML(page), inMarkdown(markdown)} {
		if !strings.Contains(text, "Not yet: each run is foreseen from the earlier ones alone") || strings.Contains(text, "range held") {
			t.Error("the record does not say why there is no hindsight")
		}
	}
}

// Of a long log the latest runs are listed, and it is said that there are more.
func TestRecordOfLongLog(t *testing.T) {
	r := record(t)
	first := r.Runs[0]
	r.Runs = nil
	for i := range mostListed + 30 {
		run := first
		run.When = first.When.AddDate(0, 0, (i*7)%(mostListed+30)) // in no order
		run.Note = fmt.Sprintf("note %d.", (i*7)%(mostListed+30))
		r.Runs = append(r.Runs, run)
	}
	_, markdown := written(t, r)
	if !strings.Contains(markdown, fmt.Sprintf("The latest %d runs; 30 runs before them are in the log as well.", mostListed)) {
		t.Error("the record does not say that it lists only the latest runs")
	}
	for i := range r.Runs {
		note := fmt.Sprintf("note %d.", i)
		if listed := strings.Contains(markdown, note); listed != (i >= 30) {
			t.Errorf("%s is listed: %t", note, listed)
		}
	}
}

// Every table of every builder names its columns and itself, and every row fills them: a
// screen reader has nothing else to go by.
func TestTablesAreNamed(t *testing.T) {
	r := record(t)
	page, err := r.page()
	if err != nil {
		t.Fatal(err)
	}
	docs := []document.Document{
		page.Body, Compare([]NextRun{{Advice: r.Answer}, {Different: "ambient=35C", Advice: r.Answer}}, units.Metric),
		Rest(r.Answer, run.Readings{}, units.Metric), Runs(r.Runs, units.US),
		Gears(GearTable{Rows: []GearRow{{Gearing: r.Answer.Current.Gearing}}, Tires: []Tire{{"big", 118}}}, units.Metric),
	}
	tables := 0
	var look func(document.Document)
	look = func(d document.Document) {
		for _, b := range d {
			switch b := b.(type) {
			case document.Section:
				look(b.Body)
			case document.Table:
				tables++
				if b.Caption == "" || len(b.Rows) == 0 {
					t.Errorf("a table without a caption or a row: %+v", b.Columns)
				}
				for i, c := range b.Columns {
					if strings.TrimSpace(c.Head+c.Full) == "" {
						t.Errorf("%s: column %d has no name", b.Caption, i+1)
					}
				}
				for _, row := range b.Rows {
					if len(row.Cells) != len(b.Columns) {
						t.Errorf("%s: %d cells under %d columns", b.Caption, len(row.Cells), len(b.Columns))
					}
				}
			}
		}
	}
	for _, d := range docs {
		look(d)
	}
	if tables < 9 {
		t.Errorf("only %d tables were looked at", tables)
	}
}
