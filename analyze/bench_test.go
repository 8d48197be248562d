package analyze

import (
	"math"
	"runtime/debug"
	"testing"
	"time"

	"regear/analyze/run"
)

// BenchmarkFitTenfold reports how much longer a fit of ten times the runs takes
// ("x-tenth"), which the project holds to eleven times, and what a run costs of a
// million. No two runs are equally long and a third start warm, which is the dearest kind
// of log. Times are the shortest of all rounds, as others may use the machine.
func BenchmarkFitTenfold(b *testing.B) {
	const runs = 1_000_000
	log, tenth := season(runs, 1), season(runs/10, 1)
	fit := func(runs []run.Run) time.Duration {
		debug.FreeOSMemory() // each fit is a program of its own, which finds no memory ready
		start := time.Now()
		if _, err := FitCar(runs); err != nil {
			b.Fatal(err)
		}
		return time.Since(start)
	}
	whole, ofTenth := time.Duration(math.MaxInt64), time.Duration(math.MaxInt64)
	for b.Loop() {
		whole = min(whole, fit(log))
		for range 3 {
			ofTenth = min(ofTenth, fit(tenth))
		}
	}
	b.ReportMetric(float64(whole)/float64(ofTenth), "x-tenth")
	b.ReportMetric(float64(whole.Nanoseconds())/runs, "ns/run")
}
