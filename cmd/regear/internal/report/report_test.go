package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
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
	if got := slices.Sorted(slices.Values(codesOf(firstTold))); !slices.Equal(got, all) {
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
		b.WriteString(asText(WarningNotes(everyWarning(), u, AtCommandLine), 0) + "\n")
		for _, w := range everyWarning() {
			b.WriteString(brief(u, []analyze.Warning{w}) + "\n")
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
			message, action := Wording(u, w, AtCommandLine)
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
			if line := "warning: " + brief(u, []analyze.Warning{w}); len([]rune(line)) > 80 || strings.Contains(line, "%!") {
				t.Errorf("%v: %d letters: %s", w.Code(), len([]rune(line)), line)
			}
		}
	}
	var b strings.Builder
	if err := BriefWarnings(&b, everyWarning(), Noticed{}, Style{}); err != nil {
		t.Fatal(err)
	}
	// Three are in the headline or first line already, two are told, and the others counted.
	if n := len(analyze.Kinds) - 3 - 2; strings.Count(b.String(), "\n") != 3 || !strings.Contains(b.String(), fmt.Sprintf("and %d more", n)) {
		t.Errorf("got\n%s", b.String())
	}
}

// A narrow terminal loses columns of the table, and neither pinion nor chance.
func TestBriefFitsNarrowTerminals(t *testing.T) {
	a := advice(t)
	for _, width := range []int{50, 60, 80, 100} {
		text := asText(Brief(a, units.Metric), width)
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
	text := asText(WarningNotes(all, units.Metric, AtCommandLine), 1000)
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

// No format drops a warning, nor what the reader noticed.
func TestEveryFormatShowsEveryCode(t *testing.T) {
	a := advice(t)
	noticed := Noticed{
		LeftOut:     []run.Problem{{Position: run.Position{File: "weekend.csv", Line: 4}, Column: "motor_peak_c", Value: "hot", What: "is not a number", Do: "write it"}},
		Doubtful:    []run.Problem{{Position: run.Position{File: "weekend.csv", Line: 5}, What: "is odd", Do: "look"}},
		CountedOnce: []run.Problem{{Position: run.Position{File: "weekend.csv", Line: 6}, What: "is the run of a.csv:2"}},
	}
	codes := []string{"row_left_out", "looks_implausible", "counted_once"}
	for _, w := range analyze.Kinds {
		codes = append(codes, string(w.Code()))
	}

	var doc struct {
		Warnings []struct{ Code, Message, Action string }
	}
	var out bytes.Buffer
	if err := AdviceJSON(&out, Advised{Advice: a, Noticed: noticed}, Style{}); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(out.Bytes(), &doc); err != nil {
		t.Fatal(err)
	}
	var inJSON []string
	for _, w := range doc.Warnings {
		inJSON = append(inJSON, w.Code)
		if w.Message == "" {
			t.Errorf("JSON: %s says nothing", w.Code)
		}
	}

	out.Reset()
	if err := writeAdviceCSV(&out, Advised{Advice: a, Noticed: noticed}, Style{}); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&out).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	inCSV := strings.Fields(rows[1][len(rows[1])-1])

	for _, code := range codes {
		if !slices.Contains(inJSON, code) || !slices.Contains(inCSV, code) {
			t.Errorf("%s: in JSON %t, in CSV %t", code, slices.Contains(inJSON, code), slices.Contains(inCSV, code))
		}
	}

	const wide = 10000
	text := asText(WarningNotes(a.Warnings, units.Metric, AtCommandLine), wide) + NoticedText(noticed)
	for _, w := range a.Warnings {
		if message, _ := Wording(units.Metric, w, AtCommandLine); !strings.Contains(text, message) {
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

// Only on a terminal does anything stand out, and nothing but the pick does.
func TestBoldMarksThePick(t *testing.T) {
	a := advice(t)
	var plain, bold bytes.Buffer
	if err := writeAdviceText(&plain, Advised{Advice: a}, Style{}); err != nil {
		t.Fatal(err)
	}
	if err := writeAdviceText(&bold, Advised{Advice: a}, Style{Layout: document.Layout{Bold: true}}); err != nil {
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
