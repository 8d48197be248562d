package runlog

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"regear/analyze/run"
)

var update = flag.Bool("update", false, "rewrite the goldens of testdata/logs")

const corpus = "../../testdata/logs"

// corpusOptions are the options of the files that need some.
var corpusOptions = map[string]Options{
	"dates-day-first.csv":   {DateOrder: DayFirst},
	"dates-month-first.csv": {DateOrder: MonthFirst},
	"own-headers.csv": {DateOrder: DayFirst, Columns: map[string]string{
		"datum": "date", "RITZEL": "pinion_teeth", "HZ": "spur_teeth", "Reifen": "tire diameter (mm)",
		"Luft": "ambient_c", "Dauer": "run_minutes", "temp-mot": "motor_peak_f", "not there": "note",
	}},
}

func corpusFiles(tb testing.TB) []string {
	files, err := filepath.Glob(filepath.Join(corpus, "*.?sv"))
	if err != nil || len(files) == 0 {
		tb.Fatal("no corpus", err)
	}
	return files
}

// TestCorpus reads every file of the corpus, each with one oddity, and compares
// what becomes of it with the golden beside it.
func TestCorpus(t *testing.T) {
	for _, file := range corpusFiles(t) {
		name := filepath.Base(file)
		t.Run(name, func(t *testing.T) {
			got := reading(t, file, name)
			golden := file + ".golden"
			if *update {
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("got:\n%s\nwant:\n%s", got, want)
			}
		})
	}
}

// reading tells all that Read makes of a file.
func reading(t *testing.T, file, name string) string {
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var b strings.Builder
	log, err := Read(name, f, corpusOptions[name])
	if err != nil {
		fmt.Fprintf(&b, "error:\n%v\n", err)
		var header *HeaderError
		if errors.As(err, &header) {
			b.WriteString(tried(header.Try))
		}
		return b.String()
	}
	checkAccounts(t, log)
	fmt.Fprintf(&b, "format: %s\ncolumns:", log.Format)
	for _, c := range log.Columns {
		fmt.Fprintf(&b, " %s=%s[%s]", c.Header, c.Name, c.Unit)
	}
	fmt.Fprintf(&b, "\nrows: %d\n", log.Rows)
	for _, r := range log.Runs {
		b.WriteString(runLine(r))
	}
	for _, p := range log.Problems {
		fmt.Fprintf(&b, "problem: %s\n%s", p, shown(p.Remedy))
	}
	for _, p := range log.Warnings {
		fmt.Fprintf(&b, "warning: %s\n%s", p, shown(p.Remedy))
	}
	for _, p := range log.Lost {
		fmt.Fprintf(&b, "lost: %s\n%s", p, shown(p.Remedy))
	}
	for _, p := range log.Notices {
		fmt.Fprintf(&b, "notice: %s\n%s", p, shown(p.Remedy))
	}
	return b.String()
}

// tried writes the options that would read a log, none if nothing would.
func tried(try *Options) string {
	if try == nil {
		return ""
	}
	var words []string
	for _, header := range slices.Sorted(maps.Keys(try.Columns)) {
		words = append(words, header+"="+try.Columns[header])
	}
	if try.FileUnits != nil {
		words = append(words, try.FileUnits.String())
	}
	if try.DateOrder != OrderOfLog {
		words = append(words, try.DateOrder.String())
	}
	for _, c := range try.Constants {
		words = append(words, c.String())
	}
	return "  try: " + strings.Join(words, " ") + "\n"
}

// shown writes a remedy on a line, none if there is nothing to it.
func shown(r run.Remedy) string {
	if r == (run.Remedy{}) {
		return ""
	}
	kinds := [...]string{run.ChooseDateOrder: "choose the date order", run.MapColumn: "map", run.MarkHeatStop: "mark the heat stop", run.ReadHeatStops: "read heat stops", run.GiveConstant: "give a constant"}
	return strings.TrimRight(fmt.Sprintf("  remedy: %s %s %s %s", kinds[r.Kind], r.Header, r.Column, r.Unit), " ") + "\n"
}

// runLine writes all that a run holds on one line, rounded so that the last bit
// of a converted unit does not show.
func runLine(r run.Run) string {
	var b strings.Builder
	fmt.Fprintf(&b, "run: line %d, %s, %q, %s, tire %.6g mm, %.6g °C, %.6g min", r.Line,
		r.Date(), r.Car, r.Gearing, float64(r.Tire), float64(r.Ambient), float64(r.Minutes))
	for _, p := range run.Parts {
		if peak, ok := r.Peak.Of(p); ok {
			fmt.Fprintf(&b, ", %s %.6g", p, float64(peak))
		}
		if start, ok := r.Start.Of(p); ok {
			fmt.Fprintf(&b, " from %.6g", float64(start))
		}
	}
	if r.StoppedByHeat {
		b.WriteString(", stopped by heat")
	}
	if r.Skip {
		b.WriteString(", skip")
	}
	if r.Cells != 0 {
		fmt.Fprintf(&b, ", %d cells", r.Cells)
	}
	fmt.Fprintf(&b, ", %q %q %q %q\n", r.Motor, r.Surface, r.Cooling, r.Note)
	return b.String()
}

// checkAccounts checks what holds for every log that is read: each data row is a
// run or a problem and not both, every run is valid, and lines rise.
func checkAccounts(t *testing.T, log *Log) {
	t.Helper()
	refused := map[int]bool{}
	last := 0
	for _, p := range log.Problems {
		if p.Line < last || p.Line == 0 || p.File != log.Name || p.What == "" {
			t.Errorf("problem out of order or without its place: %v", p)
		}
		last = p.Line
		refused[p.Line] = true
	}
	last = 0
	for _, r := range log.Runs {
		if r.Line <= last || r.File != log.Name {
			t.Errorf("run out of order or without its place: %v", r.Position)
		}
		last = r.Line
		if refused[r.Line] {
			t.Errorf("%v is both used and refused", r.Position)
		}
		if !valid(r) {
			t.Errorf("not a run: %+v", r)
		}
	}
	if log.Rows != len(log.Runs)+len(refused) {
		t.Errorf("%d rows seen, but %d runs and %d refused rows", log.Rows, len(log.Runs), len(refused))
	}
}

// valid reports whether a run is what Read promises.
func valid(r run.Run) bool {
	for _, of := range []run.Readings{r.Peak, r.Start} {
		for _, t := range of.All() {
			if !isReading(t) {
				return false
			}
		}
	}
	return r.Gearing.Check() == nil && isRatio(r.Gearing.Internal) && isTire(r.Tire) && isDuration(r.Minutes) && isReading(r.Ambient) &&
		r.Cells >= 0 && r.Cells <= maxCells && r.Peak.Len() > 0 && (r.HasTime || r.When.Equal(r.When.Truncate(24*time.Hour)))
}

// TestSameRuns checks that the dialects and units of the corpus give the runs of
// the plain file.
func TestSameRuns(t *testing.T) {
	want := corpusRuns(t, "plain.csv")
	for _, name := range []string{"bom-crlf.csv", "cr-only.csv", "tabs.tsv", "bars.csv", "semicolons-decimal-commas.csv",
		"sep-line.csv", "utf16-le.csv", "utf16-be.csv", "windows-1252.csv", "us-units.csv"} {
		got := corpusRuns(t, name)
		if got = strings.ReplaceAll(got, "Gras naß", "grass"); got != want {
			t.Errorf("%s: got\n%s\nwant\n%s", name, got, want)
		}
	}
}

// corpusRuns returns the runs of a file without their lines.
func corpusRuns(t *testing.T, name string) string {
	data, err := os.ReadFile(filepath.Join(corpus, name))
	if err != nil {
		t.Fatal(err)
	}
	log, err := Read(name, bytes.NewReader(data), Options{})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, r := range log.Runs {
		r.Line = 0
		b.WriteString(runLine(r))
	}
	return b.String()
}
