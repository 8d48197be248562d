package advise

import (
	"bytes"
	"os"
	"testing"

	"regear/analyze"
	"regear/analyze/runlog"
)

// BenchmarkFor answers for nine pinions from the demo's season, whose fit is not counted.
func BenchmarkFor(b *testing.B) {
	season, err := os.ReadFile("../testdata/demo/season.csv")
	if err != nil {
		b.Fatal(err)
	}
	log, err := runlog.Read("season.csv", bytes.NewReader(season), runlog.Options{})
	if err != nil {
		b.Fatal(err)
	}
	car, err := analyze.FitCar(log.Runs)
	if err != nil {
		b.Fatal(err)
	}
	last := analyze.ConditionsOf(car.Last)
	req := Request{Limits: DefaultLimits(), Confidence: DefaultConfidence, MaxStepUp: DefaultMaxStepUp, Next: last,
		Gearings: Pinions(last.Gearing, teethFrom(last.Gearing.Pinion-4, last.Gearing.Pinion+4), []int{last.Gearing.Spur})}
	for b.Loop() {
		if _, err := For(car, req); err != nil {
			b.Fatal(err)
		}
	}
}
