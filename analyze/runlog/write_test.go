package runlog

import (
	"bytes"
	"encoding/csv"
	"errors"
	"math"
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
	// The columns of the contract, in °C and mm, without the two that repeat others.
	const want = "date,car,pinion_teeth,spur_teeth,internal_ratio,tire_diameter_mm,ambient_c,run_minutes," +
		"motor_peak_c,esc_peak_c,battery_peak_c,motor_start_c,esc_start_c,battery_start_c," +
		"stopped_by_heat,cells,motor,surface,cooling,skip,note\n"
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
