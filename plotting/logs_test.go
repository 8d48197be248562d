package plotting

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/plot/vg"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
)

// The logs below are invented: a car "heron" with a 68-tooth spur, an internal ratio of
// 2.5 and 118 mm tires, whose heat grows with rollout about as common practice says.

// drive is one invented run.
type drive struct {
	day              int // of May 2026
	pinion, spur     int // spur 0: 68
	tire             units.Millimeters
	air              units.Celsius
	minutes          units.Minutes
	motor, esc, cell units.Celsius // 0: not measured
	stopped          bool
}

func (r drive) log(line int) run.Run {
	if r.spur == 0 {
		r.spur = 68
	}
	if r.tire == 0 {
		r.tire = 118
	}
	out := run.Run{
		Position: run.Position{File: "invented.csv", Line: line},
		When:     time.Date(2026, time.May, r.day, 10, 0, 0, 0, time.UTC),
		Car:      "heron",
		Tire:     r.tire, Ambient: r.air, Minutes: r.minutes, StoppedByHeat: r.stopped,
	}
	out.Gearing.Pinion, out.Gearing.Spur, out.Gearing.Internal = r.pinion, r.spur, 2.5
	for part, peak := range (run.ByPart[units.Celsius]{}.With(run.Motor, r.motor).With(run.ESC, r.esc).With(run.Battery, r.cell)).All() {
		if peak != 0 {
			out.Peak.Set(part, peak)
		}
	}
	return out
}

// scenario is a log with the question that is put to it.
type scenario struct {
	runs    []drive
	many    int // or as many runs, made by rule
	limits  run.ByPart[units.Celsius]
	pinions []int
	spurs   []int
	air     units.Celsius // 0: as the last run
	minutes units.Minutes
	tire    units.Millimeters
	stepUp  int
	part    run.Part
	system  units.System
	car     string
}

// log returns the scenario's runs.
func (s scenario) log() []run.Run {
	var runs []run.Run
	for i, r := range s.runs {
		runs = append(runs, r.log(i+2))
	}
	for i := range s.many {
		runs = append(runs, ruled(i).log(i+2))
	}
	for i := range runs {
		if s.car != "" {
			runs[i].Car = s.car
		}
	}
	return runs
}

// advice answers the scenario's question.
func (s scenario) advice(t testing.TB) *advise.Advice {
	t.Helper()
	car, err := analyze.FitCar(s.log())
	if err != nil {
		t.Fatal(err)
	}
	next := analyze.ConditionsOf(car.Last)
	if s.air != 0 {
		next.Ambient = s.air
	}
	if s.minutes != 0 {
		next.Minutes = s.minutes
	}
	if s.tire != 0 {
		next.Tire = s.tire
	}
	req := advise.Request{Confidence: advise.DefaultConfidence, Next: next, MaxStepUp: s.stepUp}
	for part, limit := range s.limits.All() {
		req.Limits.Set(part, advise.Limit{Temperature: limit})
	}
	spurs := s.spurs
	if spurs == nil {
		spurs = []int{car.Last.Gearing.Spur}
	}
	req.Gearings = advise.Pinions(car.Last.Gearing, s.pinions, spurs)
	a, err := advise.For(car, req)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// ruled is the i-th run of a long log: heat by a plain power law with a deterministic
// scatter of a few per cent.
func ruled(i int) drive {
	pinion := 13 + i%6
	air := units.Celsius(18 + i%13)
	minutes := units.Minutes(6 + i%9)
	scatter := 0.08 * math.Sin(float64(i)*12.9898)
	rise := 48 * math.Pow(float64(pinion)/16, 1.6) * -math.Expm1(-float64(minutes)/6) * math.Exp(scatter)
	return drive{
		day: 1 + i%28, pinion: pinion, air: air, minutes: minutes,
		motor: air + units.Celsius(rise), cell: air + units.Celsius(0.45*rise), stopped: i%40 == 7,
	}
}

func span(from, to int) []int {
	var all []int
	for n := from; n <= to; n++ {
		all = append(all, n)
	}
	return all
}

var weekend = []drive{
	{day: 2, pinion: 17, air: 22, minutes: 9, motor: 74, esc: 55, cell: 44},
	{day: 2, pinion: 17, air: 24, minutes: 12, motor: 81, esc: 60, cell: 48},
	{day: 3, pinion: 16, air: 25, minutes: 11, motor: 73, esc: 55, cell: 46},
	{day: 3, pinion: 16, air: 27, minutes: 12, motor: 77, esc: 58, cell: 49},
	{day: 3, pinion: 17, air: 28, minutes: 8, motor: 79, esc: 60, cell: 49},
}

func scenarios() map[string]scenario {
	motor80 := run.ByPart[units.Celsius]{}.With(run.Motor, 80)
	all := run.ByPart[units.Celsius]{}.With(run.Motor, 80).With(run.ESC, 71).With(run.Battery, 60)
	return map[string]scenario{
		"weekend":     {runs: weekend, limits: all, pinions: span(13, 21), air: 30, minutes: 12, stepUp: 2},
		"us":          {runs: weekend, limits: all, pinions: span(13, 18), air: 30, minutes: 12, system: units.US},
		"one-run":     {runs: weekend[:1], limits: motor80, pinions: span(13, 18)},
		"one-gearing": {runs: []drive{weekend[0], weekend[1], weekend[4]}, limits: motor80, pinions: span(13, 18), air: 30, minutes: 12},
		"candidate":   {runs: weekend, limits: motor80, pinions: []int{15}, air: 30, minutes: 12},
		"none-safe":   {runs: weekend, limits: run.ByPart[units.Celsius]{}.With(run.Motor, 52).With(run.Battery, 45), pinions: span(13, 18), air: 30, minutes: 12},
		"limit-far":   {runs: weekend, limits: run.ByPart[units.Celsius]{}.With(run.Motor, 400), pinions: span(13, 18), stepUp: 2},
		"all-too-far": {runs: weekend, limits: motor80, pinions: span(22, 27), stepUp: 2},
		"spurs":       {runs: weekend, limits: all, pinions: span(14, 18), spurs: []int{64, 68, 72}, air: 30, minutes: 12},
		"tires": {runs: append([]drive{
			{day: 1, pinion: 18, tire: 104, air: 20, minutes: 10, motor: 66, cell: 41},
			{day: 1, pinion: 19, tire: 104, air: 21, minutes: 10, motor: 71, cell: 42},
		}, weekend...), limits: motor80, pinions: span(13, 18), air: 30, minutes: 12},
		"stops": {runs: append([]drive{
			{day: 1, pinion: 19, air: 24, minutes: 6, motor: 88, stopped: true},
			{day: 1, pinion: 18, air: 23, minutes: 9, motor: 90, stopped: true},
		}, weekend...), limits: motor80, pinions: span(13, 19), air: 30, minutes: 12},
		"wild": {runs: append([]drive{
			{day: 1, pinion: 16, air: 24, minutes: 12, motor: 190},
		}, weekend...), limits: motor80, pinions: span(13, 18)},
		"many":    {many: 400, limits: motor80, pinions: span(12, 20), air: 30, minutes: 12},
		"long":    {many: 3000, limits: motor80, pinions: span(12, 20), air: 30, minutes: 12},
		"battery": {runs: weekend, limits: all, pinions: span(13, 21), air: 30, minutes: 12, part: run.Battery},
		"wide":    {runs: weekend, limits: motor80, pinions: span(8, 48), air: 30, minutes: 12},
		"short":   {runs: weekend, limits: motor80, pinions: span(15, 18), minutes: 0.5},
		"name":    {runs: weekend, limits: motor80, pinions: span(15, 18), car: "<script>alert(1)</script>&\x00\u2028 鷺 🏁 a name that goes on and on"},
	}
}

func TestTicks(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		low := (r.Float64() - 0.3) * math.Pow(10, float64(r.IntN(6)-2))
		high := low + math.Pow(10, 5*r.Float64()-2)
		most := 2 + r.IntN(9)
		all := ticks{most, "mm"}.Ticks(low, high)
		if len(all) > most+1 || len(all) < 1 && high-low > 0 && most > 4 {
			t.Errorf("%d ticks from %g to %g, wanted at most %d steps", len(all), low, high, most)
		}
		for _, tick := range all {
			if tick.Value < low-1e-6*(high-low) || tick.Value > high+1e-6*(high-low) {
				t.Errorf("tick %g outside %g to %g", tick.Value, low, high)
			}
			number := strings.TrimSuffix(tick.Label, " mm")
			v, err := strconv.ParseFloat(number, 64)
			if err != nil || math.Abs(v-tick.Value) > 1e-9*math.Max(1, math.Abs(v)) {
				t.Errorf("tick %g is labelled %q", tick.Value, tick.Label)
			}
			if v == 0 && strings.HasPrefix(number, "-") {
				t.Errorf("zero is labelled %q", tick.Label)
			}
		}
	}
	// Round numbers, with no more decimals than the step has.
	for _, c := range []struct {
		low, high float64
		most      int
		want      string
	}{
		{58, 103, 5, "60 70 80 90 100"},
		{8, 13.2, 6, "8 9 10 11 12 13"},
		{9.4, 11, 8, "9.4 9.6 9.8 10.0 10.2 10.4 10.6 10.8 11.0"},
		{0, 1, 5, "0.0 0.2 0.4 0.6 0.8 1.0"},
		{-12, 12, 4, "-10 0 10"},
		{1200, 5200, 4, "2000 3000 4000 5000"},
	} {
		var got []string
		for _, tick := range (ticks{most: c.most}).Ticks(c.low, c.high) {
			got = append(got, tick.Label)
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("from %g to %g: %s, want %s", c.low, c.high, s, c.want)
		}
	}
}

func TestThin(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	x, y := Axis{Low: 5, High: 15}, Axis{Low: 40, High: 120}
	all := make([]XY, 300_000)
	for i := range all {
		all[i] = XY{5 + 10*r.Float64(), 80 + 8*r.NormFloat64()}
	}
	// Far above, and the higher one behind another that takes its cell.
	all[1234], all[4321] = XY{9.5, 119}, XY{9.5, 119.2}
	for _, most := range []int{mostPlain, mostStopped, mostBeyond} {
		some := thin(all, x, y, most)
		if len(some) > most || len(some) < most/5 {
			t.Errorf("%d points of at most %d", len(some), most)
		}
		if !slices.Equal(some, thin(all, x, y, most)) {
			t.Error("the same points give another choice")
		}
		if !slices.Contains(some, all[4321]) {
			t.Error("the extreme is gone")
		}
		lowest := func(p []XY) float64 {
			return slices.MinFunc(p, func(a, b XY) int { return int(math.Copysign(1, a.Y-b.Y)) }).Y
		}
		if lowest(some) != lowest(all) {
			t.Errorf("lowest %g, of all %g", lowest(some), lowest(all))
		}
		// A subset in the same order.
		k := 0
		for _, p := range all {
			if k < len(some) && some[k] == p {
				k++
			}
		}
		if k != len(some) {
			t.Errorf("only the first %d are of the points, in their order", k)
		}
	}
	few := all[:50]
	if !slices.Equal(thin(few, x, y, mostPlain), few) {
		t.Error("a short log lost points")
	}
}

func TestWrap(t *testing.T) {
	l := lettering{size: 13}
	s := "heron, next run: 12 min, air 30 °C, tires 118 mm. Chance under every limit: 91 %, wanted 80 %. aVeryLongNameThatNoLineCanHoldAtAllButThatMustNotBeCut"
	for width := vg.Length(60); width < 700; width += 10 {
		for name, lines := range map[string][]string{"wrap": l.wrap(s, width), "balance": l.balance(s, width)} {
			if got := strings.Join(lines, " "); got != s {
				t.Fatalf("%s at %g: %q", name, float64(width), got)
			}
			for _, line := range lines {
				if l.width(line) > width && len(words(line)) > 1 {
					t.Errorf("%s at %g: %q is too long", name, float64(width), line)
				}
				if strings.HasPrefix(line, "°") || strings.HasPrefix(line, "%") || strings.HasPrefix(line, "mm") {
					t.Errorf("%s at %g: a number lost its unit to %q", name, float64(width), line)
				}
			}
		}
		if a, b := len(l.wrap(s, width)), len(l.balance(s, width)); a != b {
			t.Errorf("at %g: %d lines, balanced %d", float64(width), a, b)
		}
	}
	if lines := l.wrap("", 100); len(lines) != 0 {
		t.Errorf("an empty text has lines %q", lines)
	}
}

func TestPlacer(t *testing.T) {
	at := func(x, y vg.Length) vg.Point { return vg.Point{X: x, Y: y} }
	p := placer{frame: vg.Rectangle{Max: at(100, 100)}}
	p.take(vg.Rectangle{Min: at(0, 0), Max: at(50, 100)}, areaWeight)
	size := at(20, 10)
	corners := []vg.Point{at(10, 10), at(95, 20), at(60, 60)}
	if r := p.place(size, corners); r.Min != at(80, 20) {
		t.Errorf("placed at %v, not moved into the free part of the frame", r.Min)
	}
	if r := p.place(size, corners); r.Min != at(60, 60) {
		t.Errorf("placed at %v, over the label before", r.Min)
	}
	if r := p.place(size, corners[:1]); r.Min != at(10, 10) {
		t.Errorf("placed at %v though there is one place only", r.Min)
	}
}
