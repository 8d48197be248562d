package analyze

import (
	"testing"

	"regear/analyze/run"
	"regear/analyze/units"
)

// A forecast answers for every length as one made for that length does, to the last bit,
// warm starts and all.
func TestForecastServesEveryLength(t *testing.T) {
	car := fitted(t, season(20, 3))
	next := ConditionsOf(car.Last)
	limits := Limits{}.With(run.Motor, 80).With(run.ESC, 75).With(run.Battery, 60)
	for _, start := range []units.Celsius{0, 45} {
		if start > 0 {
			next.Start.Set(run.Motor, start)
		}
		forecast := car.Forecast(next)
		for _, minutes := range []units.Minutes{0.1, 3, 12, next.Minutes, 60, 1000} {
			alone := next
			alone.Minutes = minutes
			lasting := forecast.Lasting(minutes)
			if got, want := lasting.Under(limits), car.Under(alone, limits); got.All != want.All || got.Part.Len() != want.Part.Len() {
				t.Errorf("%g minutes from %g °C: chance %v, alone %v", minutes, start, got, want)
			}
			for _, fit := range car.Fits() {
				if got, want := lasting.Part(fit.Part).Quantile(0.9), fit.Predict(alone).Quantile(0.9); got != want {
					t.Errorf("%g minutes from %g °C: %s at most %g °C, alone %g", minutes, start, fit.Part, got, want)
				}
			}
			if got, want := forecast.Under(limits).All, car.Under(next, limits).All; got != want {
				t.Fatalf("looking at %g minutes changed the forecast itself", minutes)
			}
		}
	}
}

// Cars that differ by letter case or blanks are one, by the first spelling.
func TestCarsBySpelling(t *testing.T) {
	runs := season(4, 1)
	for i, name := range []string{"Heron", "heron ", "gull", "HERON"} {
		runs[i].Car = name
	}
	names, byCar := Cars(runs)
	if len(names) != 2 || len(byCar["Heron"]) != 3 || len(byCar["gull"]) != 1 {
		t.Fatalf("%v: %d and %d runs", names, len(byCar["Heron"]), len(byCar["gull"]))
	}
	for _, r := range byCar["Heron"] {
		if r.Car != "Heron" {
			t.Errorf("a run of %q among those of Heron", r.Car)
		}
	}
	if runs[1].Car != "heron " {
		t.Error("the log itself was changed")
	}
	if got, ok := CarNamed(" hERON", names); !ok || got != "Heron" {
		t.Errorf("hERON is %q, %v", got, ok)
	}
}
