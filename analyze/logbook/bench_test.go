package logbook

import (
	"bytes"
	"path/filepath"
	"runtime/debug"
	"testing"
	"time"

	"regear/analyze/run"
	"regear/analyze/runlog"
)

// logOf returns a log text of n runs, each at a moment of its own, or all of one day and
// alike.
func logOf(b *testing.B, n int, alike bool) []byte {
	b.Helper()
	runs := make([]run.Run, n)
	for i := range runs {
		runs[i] = *aRun(0).Run
		if alike {
			runs[i].HasTime, runs[i].When = false, runs[i].When.Truncate(24*time.Hour)
			continue
		}
		runs[i].When = runs[i].When.Add(time.Duration(i) * time.Minute)
	}
	var text bytes.Buffer
	if err := runlog.Write(&text, runs); err != nil {
		b.Fatal(err)
	}
	return text.Bytes()
}

// importing imports a log into a new book, and then once more.
func importing(b *testing.B, text []byte) (first, again time.Duration) {
	b.Helper()
	book := Book{Path: filepath.Join(b.TempDir(), "book.csv")}
	once := func() time.Duration {
		debug.FreeOSMemory() // each import is a program of its own, which finds no memory ready
		start := time.Now()
		logs, err := ReadLogs("log.csv", bytes.NewReader(text), runlog.Options{KeepCells: true}, nil)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := book.Add([]Contents{FromLog(logs[0])}, Undecided); err != nil {
			b.Fatal(err)
		}
		return time.Since(start)
	}
	return once(), once()
}

// BenchmarkImportTenfold reports how much longer ten times the runs take, which the
// project holds to eleven times: for runs that their moments tell apart, and for runs of
// one day that nothing does.
func BenchmarkImportTenfold(b *testing.B) {
	b.Run("moments", func(b *testing.B) { importTenfold(b, false) })
	b.Run("alike", func(b *testing.B) { importTenfold(b, true) })
}

func importTenfold(b *testing.B, alike bool) {
	const few = 100_000
	small, large := logOf(b, few, alike), logOf(b, 10*few, alike)
	var fewFirst, fewAgain, manyFirst, manyAgain time.Duration
	for b.Loop() {
		for range 3 {
			first, again := importing(b, small)
			fewFirst, fewAgain = fewFirst+first/3, fewAgain+again/3
		}
		first, again := importing(b, large)
		manyFirst, manyAgain = manyFirst+first, manyAgain+again
	}
	b.ReportMetric(float64(manyFirst)/float64(fewFirst), "times/new")
	b.ReportMetric(float64(manyAgain)/float64(fewAgain), "times/known")
	b.ReportMetric(float64(manyFirst.Nanoseconds())/float64(10*few)/float64(b.N), "ns/run")
}
