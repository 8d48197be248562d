package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// eachAnswer makes invented logs and asks each for an answer: cars of all parts or one, hot
// and cool, of one gearing or many, with limits that hold, fail or were not given.
func eachAnswer(t *testing.T, check func(t *testing.T, a *advise.Advice, runs []run.Run)) {
	t.Helper()
	for seed, one := range madeUp() {
		t.Run(fmt.Sprint(seed), func(t *testing.T) { check(t, one.Advice, one.runs) })
	}
}

// answered is an answer with its log.
type answered struct {
	*advise.Advice
	runs []run.Run
}

// madeUp are answers to made up logs, made once: they take most of the time.
var madeUp = sync.OnceValue(func() (all []answered) {
	for seed := range uint64(8) {
		r := rand.New(rand.NewPCG(seed, 7))
		runs := madeUpRuns(r)
		car, err := analyze.FitCar(runs)
		if err != nil {
			panic(err)
		}
		all = append(all, answered{madeUpAnswer(r, car), runs})
	}
	return all
})

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

func madeUpAnswer(r *rand.Rand, car *analyze.Car) *advise.Advice {
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
		panic(err)
	}
	return a
}

// inFormats is an answer in each of its formats, by their names.
func inFormats[T any](t *testing.T, formats []Format[T], answer T, u units.System) map[string]string {
	t.Helper()
	texts := map[string]string{}
	for _, f := range formats {
		var b bytes.Buffer
		if err := f.Write(&b, answer, Style{Units: u, Layout: document.Layout{Width: 1000}}); err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		texts[f.Name] = b.String()
	}
	return texts
}

var noNumber = regexp.MustCompile(`NaN|\bInf|-0(\.0*)?([^.0-9-]|$)|%!`)

// sound checks what holds of every answer in every format: numbers are numbers, JSON is
// read back, and each row of CSV has a cell for each column.
func sound[T any](t *testing.T, formats []Format[T], answer T) {
	t.Helper()
	for _, u := range units.Systems {
		if u == units.US {
			formats = formats[:1] // text: the others are always metric
		}
		for name, text := range inFormats(t, formats, answer, u) {
			if found := noNumber.FindString(text); found != "" {
				t.Errorf("%T as %s holds %q:\n%s", answer, name, found, text)
			}
			if name == "json" && !json.Valid([]byte(text)) {
				t.Errorf("%T is no JSON:\n%s", answer, text)
			}
			if name == "csv" {
				rowsOf(t, text)
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

// No answer of any kind holds what is no number, whatever the log.
func TestEveryAnswerIsSound(t *testing.T) {
	eachAnswer(t, func(t *testing.T, a *advise.Advice, runs []run.Run) {
		odd := Noticed{LeftOut: []run.Problem{{Position: run.Position{File: "<&>.csv", Line: 9}, Column: "note", Value: "=1", What: "is odd"}}}
		var now run.Readings
		for _, f := range a.Car.Fits() {
			now.Set(f.Part, a.Next.Ambient+9)
		}
		sound(t, AdviceFormats, Advised{Advice: a, Noticed: odd})
		sound(t, AdviceFormats, Advised{Advice: a, Brief: true})
		sound(t, FitFormats, Fitted{a.Car, odd})
		sound(t, CompareFormats, Compared{[]NextRun{{Advice: a}, {"ambient=35C", a}}, odd})
		sound(t, TableFormats, GearTable{
			Internal: 2.6, Tires: []Tire{{"=big", 118}, {"", 104}}, Rows: []GearRow{{Gearing: a.Current.Gearing}, {Gearing: a.Pick.Gearing}},
		})
		sound(t, RestFormats, Rested{a, now, odd})
		sound(t, RunsFormats, runs)
		sound(t, ProblemFormats, append(RowProblems(odd), LeftOutOf(a.Car)...))
		if h, err := analyze.LookBack(runs, advise.Temperatures(a.Limits)); err == nil {
			sound(t, HindsightFormats, Replayed{h, odd})
		}
		before := advise.Setup{Tire: a.Car.Last.Tire, Cells: 3, KV: a.MotorKV}
		start, err := advise.FirstGearing(advise.StartRequest{
			Fitted: a.Car.Last.Gearing, Before: before, After: advise.Setup{Tire: 110, Cells: 4, KV: a.MotorKV}, Limits: a.Limits,
			Gears: advise.Gears{Boxes: []drivetrain.Box{{Spurs: []int{68}}}}, Car: a.Car, Run: a.Next,
		})
		if err != nil {
			t.Fatal(err)
		}
		sound(t, StartFormats, Started{start, StartKnown{}})
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
	for i, row := range table.Rows {
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
		all[pair(a.Candidates[i].Gearing)] = one
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
	eachAnswer(t, func(t *testing.T, a *advise.Advice, _ []run.Run) {
		written := inFormats(t, AdviceFormats, Advised{Advice: a}, units.Metric)
		asJSON, asCSV := fromJSON(t, written["json"]), fromCSV(t, a, written["csv"])
		if len(asJSON) != len(a.Candidates) || len(asCSV) != len(a.Candidates) {
			t.Fatalf("%d candidates, %d in JSON, %d in CSV", len(a.Candidates), len(asJSON), len(asCSV))
		}
		for _, u := range units.Systems {
			rollout, degrees := 0.05, 0.5
			if u == units.US {
				rollout, degrees = 0.005*float64(units.MillimetersPerInch), 0.5/1.8
			}
			for gears, text := range fromText(t, a, u) {
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

// A chance that misses the wanted confidence, however closely, reaches it in no format; one
// that reaches it does in all.
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

// JSON, CSV and text tell of the same warnings, and what was noticed in the log is in all
// of them.
func TestFormatsWarnAlike(t *testing.T) {
	eachAnswer(t, func(t *testing.T, a *advise.Advice, _ []run.Run) {
		noticed := Noticed{Doubtful: []run.Problem{{Position: run.Position{File: "a.csv", Line: 3}, What: "is odd"}}}
		var want []string
		for _, w := range a.Warnings {
			want = append(want, string(w.Code()))
		}
		want = append(want, "looks_implausible")
		var got []string
		for _, w := range toAdvice(a, noticed).Warnings {
			got = append(got, w.Code)
		}
		if !slices.Equal(got, want) {
			t.Errorf("JSON warns of %v, the answer of %v", got, want)
		}
		written := inFormats(t, AdviceFormats, Advised{Advice: a, Noticed: noticed}, units.Metric)
		slices.Sort(want)
		want = slices.Compact(want)
		for _, row := range rowsOf(t, written["csv"]) {
			if codes := strings.Fields(row["warnings"]); !slices.Equal(slices.Sorted(slices.Values(codes)), want) {
				t.Errorf("CSV warns of %v, the answer of %v", codes, want)
			}
		}
		text := asText(append(WarningNotes(a.Warnings, units.Metric, AtCommandLine), Noted(noticed)...), 10000)
		if n, groups := strings.Count(text, "warning: "), len(sameButForPart(a.Warnings)); n != groups {
			t.Errorf("text has %d warnings for %d groups", n, groups)
		}
		for _, group := range sameButForPart(a.Warnings) {
			if message, action := wording(units.Metric, group, AtCommandLine); !strings.Contains(text, message+". "+capital(action)) {
				t.Errorf("text does not say %q", message)
			}
		}
	})
}

// Every part with readings is named: in the answer's table and in the fit, in every format.
func TestEveryReadPartIsNamed(t *testing.T) {
	eachAnswer(t, func(t *testing.T, a *advise.Advice, runs []run.Run) {
		fitted := inFormats(t, FitFormats, Fitted{Car: a.Car}, units.US)
		advised := inFormats(t, AdviceFormats, Advised{Advice: a}, units.US)
		listed := inFormats(t, RunsFormats, runs, units.US)
		for _, f := range a.Car.Fits() {
			word, name := f.Part.Word(), strconv.Quote(f.Part.String())
			for what, text := range map[string]string{"the fit": fitted["text"], "the answer": advised["text"], "the runs": listed["text"]} {
				if !strings.Contains(text, word) && !strings.Contains(text, capital(word)) {
					t.Errorf("%s does not name the %s", what, word)
				}
			}
			for what, text := range map[string]string{"the fit": fitted["json"], "the answer": advised["json"], "the runs": listed["json"]} {
				if !strings.Contains(text, name) {
					t.Errorf("%s in JSON does not name %s", what, name)
				}
			}
		}
	})
}
