package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"html"
	"math"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/document"
)

var update = flag.Bool("update", false, "rewrite testdata/wording.txt from what the report says now")

// everyWarning is one warning of each kind, with all that it holds.
func everyWarning() []analyze.Warning {
	fifth := run.Position{File: "weekend.csv", Line: 5}
	return []analyze.Warning{
		analyze.OneRunOnly{Part: run.Motor},
		analyze.OneGearingOnly{Part: run.ESC, Runs: 3},
		analyze.OddRun{Part: run.Motor, Run: fifth, Peak: 92, Expected: 78, Score: 4.24},
		analyze.InfluentialRun{Part: run.Battery, Run: fifth},
		analyze.RunsHotter{Part: run.Motor, Growth: 0.12},
		analyze.SeveralChanges{Run: fifth, With: []string{"tire", "surface", "cooling"}},
		analyze.NearAmbient{Part: run.Motor, Run: fifth, Peak: 27, Air: 23},
		analyze.UnitsLookSwapped{Part: run.Motor, Middle: 160, Otherwise: 71},
		analyze.HeatStops{Part: run.Motor, Runs: 2},
		analyze.OtherMotorRuns{Runs: 4, Motor: "short can"},
		analyze.NotTheLever{Part: run.Motor, Chance: 0.74, Takes: 0.05},
		analyze.OutsideTested{Teeth: -2},
		analyze.TireUntested{Tested: analyze.Span{Low: 104, High: 118}},
		analyze.MinutesUntested{Minutes: 20, Longest: 12},
		analyze.AirUntested{Air: 38, Nearest: 24},
		analyze.CellsUntested{Cells: 3, Logged: []int{2}},
		analyze.UnknownLabel{Kind: "surface", Label: "Tufr", Logged: []string{"clay", "turf"}},
		analyze.WarmStartAssumed{Part: run.Motor, Runs: 3, HeatLeft: 0.62},
		analyze.CutShortMinutes{Last: 5, Taken: 12},
		analyze.VeryHot{Part: run.Motor, Peak: 105},
		analyze.LimitAssumed{Part: run.Motor, Limit: 71},
		analyze.PartUnjudged{Part: run.ESC},
		analyze.AllTooFarUp{MaxStepUp: 2},
	}
}

// codesOf returns the codes of warnings.
func codesOf(warnings []analyze.Warning) []analyze.Code {
	var codes []analyze.Code
	for _, w := range warnings {
		codes = append(codes, w.Code())
	}
	return codes
}

// Every kind of warning is among those that these tests ask for, and has its place in brief.
func TestEveryWarning(t *testing.T) {
	all := codesOf(analyze.Kinds)
	if got := codesOf(everyWarning()); !slices.Equal(got, all) {
		t.Errorf("the tests ask for %v, want %v", got, all)
	}
	slices.Sort(all)
	if got := slices.Sorted(slices.Values(codesOf(byUrgency))); !slices.Equal(got, all) {
		t.Errorf("in brief %v are ranked, want %v", got, all)
	}
}

// asText is a document as text of a width.
func asText(d document.Document, width int) string {
	var b strings.Builder
	_ = d.Text(&b, document.Layout{Width: width}) // a strings.Builder does not fail
	return b.String()
}

// The wording of every warning, in both systems of units, as one text to be read.
func TestWording(t *testing.T) {
	var b strings.Builder
	for _, u := range []units.System{units.Metric, units.US} {
		b.WriteString(asText(WarningNotes(everyWarning(), u, AtCommandLine, nil), 0) + "\n")
		for _, w := range everyWarning() {
			_, _, brief := wording(u, []analyze.Warning{w}, AtCommandLine)
			b.WriteString(brief + "\n")
		}
		b.WriteString("\n")
	}
	const golden = "testdata/wording.txt"
	if *update {
		if err := os.WriteFile(golden, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("the wording changed; if that is meant, read it and run the test with -update:\n%s", b.String())
	}
}

// Every code has its words: something seen, something to do, and no cause asserted.
func TestEveryCodeIsWorded(t *testing.T) {
	for _, w := range everyWarning() {
		for _, u := range []units.System{units.Metric, units.US} {
			message, action, _ := wording(u, []analyze.Warning{w}, AtCommandLine)
			if message == "" || action == "" {
				t.Errorf("%v: message %q, action %q", w.Code(), message, action)
			}
			for _, text := range []string{message, action} {
				if strings.HasSuffix(text, ".") || strings.Contains(text, "%!") || strings.Contains(text, "because you") {
					t.Errorf("%v: %q", w.Code(), text)
				}
			}
		}
	}
}

// In brief, every warning fits a line of a usual terminal.
func TestBriefWarningsFitALine(t *testing.T) {
	for _, w := range everyWarning() {
		for _, u := range []units.System{units.Metric, units.US} {
			_, _, brief := wording(u, []analyze.Warning{w}, AtCommandLine)
			if line := "warning: " + brief; len([]rune(line)) > 80 || strings.Contains(line, "%!") {
				t.Errorf("%v: %d letters: %s", w.Code(), len([]rune(line)), line)
			}
		}
	}
	var b strings.Builder
	if err := BriefWarnings(&b, everyWarning(), app.Notes{}, Style{}); err != nil {
		t.Fatal(err)
	}
	// Three are in the headline or first line already, two are told, and the others counted.
	if n := len(analyze.Kinds) - 3 - 2; strings.Count(b.String(), "\n") != 3 || !strings.Contains(b.String(), fmt.Sprintf("and %d more", n)) {
		t.Errorf("got\n%s", b.String())
	}
}

// A narrow terminal loses columns of the table, but never pinion or chance.
func TestBriefFitsNarrowTerminals(t *testing.T) {
	a := advice(t)
	for _, width := range []int{50, 60, 80, 100} {
		text := asText(advised(Advised{Advice: a, Brief: true}, units.Metric), width)
		for line := range strings.Lines(text) {
			if n := len([]rune(strings.TrimRight(line, "\n"))); n > width {
				t.Errorf("%d columns: %d in %q", width, n, line)
			}
		}
		for _, word := range []string{"pinion", "chance", "motor °C"} {
			if !strings.Contains(text, word) {
				t.Errorf("%d columns: no %s in\n%s", width, word, text)
			}
		}
	}
}

// What every part shares is said once, and names them all.
func TestSameWarningOfSeveralPartsIsSaidOnce(t *testing.T) {
	var all []analyze.Warning
	for _, part := range run.Parts {
		all = append(all, analyze.OneGearingOnly{Part: part, Runs: 3})
	}
	text := asText(WarningNotes(all, units.Metric, AtCommandLine, nil), 1000)
	if strings.Count(text, "warning:") != 1 || !strings.Contains(text, "the motor, the ESC and the battery") {
		t.Errorf("got %s", text)
	}
}

// advice is an answer from two invented runs, with all warnings.
func advice(t *testing.T) *advise.Advice {
	t.Helper()
	var runs []run.Run
	for i, peak := range []units.Celsius{70, 76} {
		r := run.Run{
			When: time.Date(2026, 5, 2, 10+i, 0, 0, 0, time.UTC), HasTime: true, Car: "heron",
			Gearing: drivetrain.Gearing{Pinion: 16 + i, Spur: 68, Internal: 2.5}, Tire: 118, Ambient: 24, Minutes: 12,
		}
		r.Peak.Set(run.Motor, peak)
		runs = append(runs, r)
	}
	car, err := analyze.FitCar(runs)
	if err != nil {
		t.Fatal(err)
	}
	a, err := advise.For(car, advise.Request{
		Limits: advise.DefaultLimits(), Confidence: 0.8, MaxStepUp: 2, Next: analyze.ConditionsOf(car.Last),
		Gearings: advise.Pinions(car.Last.Gearing, []int{15, 16, 17}, []int{68}),
	})
	if err != nil {
		t.Fatal(err)
	}
	a.Warnings = everyWarning()
	return a
}

// everyNote is one note of each kind.
func everyNote() app.Notes {
	return app.Notes{
		LeftOut:     []run.Problem{{Position: run.Position{File: "weekend.csv", Line: 4}, Column: "motor_peak_c", Value: "hot", What: "is not a number", Do: "write it"}},
		Implausible: []run.Problem{{Position: run.Position{File: "weekend.csv", Line: 5}, What: "is odd", Do: "look"}},
		CountedOnce: []run.Problem{{Position: run.Position{File: "weekend.csv", Line: 6}, What: "is the run of a.csv:2"}},
	}
}

// No format drops a warning or a note.
func TestEveryFormatShowsEveryCode(t *testing.T) {
	a := advice(t)
	notes := everyNote()
	codes := []string{"row_left_out", "looks_implausible", "counted_once"}
	for _, w := range analyze.Kinds {
		codes = append(codes, string(w.Code()))
	}

	var doc struct {
		Warnings []struct{ Code, Message, Action string }
	}
	written := inFormats(t, AdviceFormats, Advised{Advice: a, Notes: notes})
	if err := json.Unmarshal([]byte(written["json"]), &doc); err != nil {
		t.Fatal(err)
	}
	var inJSON []string
	for _, w := range doc.Warnings {
		inJSON = append(inJSON, w.Code)
		if w.Message == "" {
			t.Errorf("JSON: %s says nothing", w.Code)
		}
	}

	inCSV := strings.Fields(rowsOf(t, written["csv"])[0]["warnings"])

	for _, code := range codes {
		if !slices.Contains(inJSON, code) || !slices.Contains(inCSV, code) {
			t.Errorf("%s: in JSON %t, in CSV %t", code, slices.Contains(inJSON, code), slices.Contains(inCSV, code))
		}
	}

	const wide = 10000
	text := asText(WarningNotes(a.Warnings, units.Metric, AtCommandLine, nil), wide) + asText(Noted(notes), wide)
	for _, w := range a.Warnings {
		if message, _, _ := wording(units.Metric, []analyze.Warning{w}, AtCommandLine); !strings.Contains(text, message) {
			t.Errorf("text does not say %q", message)
		}
	}
	for _, place := range []string{"weekend.csv:4: motor_peak_c: \"hot\": is not a number, write it", "weekend.csv:5: is odd, look", "weekend.csv:6: "} {
		if !strings.Contains(text, place) {
			t.Errorf("text does not say %q", place)
		}
	}
}

func TestQuantities(t *testing.T) {
	for _, c := range []struct{ name, got, want string }{
		{"the longest run rounds down", longest(9.99), "9"},
		{"less than a minute", longest(0.99), "under 1"},
		{"slower", signedShare(-0.1176), "-12 %"},
		{"not slower", signedShare(-0.001), "0 %"},
		{"further from the spur", signed(1.26, 1), "+1.3"},
		{"nearer", signed(-1.26, 1), "-1.3"},
		{"where it was", signed(0.04, 1), "0.0"},
		{"faster", speedPhrase(0.0588), "about 6 % faster flat out"},
		{"three digits", significant(-0.012345), "-0.0123"},
		{"of a large number", significant(12345), "12345"},
		{"one tooth", teeth(-1), "one tooth"},
		{"many teeth", teeth(13), "13 teeth"},
		{"a confidence", wanted(0.8), "80 %"},
		{"a fine confidence", wanted(0.995), "99.5 %"},
		{"no words", list(nil), ""},
		{"three words", list([]string{"a", "b", "c"}), "a, b and c"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.name, c.got, c.want)
		}
	}
}

// Something stands out only on a terminal, and it is the pick alone.
func TestBoldMarksThePick(t *testing.T) {
	a := advice(t)
	var plain, bold bytes.Buffer
	if err := AdviceFormats[0].Write(&plain, Advised{Advice: a}, Style{}); err != nil {
		t.Fatal(err)
	}
	if err := AdviceFormats[0].Write(&bold, Advised{Advice: a}, Style{Layout: document.Layout{Bold: true}}); err != nil {
		t.Fatal(err)
	}
	without := strings.NewReplacer("\x1b[1m", "", "\x1b[0m", "").Replace(bold.String())
	if strings.ContainsRune(plain.String(), '\x1b') || without != plain.String() {
		t.Error("bold changes more than the weight")
	}
	if !strings.HasPrefix(bold.String(), "\x1b[1m") {
		t.Error("the pick's sentence is not bold")
	}
}

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
		Notes: everyNote(),
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

// A record leaves nothing out: each warning with what to do, each note of the log,
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
			// An invented one, for its words; which run is worth it is for advise to say.
			r.Answer.NextTest = &advise.NextTest{Gearing: r.Answer.Candidates[0].Gearing, Minutes: 6, Chance: 0.91, For: r.Answer.Pick.Gearing, Narrower: 0.2}
		}
		wanted = append(wanted, a.nextTest())
		for _, w := range r.Answer.Warnings {
			message, action, _ := wording(u, []analyze.Warning{w}, InReport)
			wanted = append(wanted, message, capital(action))
		}
		wanted = append(append(wanted, a.why()...), a.assumed()...)
		for _, term := range howToRead {
			wanted = append(wanted, term.Word, term.Meaning)
		}
		page, markdown := written(t, r)
		words, plain := inHTML(page), inMarkdown(markdown)
		for format, text := range map[string]string{"HTML": words, "Markdown": plain} {
			for _, w := range wanted {
				if !strings.Contains(text, w) {
					t.Errorf("%s does not say %q", format, w)
				}
			}
		}
		rows := a.candidates().Rows
		for i := range r.Answer.Candidates {
			row := rows[i]
			if !strings.Contains(page, "<th scope=\"row\">"+row.Cells[0]+"</th>") {
				t.Errorf("HTML has no row of candidate %v", row.Cells)
			}
			for _, cell := range row.Cells {
				if !strings.Contains(words, cell) || !strings.Contains(plain, cell) {
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

// What answers the question comes first: it is to fit the first page of paper.
func TestRecordAnswersFirst(t *testing.T) {
	page, markdown := written(t, record(t))
	for format, marks := range map[string][]string{
		page:     {`class="headline"`, "<svg", "<svg", ">Candidates</h2>", ">Conditions</h2>", ">Warnings</h2>", ">Safety</h2>", ">Appendix</h2>", "<svg", ">The runs</h3>"},
		markdown: {"# heron", "\n**", "## Candidates", "## Conditions", "Limits: motor 71 °C", "## Warnings", "## Safety", "## Appendix", "### The runs"},
	} {
		rest := format
		for _, mark := range marks {
			_, after, found := strings.Cut(rest, mark)
			if !found {
				t.Errorf("%q does not follow what comes before it", mark)
			}
			rest = after
		}
	}
}

// A report is read where there is no command line: it names no flag, whatever was noticed.
func TestRecordNamesNoFlag(t *testing.T) {
	r := record(t)
	r.Answer.Warnings = everyWarning()
	for kind := run.MendLog; kind <= run.MarkHeatStop; kind++ {
		for _, header := range []string{"", "Temp mot"} {
			p := run.Problem{Position: run.Position{File: "weekend.csv", Line: 9}, What: "is odd", Do: "look", Remedy: run.Remedy{Kind: kind, Header: header, Column: "motor_peak_c"}}
			p = p.Worded(ByFlags) // as at the command line, before the report is written
			r.Notes.LeftOut, r.Notes.Implausible = append(r.Notes.LeftOut, p), append(r.Notes.Implausible, p)
		}
	}
	flag := regexp.MustCompile(`.{0,40}--[a-z].{0,20}`)
	page, markdown := written(t, r)
	for _, text := range []string{inHTML(page), inMarkdown(markdown)} {
		for _, found := range flag.FindAllString(text, -1) {
			t.Errorf("the report says %q", found)
		}
	}
}

// The report's table of forecasts beside readings has every forecast once, in its run's row.
func TestEveryReplayIsListed(t *testing.T) {
	drive := func(day int, motor, esc units.Celsius) run.Run {
		r := run.Run{Position: run.Position{File: "a.csv", Line: day + 1}, When: time.Date(2026, 5, day, 0, 0, 0, 0, time.UTC), Tire: 118, Ambient: 20, Minutes: 10}
		r.Gearing.Pinion, r.Gearing.Spur, r.Gearing.Internal = 15, 68, 2.5
		r.Peak = run.ByPart[units.Celsius]{}.With(run.Motor, motor)
		if esc > 0 {
			r.Peak.Set(run.ESC, esc)
		}
		return r
	}
	// The ESC was not read on the third day, and then read far too hot for any forecast.
	h, err := analyze.LookBack([]run.Run{drive(1, 60, 45), drive(2, 61, 46), drive(3, 60, 0), drive(4, 61, 140)}, analyze.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	table := hindsightWords{h, units.Metric}.sideBySide()
	var got [][]string
	for _, row := range table.Rows {
		got = append(got, []string{row.Cells[0], row.Cells[3], row.Cells[5], row.Cells[6]})
	}
	want := [][]string{{"2026-05-02", "61", "46", ""}, {"2026-05-03", "60", "", ""}, {"2026-05-04", "61", "140", "missed: ESC"}}
	if !slices.EqualFunc(got, want, slices.Equal) {
		t.Errorf("rows %q, want %q", got, want)
	}
	for _, p := range h.Parts {
		for _, r := range p.Replays {
			row := table.Rows[slices.IndexFunc(table.Rows, func(row document.Row) bool { return row.Cells[0] == whenOf(&run.Run{When: r.When}) })]
			forecast := fmt.Sprintf("%.0f–%.0f–%.0f", float64(r.Low), float64(r.Middle), float64(r.High))
			if cell := row.Cells[2+2*int(p.Part)]; cell != forecast {
				t.Errorf("%s of the %s: %q, want %q", row.Cells[0], p.Part, cell, forecast)
			}
		}
	}
}

// A page asks nobody for anything, runs nothing, and holds each id once. An XML namespace looks
// like an address but is none.
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

// A long log is listed by its latest runs, and the record says that there are more.
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
		page.Body, Compare(Compared{Runs: []NextRun{{Advice: r.Answer}, {Different: "ambient=35C", Advice: r.Answer}}}, units.Metric),
		Rest(Rested{Advice: r.Answer}, units.Metric), listed(r.Runs, units.US),
		Table(GearTable{&ask.GearTable{Rows: []ask.GearRow{{Gearing: r.Answer.Current.Gearing}}, Tires: []ask.TireAtHand{{Name: "big", Diameter: 118}}}}, units.Metric, OnPage),
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

// answered is an answer to a made up log, as it is written.
type answered struct {
	*advise.Advice
	runs                    []run.Run
	notes                   app.Notes
	advised, fitted, listed map[string]string // the answer, the fits and the runs in each of their formats
}

// answers are made and written once, as that takes most of the time.
var answers []answered

// eachAnswer checks the answers to made up logs: of cars of all parts or one, hot and cool, of
// one gearing or many, with limits that hold, fail or were not given.
func eachAnswer(t *testing.T, check func(t *testing.T, a answered)) {
	t.Helper()
	if answers == nil {
		var all []answered
		for seed := range uint64(8) {
			all = append(all, madeUp(t, rand.New(rand.NewPCG(seed, 7))))
		}
		answers = all
	}
	for seed, a := range answers {
		t.Run(fmt.Sprint(seed), func(t *testing.T) { check(t, a) })
	}
}

func madeUp(t *testing.T, r *rand.Rand) answered {
	t.Helper()
	runs := madeUpRuns(r)
	car, err := analyze.FitCar(runs)
	if err != nil {
		t.Fatal(err)
	}
	a := answered{Advice: madeUpAnswer(t, r, car), runs: runs, notes: app.Notes{
		LeftOut:     []run.Problem{{Position: run.Position{File: "<&>.csv", Line: 9}, Column: "note", Value: "=1", What: "is odd"}},
		Implausible: []run.Problem{{Position: run.Position{File: "a.csv", Line: 3}, What: "is odd"}},
	}}
	a.advised = inFormats(t, AdviceFormats, Advised{Advice: a.Advice, Notes: a.notes})
	a.fitted = inFormats(t, FitFormats, Fitted{car, a.notes})
	a.listed = inFormats(t, RunsFormats, runs)
	return a
}

func among[T any](r *rand.Rand, values ...T) T { return values[r.IntN(len(values))] }

func between(r *rand.Rand, low, high float64) float64 { return low + (high-low)*r.Float64() }

// madeUpRuns are runs whose heat grows with rollout and time, more or less.
func madeUpRuns(r *rand.Rand) []run.Run {
	level, exponent, scatter := between(r, 5, 90), between(r, -0.5, 3), between(r, 0.01, 0.2)
	read := run.Parts[:1+r.IntN(len(run.Parts))]
	pinion, several := 11+r.IntN(8), r.IntN(3) > 0
	var runs []run.Run
	for i := range 1 + r.IntN(9) {
		one := run.Run{
			Position: run.Position{File: "made up.csv", Line: i + 2}, Car: "plover & sons",
			When: time.Date(2026, 5, 2+i/3, 10, 25*i, 0, 0, time.UTC), HasTime: r.IntN(4) > 0,
			Gearing: drivetrain.Gearing{Pinion: pinion, Spur: 68, Internal: 2.6}, Tire: among[units.Millimeters](r, 104, 118),
			Ambient: units.Celsius(between(r, -5, 38)), Minutes: units.Minutes(between(r, 2, 25)),
			Cells: among(r, 0, 0, 3), Surface: among(r, "", "grass"), StoppedByHeat: r.IntN(8) == 0,
			Note: among(r, "", "=1+1", "windy, \"cold\""),
		}
		if !one.HasTime {
			one.When = time.Date(2026, 5, 2+i/3, 0, 0, 0, 0, time.UTC) // as a log gives a day
		}
		if several {
			one.Gearing.Pinion += r.IntN(4)
		}
		warming := 1 - math.Exp(-float64(one.Minutes)/6)
		for _, p := range read {
			rise := level * math.Pow(float64(one.Rollout())/30, exponent) * warming * math.Exp(scatter*r.NormFloat64())
			one.Peak.Set(p, one.Ambient+units.Celsius(rise))
		}
		runs = append(runs, one)
	}
	return runs
}

func madeUpAnswer(t *testing.T, r *rand.Rand, car *analyze.Car) *advise.Advice {
	t.Helper()
	req := advise.Request{
		Limits: advise.DefaultLimits(), Confidence: among(r, 0.5, 0.8, 0.855, 0.99), MaxStepUp: r.IntN(4), Next: analyze.ConditionsOf(car.Last),
		Gearings: advise.Pinions(car.Last.Gearing, []int{9, 12, 13, 14, 15, 16, 17, 18, 21}, among(r, []int{68}, []int{60, 68})),
		MotorKV:  among[float64](r, 0, 2200),
	}
	if r.IntN(2) > 0 {
		req.Limits.Set(run.Motor, advise.Limit{Temperature: units.Celsius(between(r, 40, 110)), Origin: advise.CarFile, Whose: "its maker"})
	}
	if r.IntN(3) == 0 {
		req.Limits.Delete(run.Battery)
	}
	req.Next.Ambient += units.Celsius(between(r, -10, 10))
	a, err := advise.For(car, req)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// textUS is the name of text in US units among an answer's formats. The other formats are always
// metric.
const textUS = "text in US units"

// inFormats is an answer in each of its formats, by their names.
func inFormats[T any](t *testing.T, formats []Format[T], answer T) map[string]string {
	t.Helper()
	texts := map[string]string{}
	write := func(name string, f Format[T], u units.System) {
		var b strings.Builder
		if err := f.Write(&b, answer, Style{Units: u, Layout: document.Layout{Width: 1000}}); err != nil {
			t.Fatalf("%T as %s: %v", answer, name, err)
		}
		texts[name] = b.String()
	}
	for _, f := range formats {
		write(f.Name, f, units.Metric)
	}
	write(textUS, formats[0], units.US)
	return texts
}

var noNumber = regexp.MustCompile(`NaN|\bInf|-0(\.0*)?([^.0-9-]|$)|%!`)

// sound checks what holds of every answer in every format: numbers are numbers, JSON is
// read back, each row of CSV has a cell for each column, and none is a spreadsheet's formula.
func sound(t *testing.T, texts map[string]string) {
	t.Helper()
	for name, text := range texts {
		if found := noNumber.FindString(text); found != "" {
			t.Errorf("%s holds %q:\n%s", name, found, text)
		}
		if name == "json" && !json.Valid([]byte(text)) {
			t.Errorf("this is no JSON:\n%s", text)
		}
		if name == "csv" {
			for _, row := range rowsOf(t, text) {
				for column, cell := range row {
					if strings.HasPrefix(cell, "=") {
						t.Errorf("%s holds the formula %q", column, cell)
					}
				}
			}
		}
	}
}

// rowsOf reads CSV by its columns' names; every row must have a cell for each.
func rowsOf(t *testing.T, text string) []map[string]string {
	t.Helper()
	all, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	var rows []map[string]string
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = cells[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// Whatever the log, no answer of any kind holds something that is not a number.
func TestEveryAnswerIsSound(t *testing.T) {
	eachAnswer(t, func(t *testing.T, a answered) {
		var now run.Readings
		for _, f := range a.Car.Fits() {
			now.Set(f.Part, a.Next.Ambient+9)
		}
		sound(t, a.advised)
		sound(t, a.fitted)
		sound(t, a.listed)
		sound(t, inFormats(t, AdviceFormats, Advised{Advice: a.Advice, Brief: true}))
		sound(t, inFormats(t, CompareFormats, Compared{[]NextRun{{Advice: a.Advice}, {"ambient=35C", a.Advice}}, a.notes}))
		sound(t, inFormats(t, TableFormats, GearTable{&ask.GearTable{
			Internal: 2.6, Tires: []ask.TireAtHand{{Name: "=big", Diameter: 118}, {Diameter: 104}}, Rows: []ask.GearRow{{Gearing: a.Current.Gearing}, {Gearing: a.Pick.Gearing}},
		}}))
		sound(t, inFormats(t, RestFormats, Rested{a.Advice, now, a.notes}))
		sound(t, inFormats(t, ProblemFormats, append(RowProblems(a.notes), LeftOutOf(a.Car)...)))
		h, err := analyze.LookBack(a.runs, advise.Temperatures(a.Limits))
		switch {
		case err == nil:
			sound(t, inFormats(t, HindsightFormats, Replayed{h, a.notes}))
		case !errors.Is(err, analyze.ErrTooFewRuns):
			t.Error(err)
		}
		before := advise.Setup{Tire: a.Car.Last.Tire, Cells: 3, KV: a.MotorKV}
		start, err := advise.FirstGearing(advise.StartRequest{
			Fitted: a.Car.Last.Gearing, Before: before, After: advise.Setup{Tire: 110, Cells: 4, KV: a.MotorKV}, Limits: a.Limits,
			Gears: advise.Gears{Boxes: []drivetrain.Box{{Spurs: []int{68}}}}, Car: a.Car, Run: a.Next,
		})
		if err != nil {
			t.Fatal(err)
		}
		sound(t, inFormats(t, StartFormats, Started{Start: start}))
	})
}

// told is what one format tells of a candidate. The text's numbers are coarser.
type told struct {
	ratio, rollout, speed float64
	peaks                 map[run.Part][]float64 // in °C
	chance, longest       string
}

var number = regexp.MustCompile(`-?[0-9.]+`)

func numberIn(t *testing.T, cell string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(number.FindString(cell), 64)
	if err != nil {
		t.Fatalf("no number in %q", cell)
	}
	return x
}

// fromText reads the table of a full answer.
func fromText(t *testing.T, a *advise.Advice, u units.System) map[string]told {
	t.Helper()
	table, all := adviceWords{a, u}.candidates(), map[string]told{}
	at := func(name string) int {
		return slices.IndexFunc(table.Columns, func(c document.Column) bool { return strings.Contains(c.Head, name) })
	}
	for _, row := range table.Rows {
		one := told{
			numberIn(t, row.Cells[at("ratio")]), numberIn(t, row.Cells[at("rollout")]), numberIn(t, row.Cells[at("speed")]),
			map[run.Part][]float64{}, row.Cells[at("chance")], row.Cells[at("longest")],
		}
		if u == units.US {
			one.rollout = float64(units.FromInches(one.rollout))
		}
		for _, f := range a.Car.Fits() {
			for _, peak := range strings.Split(row.Cells[at(f.Part.Word())], "–") {
				c := units.Celsius(numberIn(t, peak))
				if u == units.US {
					c = units.FromFahrenheit(float64(c))
				}
				one.peaks[f.Part] = append(one.peaks[f.Part], float64(c))
			}
		}
		spur := a.Current.Gearing.Spur
		if column := at("spur"); column >= 0 {
			spur = int(numberIn(t, row.Cells[column]))
		}
		all[pair(drivetrain.Gearing{Pinion: int(numberIn(t, row.Cells[at("pinion")])), Spur: spur})] = one
	}
	return all
}

// fromCSV reads the CSV of an answer.
func fromCSV(t *testing.T, a *advise.Advice, text string) map[string]told {
	t.Helper()
	all := map[string]told{}
	for _, row := range rowsOf(t, text) {
		one := told{
			numberIn(t, row["final_drive_ratio"]), numberIn(t, row["rollout_mm"]), numberIn(t, row["speed_change_percent"]),
			map[run.Part][]float64{}, row["probability_under_limits"], row["minutes_to_limit"],
		}
		for _, f := range a.Car.Fits() {
			for _, quantile := range []string{"p10", "p50", "p90"} {
				one.peaks[f.Part] = append(one.peaks[f.Part], numberIn(t, row[f.Part.String()+"_"+quantile+"_c"]))
			}
		}
		gears := row["pinion_teeth"] + "/" + row["spur_teeth"]
		if _, twice := all[gears]; twice {
			t.Errorf("%s stands twice in CSV", gears)
		}
		all[gears] = one
	}
	return all
}

// fromJSON reads the JSON of an answer.
func fromJSON(t *testing.T, text string) map[string]told {
	t.Helper()
	var doc struct {
		Candidates []struct {
			Pinion  int         `json:"pinion_teeth"`
			Spur    int         `json:"spur_teeth"`
			Ratio   float64     `json:"final_drive_ratio"`
			Rollout float64     `json:"rollout_mm"`
			Speed   float64     `json:"speed_change_percent"`
			Chance  json.Number `json:"probability_under_limits"`
			Longest json.Number `json:"minutes_to_limit"`
			Parts   map[string]struct {
				Peak struct{ P10, P50, P90 float64 } `json:"peak_c"`
			}
		}
	}
	if err := json.Unmarshal([]byte(text), &doc); err != nil {
		t.Fatal(err)
	}
	all := map[string]told{}
	for _, c := range doc.Candidates {
		one := told{c.Ratio, c.Rollout, c.Speed, map[run.Part][]float64{}, string(c.Chance), string(c.Longest)}
		for name, f := range c.Parts {
			part, _ := run.ParsePart(name)
			one.peaks[part] = []float64{f.Peak.P10, f.Peak.P50, f.Peak.P90}
		}
		gears := fmt.Sprintf("%d/%d", c.Pinion, c.Spur)
		if _, twice := all[gears]; twice {
			t.Errorf("%s stands twice in JSON", gears)
		}
		all[gears] = one
	}
	return all
}

// Every candidate stands in every format once, and the formats agree on it to the step of
// the coarser: CSV with JSON in every letter, text with both as far as it is rounded, and
// °F with °C.
func TestFormatsAgree(t *testing.T) {
	eachAnswer(t, func(t *testing.T, a answered) {
		asJSON, asCSV := fromJSON(t, a.advised["json"]), fromCSV(t, a.Advice, a.advised["csv"])
		if len(asJSON) != len(a.Candidates) || len(asCSV) != len(a.Candidates) {
			t.Fatalf("%d candidates, %d in JSON, %d in CSV", len(a.Candidates), len(asJSON), len(asCSV))
		}
		for _, u := range units.Systems {
			rollout, degrees := 0.05, 0.5
			if u == units.US {
				rollout, degrees = 0.005*float64(units.MillimetersPerInch), 0.5/1.8
			}
			asText := fromText(t, a.Advice, u)
			if len(asText) != len(a.Candidates) {
				t.Fatalf("%d candidates, %d in text", len(a.Candidates), len(asText))
			}
			for gears, text := range asText {
				j, c := asJSON[gears], asCSV[gears]
				if fmt.Sprint(j) != fmt.Sprint(c) {
					t.Errorf("%s: JSON tells %v, CSV %v", gears, j, c)
				}
				const finer = 0.006 // JSON's own rounding
				if math.Abs(text.ratio-j.ratio) > 0.005+finer || math.Abs(text.rollout-j.rollout) > rollout+finer || math.Abs(text.speed-j.speed) > 0.5+finer {
					t.Errorf("%s: text tells %v, JSON %v", gears, text, j)
				}
				if len(text.peaks) != len(j.peaks) || len(j.peaks) != len(a.Car.Fits()) {
					t.Errorf("%s: parts %v in text, %v in JSON", gears, text.peaks, j.peaks)
				}
				for part, peaks := range text.peaks {
					for i, c := range peaks {
						if its := j.peaks[part][i]; math.Abs(c-its) > degrees+finer && its < float64(units.FromFahrenheit(999)) {
							t.Errorf("%s: the %v peaks at %g in text, %g in JSON", gears, part, c, its)
						}
					}
				}
				if p := numberIn(t, j.chance); p > 0.0101 && p < 0.9899 && math.Abs(numberIn(t, text.chance)-math.Floor(100*p)) > 1 {
					t.Errorf("%s: a chance of %s in text, %s in JSON", gears, text.chance, j.chance)
				}
				if j.longest == "" != (text.longest == "over 60") {
					t.Errorf("%s: longest run %q in text, %q in JSON", gears, text.longest, j.longest)
				}
				if j.longest != "" && text.longest != "under 1" && math.Abs(numberIn(t, text.longest)+0.5-numberIn(t, j.longest)) > 0.506 {
					t.Errorf("%s: longest run %q in text, %q in JSON", gears, text.longest, j.longest)
				}
			}
		}
	})
}

// A chance that misses the wanted confidence, however closely, misses it in every format; one
// that reaches it reaches it in all.
func TestNoChanceIsRoundedUpToTheConfidence(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 7))
	a := advice(t)
	c := a.Pick
	for range 2000 {
		a.Confidence = float64(1+r.IntN(98)) / 100
		for _, p := range []float64{math.Nextafter(a.Confidence, 0), a.Confidence - math.Pow(10, between(r, -12, -2)), a.Confidence, between(r, 0, 1)} {
			c.Chance = p
			inText := numberIn(t, chance(p)) / 100
			if strings.HasPrefix(chance(p), "under") {
				inText = 0
			}
			asJSON, asCSV := numberIn(t, toCandidate(c, a.Confidence).Probability.String()), numberIn(t, adviceRow(a, c)[8])
			for format, x := range map[string]float64{"text": inText, "JSON": asJSON, "CSV": asCSV} {
				if x >= a.Confidence != (p >= a.Confidence) {
					t.Fatalf("%.17g against %g is written %g in %s", p, a.Confidence, x, format)
				}
			}
		}
	}
}

// JSON, CSV and text tell of the same warnings, and the notes of the log are in all of them.
func TestFormatsWarnAlike(t *testing.T) {
	eachAnswer(t, func(t *testing.T, a answered) {
		var want []string
		for _, w := range a.Warnings {
			want = append(want, string(w.Code()))
		}
		want = append(want, "row_left_out", "looks_implausible")
		var doc struct{ Warnings []struct{ Code string } }
		if err := json.Unmarshal([]byte(a.advised["json"]), &doc); err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, w := range doc.Warnings {
			got = append(got, w.Code)
		}
		if !slices.Equal(got, want) {
			t.Errorf("JSON warns of %v, the answer of %v", got, want)
		}
		slices.Sort(want)
		want = slices.Compact(want)
		for _, row := range rowsOf(t, a.advised["csv"]) {
			if codes := strings.Fields(row["warnings"]); !slices.Equal(slices.Sorted(slices.Values(codes)), want) {
				t.Errorf("CSV warns of %v, the answer of %v", codes, want)
			}
		}
		text := asText(append(WarningNotes(a.Warnings, units.Metric, AtCommandLine, nil), Noted(a.notes)...), 10000)
		if n, groups := strings.Count(text, "warning: "), len(sameButForPart(a.Warnings)); n != groups {
			t.Errorf("text has %d warnings for %d groups", n, groups)
		}
		for _, group := range sameButForPart(a.Warnings) {
			if message, action, _ := wording(units.Metric, group, AtCommandLine); !strings.Contains(text, message+". "+capital(action)) {
				t.Errorf("text does not say %q", message)
			}
		}
		for _, place := range []string{"<&>.csv:9: ", "a.csv:3: "} {
			if !strings.Contains(text, place) {
				t.Errorf("text does not say %q", place)
			}
		}
	})
}

// Every part with readings is named: in the answer's table and in the fit, in every format.
func TestEveryReadPartIsNamed(t *testing.T) {
	eachAnswer(t, func(t *testing.T, a answered) {
		for _, f := range a.Car.Fits() {
			word, name := f.Part.Word(), strconv.Quote(f.Part.String())
			for _, c := range []struct{ text, heading string }{
				{a.fitted[textUS], capital(word) + ":\n"}, {a.advised[textUS], word + " °F"}, {a.listed[textUS], word},
			} {
				if !strings.Contains(c.text, c.heading) {
					t.Errorf("no %q in\n%s", c.heading, c.text)
				}
			}
			for what, text := range map[string]string{"the fit": a.fitted["json"], "the answer": a.advised["json"], "the runs": a.listed["json"]} {
				if !strings.Contains(text, name) {
					t.Errorf("%s in JSON does not name %s", what, name)
				}
			}
		}
	})
}
