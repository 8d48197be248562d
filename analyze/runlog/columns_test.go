package runlog

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// goodRun is a run that can be written.
func goodRun() run.Run {
	r := run.Run{
		When: time.Date(2026, 3, 14, 15, 4, 0, 0, time.UTC), HasTime: true, Car: "heron",
		Gearing: drivetrain.Gearing{Pinion: 15, Spur: 68, Internal: 2.5},
		Tire:    118, Ambient: 21.5, Minutes: 12.5,
	}
	r.Peak.Set(run.Motor, 66.5)
	return r
}

func TestWriteHeader(t *testing.T) {
	// The columns of the contract, in °C and mm, without the two that repeat others, and the log book's own.
	const want = "date,car,pinion_teeth,spur_teeth,internal_ratio,tire_diameter_mm,ambient_c,run_minutes," +
		"motor_peak_c,esc_peak_c,battery_peak_c,motor_start_c,esc_start_c,battery_start_c," +
		"stopped_by_heat,cells,motor,surface,cooling,skip,note,run_in_book\n"
	var b bytes.Buffer
	if err := Write(&b, nil); err != nil || b.String() != want {
		t.Errorf("got %v %s", err, &b)
	}
}

func TestRoundTrip(t *testing.T) {
	awkward := []string{"", "a,b", "a;b", "5\" rotor", "\"quoted\"", "two\nlines", "=1+1", "'=1+1", "''-x", "-5", "@car", "+49 x",
		"#N/A", "# not a comment", "=\tx", "n/a", "-", "'", "'s", "Größe °C", "\\.", "＝1", "é", strings.Repeat("\"", maxTextBytes)}
	var runs []run.Run
	for i, text := range awkward {
		r := goodRun()
		r.Note, r.Motor, r.Surface, r.Cooling = text, text, text, text
		r.Gearing.Internal = math.Pi * float64(i+1)
		r.Ambient = units.FromFahrenheit(float64(i))
		r.Peak.Set(run.ESC, units.FromFahrenheit(150.1+float64(i)))
		r.Start.Set(run.Battery, -0.1)
		r.Skip, r.StoppedByHeat, r.Cells = i%2 == 0, i%3 == 0, i%9
		if text != "" {
			r.Car = text
		}
		if i%2 == 1 {
			r.When, r.HasTime = time.Date(2026, 3, i, 0, 0, 0, 0, time.UTC), false
		} else {
			r.When = time.Date(2026, 3, 14, 1, 2, i, i, time.FixedZone("", 3600*(i-3)))
		}
		runs = append(runs, r)
	}
	checkRoundTrip(t, runs)
	checkRoundTrip(t, nil)
	many := make([]run.Run, 3*blockRows+7)
	for i := range many {
		many[i] = runs[i%3]
	}
	checkRoundTrip(t, many)
}

// TestNoFormulas checks that no cell of a text starts a formula in a spreadsheet.
func TestNoFormulas(t *testing.T) {
	r := goodRun()
	r.Car, r.Motor, r.Surface, r.Cooling, r.Note = "=1+1", "+a", "-b", "@c", "\t=d"
	var b bytes.Buffer
	if err := Write(&b, []run.Run{r}); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 2 {
		t.Fatal(rows, err)
	}
	for i, cell := range rows[1] {
		if strings.HasPrefix(cell, "=") || strings.HasPrefix(cell, "+") || strings.HasPrefix(cell, "-") || strings.HasPrefix(cell, "@") {
			t.Errorf("%s is %q", rows[0][i], cell)
		}
	}
}

// A run that would not be read back is not written, and nothing else either.
func TestWriteRefuses(t *testing.T) {
	for name, spoil := range map[string]func(*run.Run){
		"no pinion":               func(r *run.Run) { r.Gearing.Pinion = 0 },
		"huge spur":               func(r *run.Run) { r.Gearing.Spur = 10_000 },
		"infinite ratio":          func(r *run.Run) { r.Gearing.Internal = math.Inf(1) },
		"no ratio":                func(r *run.Run) { r.Gearing.Internal = math.NaN() },
		"no tire":                 func(r *run.Run) { r.Tire = 0 },
		"tire not a number":       func(r *run.Run) { r.Tire = units.Millimeters(math.NaN()) },
		"no minutes":              func(r *run.Run) { r.Minutes = 0 },
		"ambient not a number":    func(r *run.Run) { r.Ambient = units.Celsius(math.NaN()) },
		"below absolute zero":     func(r *run.Run) { r.Ambient = -273.16 },
		"no peak":                 func(r *run.Run) { r.Peak = run.Readings{} },
		"infinite peak":           func(r *run.Run) { r.Peak.Set(run.ESC, units.Celsius(math.Inf(1))) },
		"infinite start":          func(r *run.Run) { r.Start.Set(run.ESC, units.Celsius(math.Inf(-1))) },
		"negative cells":          func(r *run.Run) { r.Cells = -1 },
		"year 10000":              func(r *run.Run) { r.When = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) },
		"date with a time of day": func(r *run.Run) { r.HasTime = false },
		"zone with seconds":       func(r *run.Run) { r.When = r.When.In(time.FixedZone("", 30)) },
		"NUL in a note":           func(r *run.Run) { r.Note = "a\x00" },
		"note not UTF-8":          func(r *run.Run) { r.Note = "\xff" },
		"endless note":            func(r *run.Run) { r.Note = strings.Repeat("x", maxTextBytes+1) },
		"a row in a note":         func(r *run.Run) { r.Note = "a\n" + strings.Repeat(",", writtenColumns) },
	} {
		bad := goodRun()
		spoil(&bad)
		var b bytes.Buffer
		err := Write(&b, []run.Run{goodRun(), bad})
		if err == nil || !strings.HasPrefix(err.Error(), "run 2 of 2, ") || b.Len() > 0 {
			t.Errorf("%s: got %v, and %q was written", name, err, &b)
		}
	}
}

func TestWriteReportsAFullDisk(t *testing.T) {
	runs := make([]run.Run, 5000)
	for i := range runs {
		runs[i] = goodRun()
	}
	for _, room := range []int{0, 100, 100_000} {
		if err := Write(&failingWriter{room}, runs); !errors.Is(err, errFull) {
			t.Errorf("room for %d bytes: got %v", room, err)
		}
	}
}

var errFull = errors.New("no space left")

// failingWriter takes a few bytes and no more.
type failingWriter struct{ left int }

func (w *failingWriter) Write(p []byte) (int, error) {
	if w.left -= len(p); w.left < 0 {
		return 0, errFull
	}
	return len(p), nil
}

// fullRun is a run that says something in every column.
func fullRun() run.Run {
	full := goodRun()
	for i, p := range run.Parts {
		full.Peak.Set(p, units.Celsius(60+i))
		full.Start.Set(p, units.Celsius(30+i))
	}
	full.StoppedByHeat, full.Cells, full.Skip = true, 3, true
	full.Motor, full.Surface, full.Cooling, full.Note = "can", "grass", "fan", "windy"
	full.Number = 12
	return full
}

// Written and WrittenColumns are what Write writes.
func TestWrittenIsWhatWriteWrites(t *testing.T) {
	runs := []run.Run{goodRun(), fullRun()}
	var text bytes.Buffer
	writeErr := Write(&text, runs)
	rows, err := csv.NewReader(&text).ReadAll()
	if err := errors.Join(writeErr, err); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(rows[0], WrittenColumns()) {
		t.Errorf("header %q", rows[0])
	}
	for i, r := range runs {
		if !slices.Equal(rows[i+1], Written(r)) {
			t.Errorf("run %d: %q, Write has %q", i, Written(r), rows[i+1])
		}
	}
}

// Each column is copied, and no other with it.
func TestColumnsAreCopied(t *testing.T) {
	full, blank := fullRun(), run.Run{}
	for _, c := range Columns() {
		if !c.Written() {
			continue
		}
		one := blank
		c.Copy(&one, &full)
		for _, other := range Columns() {
			want := other.Of(&blank)
			if other.Name() == c.Name() {
				want = other.Of(&full)
			}
			if got := other.Of(&one); got != want || c.Of(&full) == "" {
				t.Errorf("with %s copied, %s is %q, want %q", c.Name(), other.Name(), got, want)
			}
		}
		if c.Copy(&one, &blank); one != blank {
			t.Errorf("%s copied back: %+v", c.Name(), one)
		}
	}
}

// The README's table of columns is this one. Columns that mean the same share a line.
func TestReadmeTellsTheColumns(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, table, _ := strings.Cut(string(readme), "| column | meaning | needed |\n| --- | --- | --- |\n")
	table, _, _ = strings.Cut(table, "\n\n")
	if want := strings.Join(readmeLines(Columns()), "\n"); table != want {
		t.Errorf("the README has\n%s\nwant\n%s", table, want)
	}
}

func readmeLines(columns []Column) []string {
	var lines []string
	for len(columns) > 0 {
		c := columns[0]
		var names []string
		for len(columns) > 0 && columns[0].Meaning == c.Meaning && columns[0].Need == c.Need {
			names = append(names, "`"+columns[0].Name()+"`")
			columns = columns[1:]
		}
		name := strings.Join(names, ", ")
		if len(c.Names) > 1 {
			name += " or `" + strings.TrimPrefix(c.Names[1], c.quantity) + "`"
		}
		lines = append(lines, fmt.Sprintf("| %s | %s | %s |", name, c.Meaning, c.Need))
	}
	return lines
}
