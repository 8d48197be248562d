package runlog

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"
	"time"
)

// inventedLog returns the text of a log of n invented runs in 14 columns.
func inventedLog(n int) []byte {
	var b bytes.Buffer
	rng := rand.New(rand.NewPCG(1, 2))
	b.WriteString("date,car,pinion_teeth,spur_teeth,internal_ratio,tire_diameter_mm,ambient_c,run_minutes," +
		"motor_peak_c,esc_peak_c,battery_peak_c,motor,surface,note\n")
	start := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	surfaces := []string{"grass", "clay", "carpet"}
	for i := range n {
		fmt.Fprintf(&b, "%s,heron,%d,68,2.5,%.1f,%.1f,%.2f,%.1f,%.1f,%.1f,17.5T,%s,pack %d\n",
			start.Add(time.Duration(i)*20*time.Minute).Format("2006-01-02T15:04"),
			13+rng.IntN(6), 117+rng.Float64()*2, 15+rng.Float64()*15, 5+rng.Float64()*10,
			60+rng.Float64()*20, 50+rng.Float64()*20, 40+rng.Float64()*10, surfaces[rng.IntN(3)], 1+i%4)
	}
	return b.Bytes()
}

func BenchmarkRead(b *testing.B) { benchmarkRead(b, Options{}) }

// BenchmarkReadForgiving reads the same as what may be a driver's own spreadsheet.
func BenchmarkReadForgiving(b *testing.B) { benchmarkRead(b, Options{Forgiving: true}) }

func benchmarkRead(b *testing.B, opts Options) {
	text := inventedLog(10_000)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read("bench.csv", bytes.NewReader(text), opts); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkReadRatio reads 100 000 runs, a club's ten years, and reports how often
// encoding/csv alone could have cut the same text into cells meanwhile ("x-csv"), and the
// live heap that a run takes ("bytes/run"). Times are the shortest of all rounds.
func BenchmarkReadRatio(b *testing.B) {
	const runs = 100_000
	text := inventedLog(runs)
	ours, alone := time.Duration(math.MaxInt64), time.Duration(math.MaxInt64)
	var perRun float64
	for b.Loop() {
		began := time.Now()
		cutAlone(b, text)
		alone = min(alone, time.Since(began))
		before := liveHeap()
		began = time.Now()
		log, err := Read("bench.csv", bytes.NewReader(text), Options{})
		if err != nil || len(log.Runs) != runs {
			b.Fatal(err)
		}
		ours = min(ours, time.Since(began))
		perRun = float64(liveHeap()-before) / runs
		runtime.KeepAlive(log)
	}
	b.ReportMetric(float64(ours)/float64(alone), "x-csv")
	b.ReportMetric(perRun, "bytes/run")
}

func cutAlone(b *testing.B, text []byte) {
	r := csv.NewReader(bytes.NewReader(text))
	r.ReuseRecord = true
	for {
		if _, err := r.Read(); err == io.EOF {
			return
		} else if err != nil {
			b.Fatal(err)
		}
	}
}

// liveHeap returns the heap in use after a collection.
func liveHeap() uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}
