package plotting

import (
	"math"
	"testing"
	"time"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
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
		Gearing:  drivetrain.Gearing{Pinion: r.pinion, Spur: r.spur, Internal: 2.5},
		Tire:     r.tire, Ambient: r.air, Minutes: r.minutes, StoppedByHeat: r.stopped,
	}
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
