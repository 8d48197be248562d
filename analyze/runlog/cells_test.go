package runlog

import (
	"strings"
	"testing"
	"time"
)

// TestDates holds the reading of dates against package time, and spoils each letter of one.
func TestDates(t *testing.T) {
	for day := time.Date(1999, 12, 25, 23, 58, 57, 0, time.UTC); day.Year() < 2032; day = day.Add(20*time.Hour + 13*time.Minute) {
		for _, form := range []string{"2006-01-02", "2006-01-02T15:04", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006/1/2 3:04 pm", "20060102 150405"} {
			text := day.Format(form)
			want, err := time.Parse(form, text)
			if err != nil {
				t.Fatal(err)
			}
			got, hasTime, _, p := parseWhen(text, OrderOfLog)
			if p != nil || got != want || hasTime != (len(form) > 10) {
				t.Fatalf("%q: %v %v, want %v", text, got, p, want)
			}
		}
	}
	const good = "2024-02-29T15:04:05"
	for i := range good {
		for _, c := range "0123456789-:T x" {
			text := good[:i] + string(c) + good[i+1:]
			want, err := time.Parse("2006-01-02T15:04:05", text)
			got, _, _, p := parseWhen(text, OrderOfLog)
			if i == 10 || i == 16 && c == '-' || c == ' ' {
				continue // a blank may stand for T and around it, and a zone behind the minutes
			}
			if (p == nil) != (err == nil) || p == nil && got != want {
				t.Errorf("%q: %v %v, want %v %v", text, got, p, want, err)
			}
		}
	}
}

// TestZones holds date-times with a zone against RFC 3339 as package time reads it.
func TestZones(t *testing.T) {
	for _, text := range []string{"2026-03-14T15:04:05Z", "2026-03-14T15:04:05+02:00", "2026-03-14T15:04:05.25-09:30", "2026-03-14T00:00:00+00:00"} {
		want, err := time.Parse(time.RFC3339, text)
		if err != nil {
			t.Fatal(err)
		}
		got, hasTime, _, f := parseWhen(text, OrderOfLog)
		if f != nil || !hasTime || !got.Equal(want) || got.Format(time.RFC3339Nano) != want.Format(time.RFC3339Nano) {
			t.Errorf("%q: got %v %v, want %v", text, got, f, want)
		}
		if got.Location() == time.UTC {
			t.Errorf("%q: the zone that was named looks as if it had not been", text)
		}
	}
}

func TestDateOrder(t *testing.T) {
	for _, o := range []DateOrder{OrderOfLog, DayFirst, MonthFirst} {
		if got, err := ParseDateOrder(o.String()); err != nil || got != o {
			t.Errorf("%v came back as %v, %v", o, got, err)
		}
	}
	if _, err := ParseDateOrder("dmy"); err == nil || err.Error() != `"dmy" is no date order: write day-first or month-first` {
		t.Errorf("got %v", err)
	}
}

// A log written in one order is read in that order as soon as one of its dates fits no
// other, wherever that date stands; until then only days that are the same in both are read.
func TestOrderOfLog(t *testing.T) {
	forms := map[DateOrder]string{DayFirst: "02/01/2006", MonthFirst: "1/2/2006"}
	for order, form := range forms {
		for settling := range 3 * blockRows {
			if settling%100 != 0 {
				continue
			}
			var text strings.Builder
			text.WriteString("date,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c\n")
			var want []time.Time
			for i := range 3 * blockRows {
				when := time.Date(2026, time.Month(1+i%12), 1+i/12%12, 0, 0, 0, 0, time.UTC)
				if i == settling {
					when = time.Date(2026, 5, 31, 0, 0, 0, 0, time.UTC)
				}
				want = append(want, when)
				text.WriteString(when.Format(form) + ",15,68,118,21,8,66\n")
			}
			log, err := Read("log.csv", strings.NewReader(text.String()), Options{})
			if err != nil || len(log.Problems) > 0 || log.Format.DateOrder != order {
				t.Fatalf("%v: %v, %v, order %v", order, err, log.Problems[:min(1, len(log.Problems))], log.Format.DateOrder)
			}
			for i, r := range log.Runs {
				if !r.When.Equal(want[i]) {
					t.Fatalf("%v: run %d is of %v, want %v", order, i, r.When, want[i])
				}
			}
		}
	}
}
