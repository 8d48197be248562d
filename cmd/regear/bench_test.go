package main

import (
	"bufio"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"strings"
	"testing"
	"time"

	"regear/analyze"
	"regear/analyze/runlog"
)

// BenchmarkAdvise is the whole program on a log of 30 runs, with and without a plot.
func BenchmarkAdvise(b *testing.B) {
	log := filepath.Join("..", "..", "testdata", "demo", "season.csv")
	for name, args := range map[string][]string{
		"text":     {"advise", "--log", log},
		"with SVG": {"advise", "--log", log, "--plot", filepath.Join(b.TempDir(), "a.svg")},
		"with PNG": {"advise", "--log", log, "--plot", filepath.Join(b.TempDir(), "a.png")},
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if exit := run(args, strings.NewReader(""), io.Discard, io.Discard); exit != exitAnswered {
					b.Fatalf("exit %d", exit)
				}
			}
		})
	}
}

// BenchmarkAdviseRatio is the whole program on a log of 100 000 runs, a club's ten years. It reports how
// often encoding/csv alone could have cut the same file into cells meanwhile ("x-csv"),
// how often the program could have answered from a log of a tenth ("x-tenth"), the most
// memory that was held ("peak-MB"), and the live heap that the runs and their fits take
// ("bytes/run"). Times are the shortest of all rounds, as others may use the machine.
func BenchmarkAdviseRatio(b *testing.B) {
	const runs = 100_000
	log, tenth := inventedLog(b, runs), inventedLog(b, runs/10)
	advise := func(log string) {
		args := []string{"advise", "--log", log}
		if exit := run(args, strings.NewReader(""), io.Discard, io.Discard); exit != exitAnswered {
			b.Fatalf("exit %d", exit)
		}
	}
	alone, whole, ofTenth := time.Duration(math.MaxInt64), time.Duration(math.MaxInt64), time.Duration(math.MaxInt64)
	peak := 0.0
	for b.Loop() {
		alone = min(alone, timed(func() { cutAlone(b, log) }))
		peak = max(peak, peakMemory(func() { whole = min(whole, timed(func() { advise(log) })) }))
		for range 3 {
			ofTenth = min(ofTenth, timed(func() { advise(tenth) }))
		}
	}
	b.ReportMetric(float64(whole)/float64(alone), "x-csv")
	b.ReportMetric(float64(whole)/float64(ofTenth), "x-tenth")
	b.ReportMetric(peak/1e6, "peak-MB")
	b.ReportMetric(float64(heldByCar(b, log))/runs, "bytes/run")
}

// inventedLog writes a log of n invented runs in the usual columns, six a day.
func inventedLog(b *testing.B, n int) string {
	b.Helper()
	file, err := os.Create(filepath.Join(b.TempDir(), "invented.csv"))
	if err != nil {
		b.Fatal(err)
	}
	w := bufio.NewWriter(file)
	fmt.Fprintln(w, "date,car,pinion_teeth,spur_teeth,internal_ratio,tire_diameter_mm,ambient_c,run_minutes,"+
		"motor_peak_c,esc_peak_c,battery_peak_c,cells,motor,surface,note")
	random := rand.New(rand.NewPCG(1, 2))
	first := time.Date(1900, time.March, 14, 9, 0, 0, 0, time.UTC)
	surfaces := []string{"grass", "clay", "carpet"}
	for i := range n {
		at := first.AddDate(0, 0, i/6).Add(time.Duration(i%6) * 50 * time.Minute)
		pinion := 13 + random.IntN(6)
		ambient, minutes := 15+15*random.Float64(), 5+10*random.Float64()
		peak := func(plateau, tau, exponent float64) float64 {
			return ambient + plateau*math.Pow(float64(pinion)/15.5, exponent)*-math.Expm1(-minutes/tau)*math.Exp(0.08*random.NormFloat64())
		}
		fmt.Fprintf(w, "%s,heron,%d,68,2.5,%.1f,%.1f,%.2f,%.1f,%.1f,%.1f,3,17.5T,%s,pack %d\n",
			at.Format("2006-01-02T15:04"), pinion, 117+2*random.Float64(), ambient, minutes,
			peak(62, 6, 1.4), peak(50, 5, 1.9), peak(70, 24, 2.3), surfaces[random.IntN(3)], 1+i%4)
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	if err := file.Close(); err != nil {
		b.Fatal(err)
	}
	return file.Name()
}

// timed returns how long f takes in a program of its own, which finds no memory ready.
func timed(f func()) time.Duration {
	debug.FreeOSMemory()
	start := time.Now()
	f()
	return time.Since(start)
}

func cutAlone(b *testing.B, log string) {
	file, err := os.Open(log)
	if err != nil {
		b.Fatal(err)
	}
	defer file.Close()
	r := csv.NewReader(file)
	r.ReuseRecord = true
	for {
		if _, err := r.Read(); err == io.EOF {
			return
		} else if err != nil {
			b.Fatal(err)
		}
	}
}

// peakMemory returns the most bytes that the program held of the system's memory while
// f ran.
func peakMemory(f func()) float64 {
	held := []metrics.Sample{{Name: "/memory/classes/total:bytes"}, {Name: "/memory/classes/heap/released:bytes"}}
	done, peak := make(chan struct{}), make(chan float64)
	go func() {
		most := 0.0
		for {
			metrics.Read(held)
			most = max(most, float64(held[0].Value.Uint64()-held[1].Value.Uint64()))
			select {
			case <-done:
				peak <- most
				return
			case <-time.After(5 * time.Millisecond):
			}
		}
	}()
	f()
	close(done)
	return <-peak
}

// heldByCar returns the live heap that a log's runs and the fits of its car take.
func heldByCar(b *testing.B, log string) uint64 {
	liveHeap := func() uint64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	before := liveHeap()
	file, err := os.Open(log)
	if err != nil {
		b.Fatal(err)
	}
	defer file.Close()
	read, err := runlog.Read(log, file, runlog.Options{})
	if err != nil {
		b.Fatal(err)
	}
	car, err := analyze.FitCar(read.Runs)
	if err != nil {
		b.Fatal(err)
	}
	held := liveHeap() - before
	runtime.KeepAlive(car)
	return held
}
