package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"regear/analyze/units"
)

const weekend = "testdata/demo/weekend.csv"

// asked are the flags of the questions below: more than one part decides nothing, and
// pinions on both sides of those in the log.
var asked = []string{"--limit", "motor=80C", "--limit", "esc=75C", "--limit", "battery=60C", "--pinions", "12-20", "--ambient", "28C"}

// document is an answer in JSON, as a script would read it.
type document struct {
	Schema         int
	Confidence     float64
	Recommendation struct {
		Action      string  `json:"action"`
		Pinion      int     `json:"pinion_teeth"`
		TeethChange int     `json:"teeth_change"`
		Probability float64 `json:"probability_under_limits"`
		Binding     string  `json:"binding_part"`
	}
	Current struct {
		Pinion int `json:"pinion_teeth"`
	}
	Candidates []candidateDocument
	Warnings   []struct{ Code, Message, Action string }
}

type candidateDocument struct {
	Pinion         int      `json:"pinion_teeth"`
	Rollout        float64  `json:"rollout_mm"`
	Probability    float64  `json:"probability_under_limits"`
	TooFarUp       bool     `json:"too_far_up"`
	MinutesToLimit *float64 `json:"minutes_to_limit"`
	Parts          map[string]struct {
		Peak        map[string]float64 `json:"peak_c"`
		Probability float64            `json:"probability_under_limit"`
	}
}

// answer runs advise for its JSON, which must be given.
func answer(t *testing.T, stdin string, args ...string) (document, string) {
	t.Helper()
	got := regear(t, stdin, slices.Concat([]string{"advise", "--format", "json"}, args)...)
	if got.exit != 0 {
		t.Fatalf("%q: exit %d: %s", args, got.exit, got.stderr)
	}
	var doc document
	if err := json.Unmarshal([]byte(got.stdout), &doc); err != nil {
		t.Fatal(err)
	}
	return doc, got.stdout
}

func read(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// rowsOf returns a log's header and rows without its comments.
func rowsOf(t *testing.T, log string) [][]string {
	t.Helper()
	r := csv.NewReader(strings.NewReader(log))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func logOf(t *testing.T, rows [][]string) string {
	t.Helper()
	var b bytes.Buffer
	if err := csv.NewWriter(&b).WriteAll(rows); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// A log in °F and inches is the same log.
func TestUnitsOfTheLogChangeNothing(t *testing.T) {
	inTopFolder(t)
	for _, log := range []string{weekend, "testdata/demo/season.csv", "testdata/golden/troubled-log/log.csv"} {
		metric := read(t, log)
		rows := rowsOf(t, metric)
		for j, name := range rows[0] {
			var convert func(float64) float64
			switch {
			case strings.HasSuffix(name, "_c"):
				rows[0][j] = strings.TrimSuffix(name, "c") + "f"
				convert = func(x float64) float64 { return units.Celsius(x).Fahrenheit() }
			case strings.HasSuffix(name, "_mm"):
				rows[0][j] = strings.TrimSuffix(name, "mm") + "in"
				convert = func(x float64) float64 { return units.Millimeters(x).Inches() }
			default:
				continue
			}
			for _, row := range rows[1:] {
				if x, err := strconv.ParseFloat(row[j], 64); err == nil {
					row[j] = strconv.FormatFloat(convert(x), 'g', 17, 64)
				}
			}
		}
		limits := []string{"--log", "-", "--limit", "motor=80C", "--limit", "battery=60C", "--limit", "esc=none"}
		_, want := answer(t, metric, limits...)
		_, got := answer(t, "# The metric log has a comment here.\n"+logOf(t, rows), limits...)
		sameNumbers(t, log, decode(t, got), decode(t, want))
	}
}

func decode(t *testing.T, text string) any {
	t.Helper()
	var v any
	if err := json.Unmarshal([]byte(text), &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// sameNumbers compares two JSON values: texts exactly, and numbers to one step of
// the last digit that the coarsest of them is rounded to.
func sameNumbers(t *testing.T, path string, got, want any) {
	t.Helper()
	const lastDigit = 0.0101
	switch want := want.(type) {
	case map[string]any:
		got, ok := got.(map[string]any)
		if !ok || len(got) != len(want) {
			t.Errorf("%s: got %v, want %v", path, got, want)
			return
		}
		for key := range want {
			sameNumbers(t, path+"."+key, got[key], want[key])
		}
	case []any:
		got, ok := got.([]any)
		if !ok || len(got) != len(want) {
			t.Errorf("%s: got %v, want %v", path, got, want)
			return
		}
		for i := range want {
			sameNumbers(t, fmt.Sprintf("%s[%d]", path, i), got[i], want[i])
		}
	case float64:
		if got, ok := got.(float64); !ok || math.Abs(got-want) > lastDigit {
			t.Errorf("%s: got %v, want %v", path, got, want)
		}
	default:
		if got != want {
			t.Errorf("%s: got %v, want %v", path, got, want)
		}
	}
}

// The order of rows says nothing, as every run has its date and time.
func TestOrderOfRowsChangesNothing(t *testing.T) {
	inTopFolder(t)
	for _, log := range []string{weekend, "testdata/demo/season.csv"} {
		rows := rowsOf(t, read(t, log))
		_, want := answer(t, logOf(t, rows), append(asked, "--log", "-")...)
		random := rand.New(rand.NewPCG(1, 2))
		for range 5 {
			random.Shuffle(len(rows)-1, func(i, j int) { rows[i+1], rows[j+1] = rows[j+1], rows[i+1] })
			_, got := answer(t, logOf(t, rows), append(asked, "--log", "-")...)
			compare(t, log, got, want)
		}
	}
}

// A log that is named twice is one log.
func TestSameLogTwiceIsOneLog(t *testing.T) {
	inTopFolder(t)
	once, _ := answer(t, "", append(asked, "--log", weekend)...)
	twice, _ := answer(t, "", append(asked, "--log", weekend, "--log", weekend)...)
	if !slices.EqualFunc(once.Candidates, twice.Candidates, func(a, b candidateDocument) bool { return a.Probability == b.Probability }) {
		t.Errorf("twice %v, once %v", twice.Candidates, once.Candidates)
	}
	runs := len(rowsOf(t, read(t, weekend))) - 1
	said := 0
	for _, w := range twice.Warnings {
		if w.Code == "counted_once" {
			said++
		}
	}
	if said != runs {
		t.Errorf("%d runs said to be counted once, of %d", said, runs)
	}
}

// What the contract promises of every answer.
func TestEveryAnswerKeepsTheContract(t *testing.T) {
	inTopFolder(t)
	logs, err := filepath.Glob("testdata/golden/*/log.csv")
	if err != nil {
		t.Fatal(err)
	}
	answered := 0
	for _, log := range append(logs, weekend, "testdata/demo/season.csv", "testdata/demo/weekend-us.csv") {
		args := []string{"advise", "--format", "json", "--pinions", "9-22", "--log", log}
		got := regear(t, "", args...)
		if got.exit != 0 {
			if got.stdout != "" || got.stderr == "" {
				t.Errorf("%s: exit %d with %q on standard output and %q on standard error", log, got.exit, got.stdout, got.stderr)
			}
			continue
		}
		answered++
		var doc document
		if err := json.Unmarshal([]byte(got.stdout), &doc); err != nil {
			t.Fatalf("%s: %v", log, err)
		}
		keepsTheContract(t, log, doc)
		if strings.Contains(got.stdout, "null") {
			t.Errorf("%s: what can't be given is not left out:\n%s", log, got.stdout)
		}
	}
	if answered < 10 {
		t.Errorf("only %d logs were answered", answered)
	}
}

func keepsTheContract(t *testing.T, log string, doc document) {
	t.Helper()
	if doc.Schema != 1 || len(doc.Candidates) != 22-9+1 {
		t.Errorf("%s: schema %d with %d candidates", log, doc.Schema, len(doc.Candidates))
	}
	var pick, tallest candidateDocument // tallest of those that may be picked
	for i, c := range doc.Candidates {
		if c.Pinion != 9+i {
			t.Errorf("%s: candidate %d has %d teeth", log, i, c.Pinion)
		}
		product, smallest := 1.0, 1.0
		for part, p := range c.Parts {
			if !(p.Peak["p10"] < p.Peak["p50"] && p.Peak["p50"] < p.Peak["p90"]) {
				t.Errorf("%s: pinion %d: %s: peaks %v do not rise", log, c.Pinion, part, p.Peak)
			}
			product *= p.Probability
			smallest = min(smallest, p.Probability)
		}
		const rounding = 2e-6
		if c.Probability < product-rounding || c.Probability > smallest+rounding || c.Probability <= 0 || c.Probability >= 1 {
			t.Errorf("%s: pinion %d: chance of all %g, product %g, smallest %g", log, c.Pinion, c.Probability, product, smallest)
		}
		if c.Pinion == doc.Recommendation.Pinion {
			pick = c
		}
		if m := c.MinutesToLimit; m != nil && !(*m >= 0 && *m <= 60) {
			t.Errorf("%s: pinion %d: longest run %g min", log, c.Pinion, *m)
		}
		if c.Probability >= doc.Confidence && !c.TooFarUp && c.Rollout > tallest.Rollout {
			tallest = c
		}
	}
	r := doc.Recommendation
	switch {
	case r.Probability != pick.Probability || r.TeethChange != pick.Pinion-doc.Current.Pinion:
		t.Errorf("%s: recommendation %+v is not its candidate %+v", log, r, pick)
	case tallest.Pinion == 0 && r.Action != "none_reaches_confidence", tallest.Pinion != 0 && r.Pinion != tallest.Pinion:
		t.Errorf("%s: %s %d, where the tallest that may be picked is %d", log, r.Action, r.Pinion, tallest.Pinion)
	}
}

// The CSV says what the JSON says, in a table that a spreadsheet can't misread.
func TestCSVAgreesWithJSON(t *testing.T) {
	inTopFolder(t)
	doc, _ := answer(t, "", append(asked, "--log", weekend)...)
	table := regear(t, "", append([]string{"advise", "--format", "csv", "--log", weekend}, asked...)...)
	rows := rowsOf(t, table.stdout)
	if len(rows) != 1+len(doc.Candidates) {
		t.Fatalf("%d rows for %d candidates", len(rows)-1, len(doc.Candidates))
	}
	column := func(name string) int { return slices.Index(rows[0], name) }
	for i, c := range doc.Candidates {
		row := rows[i+1]
		for name, want := range map[string]float64{
			"pinion_teeth": float64(c.Pinion), "probability_under_limits": c.Probability, "rollout_mm": c.Rollout,
			"motor_p90_c": c.Parts["motor"].Peak["p90"], "battery_probability_under_limit": c.Parts["battery"].Probability,
		} {
			if got, err := strconv.ParseFloat(row[column(name)], 64); err != nil || got != want {
				t.Errorf("pinion %d: %s is %q, want %g", c.Pinion, name, row[column(name)], want)
			}
		}
		isPick := row[column("pick")] == "yes"
		if want := c.Pinion == doc.Recommendation.Pinion; isPick != want {
			t.Errorf("pinion %d: pick %t, want %t", c.Pinion, isPick, want)
		}
	}
}

// A car's name that a spreadsheet would run is text in the CSV.
func TestCSVHoldsNoFormula(t *testing.T) {
	inTopFolder(t)
	rows := rowsOf(t, read(t, weekend))
	car := slices.Index(rows[0], "car")
	for _, row := range rows[1:] {
		row[car] = "=1+1"
	}
	got := regear(t, logOf(t, rows), "advise", "--format", "csv", "--log", "-")
	for _, row := range rowsOf(t, got.stdout)[1:] {
		if row[0] != "'=1+1" {
			t.Fatalf("the car is written %q", row[0])
		}
	}
}

// Trade, common practice without a source: a larger tire at equal gearing, more
// minutes and hotter air are each no cooler, and so no likelier to hold.
func TestHarderNextRunIsNoLikelierToHold(t *testing.T) {
	inTopFolder(t)
	base := []string{"--log", weekend, "--limit", "motor=80C", "--limit", "esc=75C", "--limit", "battery=60C", "--pinions", "12-18"}
	easy, _ := answer(t, "", base...)
	for _, harder := range [][]string{{"--tire", "135mm"}, {"--minutes", "20"}, {"--ambient", "35C"}} {
		hard, _ := answer(t, "", append(slices.Clone(base), harder...)...)
		for i := range easy.Candidates {
			e, h := easy.Candidates[i], hard.Candidates[i]
			saturated := e.Probability < 1e-4 || h.Probability > 1-1e-4
			if h.Probability > e.Probability || h.Probability == e.Probability && !saturated {
				t.Errorf("%v: pinion %d: chance %g, and %g in the easier run", harder, h.Pinion, h.Probability, e.Probability)
			}
		}
	}
}

// Whatever next run may be asked, its answer is one in finite numbers.
func TestEveryNextRunIsAnswered(t *testing.T) {
	inTopFolder(t)
	for _, ambient := range []string{"-60C", "70C"} {
		for _, tire := range []string{"10mm", "1000mm"} {
			for _, minutes := range []string{"0.1", "1440"} {
				for _, cells := range []string{"1", "99"} {
					args := []string{"--log", weekend, "--ambient=" + ambient, "--tire", tire, "--minutes", minutes, "--cells", cells,
						"--pinions", "1,400", "--spurs", "1,400", "--limit", "motor=500C", "--limit", "esc=500C", "--limit", "battery=500C", "--confidence", "0.999"}
					answer(t, "", args...) // JSON has no word for what is not finite
					text := regear(t, "", append([]string{"advise"}, args...)...)
					if text.exit != 0 || strings.Contains(text.stdout, "NaN") || strings.Contains(text.stdout, "Inf") {
						t.Errorf("%q: exit %d:\n%s", args, text.exit, text.stdout)
					}
				}
			}
		}
	}
}

// The longest run that still reaches the confidence is just that: a little shorter
// reaches it, a little longer does not, and where none is given an hour reaches it.
func TestLongestRunIsTheLongest(t *testing.T) {
	inTopFolder(t)
	base := []string{"--log", weekend, "--limit", "motor=80C", "--limit", "esc=75C", "--limit", "battery=60C", "--pinions", "8-18"}
	doc, _ := answer(t, "", base...)
	at := func(minutes float64, i int) float64 {
		doc, _ := answer(t, "", append(slices.Clone(base), "--minutes", strconv.FormatFloat(minutes, 'f', 3, 64))...)
		return doc.Candidates[i].Probability
	}
	var given, absent int
	for i, c := range doc.Candidates {
		if c.MinutesToLimit == nil {
			absent++
			if p := at(60, i); p < doc.Confidence {
				t.Errorf("pinion %d: no longest run is given, and an hour has a chance of %g", c.Pinion, p)
			}
			continue
		}
		given++
		if shorter, longer := at(*c.MinutesToLimit*0.99, i), at(*c.MinutesToLimit*1.01, i); shorter < doc.Confidence || longer >= doc.Confidence {
			t.Errorf("pinion %d: longest run %g min, but the chance is %g below and %g above", c.Pinion, *c.MinutesToLimit, shorter, longer)
		}
	}
	if given == 0 || absent == 0 {
		t.Errorf("%d longest runs given, %d absent: the question tests only one side", given, absent)
	}
}

// A looser question is answered by a gearing no shorter.
func TestMoreRoomIsNoShorterGearing(t *testing.T) {
	inTopFolder(t)
	previous := 0
	for _, limit := range []string{"70C", "75C", "80C", "85C", "90C", "95C"} {
		doc, _ := answer(t, "", "--log", weekend, "--limit", "motor="+limit, "--limit", "esc=75C", "--pinions", "8-20")
		if doc.Recommendation.Action == "none_reaches_confidence" {
			t.Fatalf("limit %s: no pick", limit)
		}
		if doc.Recommendation.Pinion < previous {
			t.Errorf("limit %s picks %d, a lower one picked %d", limit, doc.Recommendation.Pinion, previous)
		}
		previous = doc.Recommendation.Pinion
	}
}

// FuzzAdvise gives the whole program any bytes for a log: it never panics, and what
// it answers is finite and complete.
func FuzzAdvise(f *testing.F) {
	for _, log := range []string{weekend, "testdata/golden/troubled-log/log.csv", "testdata/golden/own-headers/log.csv"} {
		text, err := os.ReadFile(filepath.Join("..", "..", log))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(text))
	}
	f.Add("date,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c\n2026-01-01,1,1,1e-3,-273,1e-3,1e9\n")
	f.Fuzz(func(t *testing.T, log string) {
		got := regear(t, log, "advise", "--format", "json", "--log", "-", "--pinions", "10,20")
		if got.exit == exitAnswered {
			var doc document
			if err := json.Unmarshal([]byte(got.stdout), &doc); err != nil || len(doc.Candidates) != 2 {
				t.Errorf("%v in:\n%s", err, got.stdout)
			}
		} else if got.stderr == "" || got.stdout != "" {
			t.Errorf("exit %d with %q on standard output and %q on standard error", got.exit, got.stdout, got.stderr)
		}
	})
}
