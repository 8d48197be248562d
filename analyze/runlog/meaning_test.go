package runlog

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"regear/analyze/run"
)

// oneRun reads a log of one run from its header and its row.
func oneRun(t *testing.T, header, row string, opts Options) run.Run {
	t.Helper()
	log := mustRead(t, header+"\n"+row+"\n", opts)
	if len(log.Runs) != 1 {
		t.Fatalf("%s: %d runs, problems %v", row, len(log.Runs), log.Problems)
	}
	return log.Runs[0]
}

// Each way to write a quantity means what its unit says, whatever stands beside it. The
// conversions are exact by definition: 0 °C is 32 °F and 100 °C is 212 °F; an inch is 25.4 mm.
func TestUnitsMeanWhatTheySay(t *testing.T) {
	const header = "date,pinion_teeth,spur_teeth,%s,%s,run_minutes,%s"
	const row = "2026-05-16,16,68,%s,%s,12,%s"
	for _, c := range []struct {
		name                string
		tire, air, readings [2]string // the column or columns, and the cells
		tireMM              float64
		airC, peakC, startC float64
	}{
		{"metric", [2]string{"tire_diameter_mm", "118"}, [2]string{"ambient_c", "20"}, [2]string{"motor_peak_c,motor_start_c", "77,30"}, 118, 20, 77, 30},
		{"air alone in °F", [2]string{"tire_diameter_mm", "118"}, [2]string{"ambient_f", "68"}, [2]string{"motor_peak_c,motor_start_c", "77,30"}, 118, 20, 77, 30},
		{"peak alone in °F", [2]string{"tire_diameter_mm", "118"}, [2]string{"ambient_c", "20"}, [2]string{"motor_peak_f,motor_start_c", "170.6,30"}, 118, 20, 77, 30},
		{"start alone in °F", [2]string{"tire_diameter_mm", "118"}, [2]string{"ambient_c", "20"}, [2]string{"motor_peak_c,motor_start_f", "77,86"}, 118, 20, 77, 30},
		{"a tire in inches", [2]string{"tire_diameter_in", "5"}, [2]string{"ambient_c", "20"}, [2]string{"motor_peak_c,motor_start_c", "77,30"}, 127, 20, 77, 30},
		{"round in mm", [2]string{"tire_circumference_mm", "314.159265358979"}, [2]string{"ambient_c", "20"}, [2]string{"motor_peak_c,motor_start_c", "77,30"}, 100, 20, 77, 30},
		{"round in inches", [2]string{"tire_circumference_in", "12.3684750141330"}, [2]string{"ambient_c", "20"}, [2]string{"motor_peak_c,motor_start_c", "77,30"}, 100, 20, 77, 30},
	} {
		r := oneRun(t, fmt.Sprintf(header, c.tire[0], c.air[0], c.readings[0]), fmt.Sprintf(row, c.tire[1], c.air[1], c.readings[1]), Options{})
		peak, _ := r.Peak.Of(run.Motor)
		start, _ := r.Start.Of(run.Motor)
		for what, pair := range map[string][2]float64{
			"tire": {float64(r.Tire), c.tireMM}, "air": {float64(r.Ambient), c.airC}, "peak": {float64(peak), c.peakC}, "start": {float64(start), c.startC},
		} {
			if math.Abs(pair[0]-pair[1]) > 1e-9 {
				t.Errorf("%s: %s %g, want %g", c.name, what, pair[0], pair[1])
			}
		}
	}
}

// Noon and midnight on a clock of 12 hours, and the others around them.
func TestTwelveHourClock(t *testing.T) {
	for clock, want := range map[string]string{
		"12:10 am": "00:10", "1:10 am": "01:10", "11:59 AM": "11:59", "12:10 pm": "12:10", "1:10 pm": "13:10", "11:59 PM": "23:59", "12:00 pm": "12:00", "12:00 am": "00:00",
	} {
		r := oneRun(t, strings.TrimSuffix(smallHeader, "\n"), "2026-05-16 "+clock+",16,68,118,20,12,77,", Options{})
		if got := r.When.Format("15:04"); got != want || !r.HasTime {
			t.Errorf("%s is read as %s, want %s", clock, got, want)
		}
	}
}

// A date that can be two days is read in the order that is asked for.
func TestAskedDateOrder(t *testing.T) {
	for order, want := range map[DateOrder]string{DayFirst: "2026-04-03", MonthFirst: "2026-03-04"} {
		r := oneRun(t, strings.TrimSuffix(smallHeader, "\n"), "03/04/2026,16,68,118,20,12,77,", Options{DateOrder: order})
		if got := r.When.Format("2006-01-02"); got != want {
			t.Errorf("order %v reads 03/04/2026 as %s, want %s", order, got, want)
		}
	}
}

// Yes and no, as people tick a box; anything else is refused, not taken for no.
func TestYesAndNo(t *testing.T) {
	header := "date,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c,stopped_by_heat"
	const row = "2026-05-16,16,68,118,20,12,77,"
	for cell, want := range map[string]bool{"yes": true, "Y": true, "true": true, "1": true, "x": true, "no": false, "N": false, "false": false, "0": false, "": false} {
		if r := oneRun(t, header, row+cell, Options{}); r.StoppedByHeat != want {
			t.Errorf("%q is read as %v", cell, r.StoppedByHeat)
		}
	}
	if log := mustRead(t, header+"\n"+row+"maybe\n", Options{}); len(log.Runs) != 0 || len(log.Problems) != 1 {
		t.Errorf("maybe: %d runs, problems %v", len(log.Runs), log.Problems)
	}
}

// Letter case and blanks make no other label.
func TestFold(t *testing.T) {
	for _, c := range []struct {
		a, b string
		same bool
	}{
		{"Turf", "turf", true}, {" turf ", "turf", true}, {"short carpet", "Short  Carpet", true}, {"turf", "tarf", false}, {"", " ", true},
	} {
		if same := run.Fold(c.a) == run.Fold(c.b); same != c.same {
			t.Errorf("%q and %q: same %v", c.a, c.b, same)
		}
	}
}
