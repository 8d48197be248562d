package main

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	domain "regear/analyze/run"
	"regear/analyze/runlog"
)

const demoFolder = "../../testdata/demo"

// The demo in the repository is what the command writes.
func TestDemoIsUpToDate(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "made", "here")
	if err := writeDemo(dir); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"weekend.csv", "weekend-us.csv", "season.csv"} {
		kept, err := os.ReadFile(filepath.Join(demoFolder, name))
		if err != nil {
			t.Fatal(err)
		}
		made, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if string(kept) != string(made) {
			t.Errorf("%s is not what is made now; run: go run ./cmd/garage demo testdata/demo", name)
		}
		if first, _, _ := strings.Cut(string(made), "\n"); !strings.HasPrefix(first, "# Invented") {
			t.Errorf("%s begins with %q, not by saying that it is invented", name, first)
		}
	}
}

// The repository's reader takes the whole demo without a warning, and both units
// tell the same.
func TestDemoReads(t *testing.T) {
	read := func(name string) []domain.Run {
		text, err := os.ReadFile(filepath.Join(demoFolder, name))
		if err != nil {
			t.Fatal(err)
		}
		log, err := runlog.Read(name, bytes.NewReader(text), runlog.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range append(log.Problems, log.Warnings...) {
			t.Errorf("%s: %v", name, p)
		}
		return log.Runs
	}
	metric, us, all := read("weekend.csv"), read("weekend-us.csv"), read("season.csv")
	if len(metric) != 6 || len(us) != 6 || len(all) != 30 {
		t.Fatalf("%d, %d and %d runs", len(metric), len(us), len(all))
	}
	for i, r := range metric {
		u := us[i]
		if math.Abs(float64(r.Tire-u.Tire)) > 0.02 || math.Abs(float64(r.Ambient-u.Ambient)) > 1e-9 || r.Minutes != u.Minutes || r.Gearing != u.Gearing {
			t.Errorf("run %d: %+v in metric, %+v in US units", i, r, u)
		}
		for _, part := range domain.Parts {
			c, _ := r.Peak.Of(part)
			f, taken := u.Peak.Of(part)
			if !taken || math.Abs(float64(c-f)) > 1e-9 {
				t.Errorf("run %d %v: %g °C in metric, %g in US units", i, part, c, f)
			}
		}
	}
	if last := all[len(all)-1]; !last.When.Equal(metric[5].When) || last.Peak != metric[5].Peak {
		t.Errorf("the season ends with %+v, the weekend with %+v", last, metric[5])
	}
}

func TestDemoNeedsAFolder(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := writeDemo(file); err == nil {
		t.Error("a file was taken for a folder")
	}
}
