package analyze

import (
	"os"
	"reflect"
	"regexp"
	"slices"
	"testing"

	"regear/analyze/run"
	"regear/analyze/units"
)

// codesOf returns the codes that a log's car shows.
func codesOf(t *testing.T, runs []run.Run) []Code {
	t.Helper()
	var codes []Code
	for _, w := range fitted(t, runs).Warnings() {
		codes = append(codes, w.Code())
	}
	return slices.Compact(codes)
}

// TestKindsHoldsEveryWarning: a kind that is not among them has no order, and no test asks
// whether it is worded.
func TestKindsHoldsEveryWarning(t *testing.T) {
	source, err := os.ReadFile("warning.go")
	if err != nil {
		t.Fatal(err)
	}
	var want, got []string
	for _, of := range regexp.MustCompile(`\((?:\w+ )?(\w+)\) Code\(\)`).FindAllSubmatch(source, -1) {
		want = append(want, string(of[1]))
	}
	codes := map[Code]bool{}
	for _, w := range Kinds {
		got = append(got, reflect.TypeOf(w).Name())
		codes[w.Code()] = true
	}
	if !slices.Equal(got, want) || len(codes) != len(want) {
		t.Errorf("%d codes of %v, want one of each of %v", len(codes), got, want)
	}
}

// sound is a log without any trouble: several gearings on one tire and surface.
func sound() []run.Run {
	runs := season(16, 3)
	for i := range runs {
		runs[i].Line = i + 2
	}
	return runs
}

// TestCleanLogShowsNoWarning: a warning that shows on clean logs is soon overlooked.
func TestCleanLogShowsNoWarning(t *testing.T) {
	clean := 0
	for seed := range uint64(40) {
		codes := codesOf(t, season(16, seed))
		if len(codes) == 0 {
			clean++
		} else {
			t.Logf("seed %d: %v", seed, codes)
		}
	}
	// The thresholds let one clean log in twenty show an odd run, for each of three parts.
	if clean < 34 {
		t.Errorf("%d of 40 clean logs show no warning", clean)
	}
}

// TestTroubledLogsShowTheirTrouble makes one trouble at a time.
func TestTroubledLogsShowTheirTrouble(t *testing.T) {
	raise := func(r *run.Run, part run.Part, factor float64) {
		peak, _ := r.Peak.Of(part)
		r.Peak.Set(part, r.Ambient.Plus(units.Rise(factor*float64(peak.Above(r.Ambient)))))
	}
	for _, c := range []struct {
		want   Warning
		reason string
		make   func(runs []run.Run) []run.Run
	}{
		{OneRunOnly{}, "one run", func(runs []run.Run) []run.Run { return runs[:1] }},
		{OneGearingOnly{}, "one pinion throughout", func(runs []run.Run) []run.Run {
			for i := range runs {
				runs[i].Gearing.Pinion = 15
			}
			return runs
		}},
		{OddRun{}, "a reading 60 % above", func(runs []run.Run) []run.Run {
			raise(&runs[7], run.Motor, 1.6)
			return runs
		}},
		{InfluentialRun{}, "one run apart from all others", func(runs []run.Run) []run.Run {
			for i := range runs {
				runs[i].Gearing.Pinion = 15
			}
			runs[5].Gearing.Pinion = 18
			return runs
		}},
		{RunsHotter{}, "a rise that grows by half", func(runs []run.Run) []run.Run {
			for i := range runs {
				raise(&runs[i], run.Motor, 1+0.5*float64(i)/float64(len(runs)))
			}
			return runs
		}},
		{SeveralChanges{}, "a tire with every pinion", func(runs []run.Run) []run.Run {
			for i := range runs {
				runs[i].Surface = "clay"
				runs[i].Start = run.Readings{}
				runs[i].Tire = units.Millimeters(100 + runs[i].Gearing.Pinion)
			}
			return runs
		}},
		{NearAmbient{}, "a motor at the air's temperature after a run", func(runs []run.Run) []run.Run {
			runs[4].Start = run.Readings{}
			runs[4].Peak.Set(run.Motor, runs[4].Ambient+3)
			return runs
		}},
		{UnitsLookSwapped{}, "°F read as °C", func(runs []run.Run) []run.Run {
			for i := range runs {
				peak, _ := runs[i].Peak.Of(run.Motor)
				runs[i].Peak.Set(run.Motor, units.Celsius(peak.Fahrenheit()))
			}
			return runs
		}},
		{HeatStops{}, "a run cut short", func(runs []run.Run) []run.Run {
			runs[3] = stopped(runs[3])
			return runs
		}},
		{OtherMotorRuns{}, "an earlier motor", func(runs []run.Run) []run.Run {
			runs[0].Motor = "the old one"
			return runs
		}},
	} {
		if got := codesOf(t, c.make(sound())); !slices.Contains(got, c.want.Code()) {
			t.Errorf("%s: %v, want %s among them", c.reason, got, c.want.Code())
		}
	}
}

// TestOddRunIsNamedByItsLine: a driver goes to the row.
func TestOddRunIsNamedByItsLine(t *testing.T) {
	runs := sound()
	peak, _ := runs[7].Peak.Of(run.ESC)
	runs[7].Peak.Set(run.ESC, peak+30)
	for _, w := range fitted(t, runs).Warnings() {
		w, odd := w.(OddRun)
		if !odd || w.Part != run.ESC {
			continue
		}
		if w.Run.Line != runs[7].Line || w.Peak != peak+30 || !(w.Expected < w.Peak-15) {
			t.Errorf("%+v, want line %d at %.1f °C", w, runs[7].Line, float64(peak+30))
		}
		return
	}
	t.Error("no odd run of the ESC")
}

// TestNextRunWarnings: what a forecast asks of the log beyond what it holds.
func TestNextRunWarnings(t *testing.T) {
	runs := sound()
	car := fitted(t, runs)
	longest, coolest, warmest := runs[0].Minutes, runs[0].Ambient, runs[0].Ambient
	for _, r := range runs {
		longest, coolest, warmest = max(longest, r.Minutes), min(coolest, r.Ambient), max(warmest, r.Ambient)
	}
	for _, c := range []struct {
		want   []Code
		change func(*Conditions)
	}{
		{nil, func(*Conditions) {}},
		{nil, func(c *Conditions) { c.Tire *= 1.0099 }},
		{[]Code{"tire_untested"}, func(c *Conditions) { c.Tire *= 1.0101 }},
		{[]Code{"tire_untested"}, func(c *Conditions) { c.Tire *= 0.9899 }},
		{nil, func(c *Conditions) { c.Minutes = 1.499 * longest }},
		{[]Code{"minutes_untested"}, func(c *Conditions) { c.Minutes = 1.501 * longest }},
		{nil, func(c *Conditions) { c.Ambient = warmest + 7.9 }},
		{[]Code{"air_untested"}, func(c *Conditions) { c.Ambient = warmest + 8.1 }},
		{nil, func(c *Conditions) { c.Ambient = coolest - 7.9 }},
		{[]Code{"air_untested"}, func(c *Conditions) { c.Ambient = coolest - 8.1 }},
		{[]Code{"cells_untested"}, func(c *Conditions) { c.Cells = 3 }},
		{nil, func(c *Conditions) { c.Surface = " CLAY" }},
		{[]Code{"unknown_label"}, func(c *Conditions) { c.Surface = "carpet" }},
		{[]Code{"unknown_label"}, func(c *Conditions) { c.Cooling = "fan" }},
	} {
		next := ConditionsOf(car.Last)
		c.change(&next)
		var got []Code
		for _, w := range car.NextRunWarnings(next) {
			got = append(got, w.Code())
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%+v: %v, want %v", next, got, c.want)
		}
	}
}

// TestFourRunsShowNoOddOne: of so few, none is called odd, however far it lies from the others.
func TestFourRunsShowNoOddOne(t *testing.T) {
	var runs []run.Run
	for day, peak := range []units.Celsius{60, 60.5, 59.5, 90, 60, 61} {
		runs = append(runs, ran(driven(15, 9, 22), aDay(1+day), peak))
	}
	for n, odd := range map[int]bool{4: false, 5: true, 6: true} {
		if got := codesOf(t, runs[:n]); slices.Contains(got, "odd_run") != odd {
			t.Errorf("%d runs: %v, odd %t", n, got, odd)
		}
	}
}
