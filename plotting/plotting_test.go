package plotting

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"regear/advise"
	"regear/analyze/run"
	"regear/analyze/units"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// kinds are the figures by name.
var kinds = []struct {
	name string
	draw func(*advise.Advice, run.Part, units.System) (*Figure, error)
}{
	{"ratio", Ratio},
	{"rollout", Rollout},
	{"minutes", Minutes},
	{"chance", func(a *advise.Advice, _ run.Part, s units.System) (*Figure, error) { return Chance(a, s), nil }},
}

// drawnFigure is a figure with the advice that it shows.
type drawnFigure struct {
	advice *advise.Advice
	figure *Figure
}

// drawn holds every figure of every scenario, once it was drawn: a fit takes longer than
// what most tests ask of it. No test changes what it holds.
var drawn = map[string]drawnFigure{}

// eachFigure calls check with every kind of figure of every scenario.
func eachFigure(t *testing.T, check func(t *testing.T, s scenario, a *advise.Advice, kind string, f *Figure)) {
	for name, s := range scenarios() {
		var a *advise.Advice
		for _, kind := range kinds {
			key := name + "/" + kind.name
			if _, ok := drawn[key]; !ok {
				if a == nil {
					a = s.advice(t)
				}
				f, err := kind.draw(a, s.part, s.system)
				if err != nil {
					t.Fatal(err)
				}
				drawn[key] = drawnFigure{a, f}
			}
			t.Run(key, func(t *testing.T) { check(t, s, drawn[key].advice, kind.name, drawn[key].figure) })
		}
	}
}

// TestSeries compares the numbers of figures with those on file, so that no change of
// what is shown goes unseen.
func TestSeries(t *testing.T) {
	for _, c := range []struct{ scenario, kind string }{
		{"weekend", "ratio"}, {"us", "rollout"}, {"weekend", "minutes"}, {"weekend", "chance"}, {"stops", "ratio"}, {"spurs", "chance"},
	} {
		t.Run(c.scenario+"-"+c.kind, func(t *testing.T) {
			s := scenarios()[c.scenario]
			k := slices.IndexFunc(kinds, func(k struct {
				name string
				draw func(*advise.Advice, run.Part, units.System) (*Figure, error)
			}) bool {
				return k.name == c.kind
			})
			f, err := kinds[k].draw(s.advice(t), s.part, s.system)
			if err != nil {
				t.Fatal(err)
			}
			got, err := json.MarshalIndent(f, "", " ")
			if err != nil {
				t.Fatal(err)
			}
			file := filepath.Join("testdata", "golden", c.scenario+"-"+c.kind+".json")
			if *update {
				if err := os.WriteFile(file, append(got, '\n'), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			var g, w any
			if err := errors.Join(json.Unmarshal(got, &g), json.Unmarshal(want, &w)); err != nil {
				t.Fatal(err)
			}
			differences := compare("", g, w)
			for _, d := range differences[:min(5, len(differences))] {
				t.Error(d)
			}
			if len(differences) > 0 {
				t.Errorf("%d differences; -update rewrites the file", len(differences))
			}
		})
	}
}

// compare lists where two JSON values differ; numbers may by a part in 10⁵, which is
// ten times the width to which quantiles are found.
func compare(path string, got, want any) (differences []string) {
	differ := []string{fmt.Sprintf("%s: got %v, want %v", path, got, want)}
	switch w := want.(type) {
	case map[string]any:
		g, ok := got.(map[string]any)
		if !ok || len(g) != len(w) {
			return differ
		}
		for _, name := range slices.Sorted(maps.Keys(w)) {
			differences = append(differences, compare(path+"."+name, g[name], w[name])...)
		}
	case []any:
		g, ok := got.([]any)
		if !ok || len(g) != len(w) {
			return differ
		}
		for i := range w {
			differences = append(differences, compare(fmt.Sprintf("%s[%d]", path, i), g[i], w[i])...)
		}
	case float64:
		if g, ok := got.(float64); !ok || math.Abs(g-w) > 1e-5*max(1, math.Abs(w)) {
			return differ
		}
	default:
		if got != want {
			return differ
		}
	}
	return differences
}

func TestBandHoldsMiddle(t *testing.T) {
	eachFigure(t, func(t *testing.T, _ scenario, _ *advise.Advice, _ string, f *Figure) {
		at := map[float64]Range{}
		for _, b := range f.Bands {
			for _, r := range b.Over {
				if r.Low > r.High {
					t.Errorf("band at %g from %g down to %g", r.X, r.Low, r.High)
				}
				at[r.X] = r
			}
		}
		for _, c := range f.Curves {
			if c.Role != Forecast {
				continue
			}
			for _, p := range c.Points {
				if r, ok := at[p.X]; !ok || p.Y < r.Low || p.Y > r.High {
					t.Errorf("middle %g at %g is not in the band %+v", p.Y, p.X, r)
				}
			}
		}
		for _, c := range f.Callouts {
			if !(c.Low <= c.Middle && c.Middle <= c.High) {
				t.Errorf("callout %+v", c)
			}
		}
	})
}

// TestMarks checks that every candidate is marked where its gears put it, and the pick
// and the last run's gearing apart.
func TestMarks(t *testing.T) {
	eachFigure(t, func(t *testing.T, _ scenario, a *advise.Advice, kind string, f *Figure) {
		if kind == "minutes" {
			if len(f.Marks) != 0 {
				t.Errorf("%d marks along minutes", len(f.Marks))
			}
			return
		}
		if len(f.Marks) != len(a.Candidates) {
			t.Fatalf("%d marks for %d candidates", len(f.Marks), len(a.Candidates))
		}
		picked := 0
		for i, m := range f.Marks {
			if m.Pick {
				picked++
			}
			if kind == "chance" {
				continue
			}
			g := a.Candidates[i].Gearing
			want := float64(g.Spur) / float64(g.Pinion) * g.Internal
			if kind == "rollout" {
				want = math.Pi * float64(a.Next.Tire) / want
			}
			if math.Abs(m.X/want-1) > 1e-9 && math.Abs(m.X*25.4/want-1) > 1e-9 {
				t.Errorf("%v is marked at %g, not at %g", g, m.X, want)
			}
			if isPick := g == a.Pick.Gearing; m.Pick != isPick {
				t.Errorf("%v: marked as the pick: %v", g, m.Pick)
			}
			if m.Pick && f.Callouts[0].X != m.X {
				t.Errorf("the pick's callout is at %g, its mark at %g", f.Callouts[0].X, m.X)
			}
		}
		if picked != 1 {
			t.Errorf("%d marks are the pick", picked)
		}
	})
}

// TestSolidIsTested checks that no curve is solid where the log has no run.
func TestSolidIsTested(t *testing.T) {
	solid := 0
	eachFigure(t, func(t *testing.T, s scenario, a *advise.Advice, kind string, f *Figure) {
		low, high := math.Inf(1), math.Inf(-1)
		for _, r := range a.Car.Fit(s.part).Used() {
			rollout := math.Pi * float64(r.Tire) * float64(r.Gearing.Pinion) / (float64(r.Gearing.Spur) * r.Gearing.Internal)
			x := rollout
			switch {
			case kind == "ratio":
				x = math.Pi * float64(a.Next.Tire) / rollout
			case kind == "minutes":
				x = float64(r.Minutes)
			case s.system == units.US:
				x = rollout / 25.4
			}
			low, high = min(low, x), max(high, x)
		}
		for _, c := range f.Curves {
			if c.Dashed || c.Role != Forecast {
				continue
			}
			for _, p := range c.Points {
				solid++
				if p.X < low*(1-1e-9) || p.X > high*(1+1e-9) {
					t.Errorf("solid at %g, tested from %g to %g", p.X, low, high)
				}
			}
		}
	})
	if solid == 0 {
		t.Error("nothing is solid anywhere")
	}
}

// TestCurveJoins checks that the pieces of a curve meet, so that no gap shows.
func TestCurveJoins(t *testing.T) {
	tested := func(i int) bool { return i >= 2 && i <= 4 }
	points := make([]XY, 8)
	for i := range points {
		points[i] = XY{float64(i), float64(i * i)}
	}
	pieces := split("expected", points, tested)
	if len(pieces) != 3 || !pieces[0].Dashed || pieces[1].Dashed || !pieces[2].Dashed {
		t.Fatalf("pieces %+v", pieces)
	}
	var joined []XY
	for i, p := range pieces {
		if i > 0 {
			if p.Points[0] != joined[len(joined)-1] {
				t.Errorf("piece %d begins at %v, after %v", i, p.Points[0], joined[len(joined)-1])
			}
			p.Points = p.Points[1:]
		}
		joined = append(joined, p.Points...)
	}
	if !slices.Equal(joined, points) {
		t.Errorf("joined %v", joined)
	}
}

// TestKnotsAreFine checks that the straight lines between knots stay within the width of
// the drawn curve, on the widest layout.
func TestKnotsAreFine(t *testing.T) {
	const frameHeight = 300 // pixels of the layout, and generous
	for name, s := range scenarios() {
		v, err := newView(s.advice(t), s.part, s.system)
		if err != nil {
			t.Fatal(err)
		}
		f, err := Ratio(v.Advice, s.part, s.system)
		if err != nil {
			t.Fatal(err)
		}
		knots := v.knots()
		for i, k := range knots[1:] {
			between := (ratioFor(knots[i].rollout, v.Next.Tire) + ratioFor(k.rollout, v.Next.Tire)) / 2
			exact := v.Temperature(v.under(v.at(units.Millimeters(math.Pi * float64(v.Next.Tire) / between))).P50)
			drawn := (v.Temperature(knots[i].P50) + v.Temperature(k.P50)) / 2
			if off := (drawn - exact) / (f.Y.High - f.Y.Low) * frameHeight; exact < f.Y.High && math.Abs(off) > float64(Curve{}.style().Width) {
				t.Errorf("%s: %g pixels off at ratio %g", name, off, between)
			}
		}
	}
}

// TestUnmovedRun checks that a run which was driven as the next one will be stands where
// its reading is.
func TestUnmovedRun(t *testing.T) {
	s := scenarios()["weekend"]
	s.air, s.minutes = 0, 0 // as in the last run
	last := weekend[len(weekend)-1]
	a := s.advice(t)
	for _, system := range []units.System{units.Metric, units.US} {
		f, err := Ratio(a, run.Motor, system)
		if err != nil {
			t.Fatal(err)
		}
		want := XY{68.0 / 17 * 2.5, float64(last.motor)}
		if system == units.US {
			want.Y = want.Y*9/5 + 32
		}
		if !slices.ContainsFunc(f.Points[0].At, func(p XY) bool {
			return math.Abs(p.X-want.X) < 1e-9 && math.Abs(p.Y-want.Y) < 1e-6
		}) {
			t.Errorf("no point at %v among %v", want, f.Points[0].At)
		}
	}
}

// TestEveryRunShows checks that no run of a short log is lost, and which kind it is.
func TestEveryRunShows(t *testing.T) {
	for name, want := range map[string]map[Role]int{
		"weekend": {Measured: 5},
		"stops":   {Measured: 5, AtLeast: 2},
		"one-run": {Measured: 1},
		"tires":   {Measured: 7},
	} {
		s := scenarios()[name]
		f, err := Ratio(s.advice(t), s.part, s.system)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range f.Points {
			if len(p.At) != want[p.Role] {
				t.Errorf("%s: %d of %q, want %d", name, len(p.At), p.Name, want[p.Role])
			}
			delete(want, p.Role)
		}
		if len(want) > 0 {
			t.Errorf("%s: missing %v", name, want)
		}
	}
}

// TestOutside checks that what lies outside the frame is said or brought to its edge.
func TestOutside(t *testing.T) {
	f := &Figure{X: Axis{Low: 0, High: 10}, Y: Axis{Low: 50, High: 90}}
	f.addRuns("run", []XY{{5, 60}, {5, 300}, {-4, 60}}, []XY{{5, 20}})
	if len(f.Points) != 2 || f.Points[1].Role != Beyond {
		t.Fatalf("points %+v", f.Points)
	}
	if want := []XY{{5, 90}, {0, 60}, {5, 50}}; !slices.Equal(f.Points[1].At, want) {
		t.Errorf("at the edge %v, want %v", f.Points[1].At, want)
	}
	far, err := Ratio(scenarios()["limit-far"].advice(t), run.Motor, units.Metric)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(far.Subtitle, "400 °C lies above this frame") {
		t.Errorf("subtitle %q", far.Subtitle)
	}
}

func TestChanceBars(t *testing.T) {
	eachFigure(t, func(t *testing.T, _ scenario, a *advise.Advice, kind string, f *Figure) {
		if kind != "chance" {
			return
		}
		if len(f.Bars) != len(a.Candidates) {
			t.Fatalf("%d bars", len(f.Bars))
		}
		for i, b := range f.Bars {
			if b.X != f.Marks[i].X {
				t.Errorf("bar at %g, mark at %g", b.X, f.Marks[i].X)
			}
			if (b.Kind == PickBar) != f.Marks[i].Pick {
				t.Errorf("bar %d: kind %d", i, b.Kind)
			}
			if b.Kind == PickBar && math.Abs(b.Height-100*a.Pick.Chance) > 1e-9 {
				t.Errorf("the pick's bar is %g high, its chance %g", b.Height, a.Pick.Chance)
			}
			// All limits together are never likelier than one of them.
			for _, p := range f.Points {
				if p.At[i].Y < b.Height-1e-3 {
					t.Errorf("%s: %g, all together %g", p.Name, p.At[i].Y, b.Height)
				}
			}
		}
		if single := a.Limits.Len() == 1; single != (len(f.Points) == 0) {
			t.Errorf("%d limits, %d kinds of dots", a.Limits.Len(), len(f.Points))
		}
	})
}

// TestMinutesRise checks that a longer run from cold is never expected to be cooler
// (common practice), and that the curve passes through the next run's forecast.
func TestMinutesRise(t *testing.T) {
	eachFigure(t, func(t *testing.T, _ scenario, a *advise.Advice, kind string, f *Figure) {
		if kind != "minutes" {
			return
		}
		through := false
		for _, c := range f.Curves {
			for i, p := range c.Points {
				if i > 0 && p.Y < c.Points[i-1].Y-1e-3 {
					t.Errorf("%s falls at %g min", c.Name, p.X)
				}
				if c.Role == Forecast && p.X == float64(a.Next.Minutes) && math.Abs(p.Y-f.Callouts[0].Middle) < 1e-3 {
					through = true
				}
			}
		}
		if !through {
			t.Error("the curve misses the next run's forecast")
		}
	})
}

// TestSystems checks that a figure in °F and inches is the one in °C and mm, converted.
func TestSystems(t *testing.T) {
	s := scenarios()["weekend"]
	a := s.advice(t)
	for _, kind := range kinds[:3] {
		m, err := kind.draw(a, s.part, units.Metric)
		if err != nil {
			t.Fatal(err)
		}
		u, err := kind.draw(a, s.part, units.US)
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range m.Curves {
			for j, p := range c.Points {
				q := u.Curves[i].Points[j]
				x := p.X
				if kind.name == "rollout" {
					x /= 25.4
				}
				if math.Abs(q.X-x) > 1e-9 || math.Abs(q.Y-(p.Y*9/5+32)) > 1e-9 {
					t.Errorf("%s: %v in US units is %v", kind.name, p, q)
				}
			}
		}
	}
}

func TestHonestWords(t *testing.T) {
	for name, want := range map[string]string{
		"weekend":     " teeth: expect the motor at",
		"none-safe":   "No pinion reaches 80 %.",
		"candidate":   "15 teeth",
		"all-too-far": "Every pinion here is a step of more than 2 teeth up.",
		"spurs":       "/",
		"us":          "limit 176 °F",
		"one-gearing": "One gearing only was run",
		"one-run":     "One gearing only was run",
		"tires":       "Runs on other tires stand where they had this rollout.",
	} {
		s := scenarios()[name]
		f, err := Ratio(s.advice(t), s.part, s.system)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(f.Title+" "+f.Subtitle, want) {
			t.Errorf("%s: %q is in neither %q nor %q", name, want, f.Title, f.Subtitle)
		}
	}
	for m, want := range map[units.Minutes]units.Minutes{0.99: 0, 17.99: 17, 18: 18} {
		if got := longest(&advise.Candidate{MinutesToLimit: m}); got != want {
			t.Errorf("longest(%g) = %g, want %g", m, got, want)
		}
	}
	for c, want := range map[units.Celsius]string{80: "80 °C, 176 °F", 71: "71 °C, 160 °F", 80.5: "80.5 °C, 177 °F", units.FromFahrenheit(145): "63 °C, 145 °F"} {
		if got := units.Metric.Reading(c) + ", " + units.US.Reading(c); got != want {
			t.Errorf("%g is written %q, want %q", float64(c), got, want)
		}
	}
}

// TestLimitsAreNamed checks that a chance is never said to be of more limits than it is.
func TestLimitsAreNamed(t *testing.T) {
	limit := run.ByPart[advise.Limit]{}.With(run.Motor, advise.Limit{Temperature: 80})
	both := run.ByPart[advise.Limit]{}.With(run.Motor, advise.Limit{Temperature: 80}).With(run.ESC, advise.Limit{Temperature: 71})
	for _, c := range []struct {
		limits   run.ByPart[advise.Limit]
		unjudged []run.Part
		want     string
	}{
		{limit, nil, "the motor's limit"},
		{limit, []run.Part{run.Battery}, "the motor's limit"},
		{both, nil, "every limit"},
		{both, []run.Part{run.Battery}, "every judged limit"},
	} {
		a := scenarios()["weekend"].advice(t)
		a.Limits, a.Unjudged = c.limits, c.unjudged
		f := Chance(a, units.Metric)
		if !strings.Contains(f.Title, c.want) || !strings.Contains(f.Y.Label, c.want) {
			t.Errorf("title %q, axis %q, want %q", f.Title, f.Y.Label, c.want)
		}
		if told := strings.Contains(f.Subtitle, "not judged: battery"); told != (len(c.unjudged) > 0) {
			t.Errorf("subtitle %q", f.Subtitle)
		}
	}
}

func TestErrors(t *testing.T) {
	a := scenarios()["one-run"].advice(t) // measured ESC and battery too
	for _, kind := range kinds[:3] {
		if _, err := kind.draw(scenarios()["stops"].advice(t), run.ESC, units.Metric); err != nil {
			t.Errorf("%s of a part that some runs measured: %v", kind.name, err)
		}
	}
	unmeasured := scenario{runs: []drive{{day: 1, pinion: 15, air: 20, minutes: 9, motor: 60}}, limits: run.ByPart[units.Celsius]{}.With(run.Motor, 80), pinions: span(14, 16)}
	for _, kind := range kinds[:3] {
		if _, err := kind.draw(unmeasured.advice(t), run.Battery, units.Metric); !errors.Is(err, ErrNotMeasured) {
			t.Errorf("%s of a part that no run measured: %v", kind.name, err)
		}
	}
	f, err := Ratio(a, run.Motor, units.Metric)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	for _, size := range []Size{{}, {100, 100}, {1200, 90000}, {-5, 700}} {
		if err := f.Write(&out, PNG, size); err == nil || out.Len() > 0 {
			t.Errorf("%v: error %v, %d bytes", size, err, out.Len())
		}
	}
	for _, spoil := range []func(*Figure){
		func(f *Figure) { f.Curves[0].Points[0].Y = math.NaN() },
		func(f *Figure) { f.Bands[0].Over[0].High = math.Inf(1) },
		func(f *Figure) { f.Points[0].At[0].X = math.Inf(-1) },
		func(f *Figure) { f.Levels[0].At = math.NaN() },
		func(f *Figure) { f.Marks[0].X = math.NaN() },
		func(f *Figure) { f.Callouts[0].Low = math.NaN() },
		func(f *Figure) { f.Y.High = f.Y.Low },
	} {
		spoilt, err := Ratio(a, run.Motor, units.Metric)
		if err != nil {
			t.Fatal(err)
		}
		spoil(spoilt)
		if err := spoilt.Write(&out, SVG, DefaultSize); !errors.Is(err, ErrNotFinite) || out.Len() > 0 {
			t.Errorf("a spoilt figure: %v, %d bytes", err, out.Len())
		}
	}
}

func TestFormatOf(t *testing.T) {
	for path, want := range map[string]*Format{"a.png": PNG, "b/C.SVG": SVG, "x.y.pdf": PDF} {
		if got, err := FormatOf(path); got != want || err != nil {
			t.Errorf("FormatOf(%q) = %v, %v", path, got, err)
		}
	}
	for _, path := range []string{"", "png", "a.jpg", "a.bmp", "a.", "svg/a"} {
		if _, err := FormatOf(path); !errors.Is(err, ErrFormat) {
			t.Errorf("FormatOf(%q): %v", path, err)
		}
	}
}

// BenchmarkFigure measures what `advise --plot` adds on a log of 30 runs, and beside it the
// advice itself: the numbers, and each picture.
func BenchmarkFigure(b *testing.B) {
	s := scenario{many: 30, limits: run.ByPart[units.Celsius]{}.With(run.Motor, 80).With(run.Battery, 60), pinions: span(13, 21), air: 30, minutes: 12}
	a := s.advice(b)
	f, err := Ratio(a, run.Motor, units.Metric)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("fit and advice", func(b *testing.B) {
		for b.Loop() {
			s.advice(b)
		}
	})
	b.Run("numbers", func(b *testing.B) {
		for b.Loop() {
			if _, err := Ratio(a, run.Motor, units.Metric); err != nil {
				b.Fatal(err)
			}
		}
	})
	for _, format := range []*Format{PNG, SVG, PDF} {
		b.Run(format.ending, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := f.Write(io.Discard, format, DefaultSize); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
