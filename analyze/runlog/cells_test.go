package runlog

import (
	"io"
	"iter"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
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

// What is no text is told from its first bytes as net/http tells it.
func TestSignatures(t *testing.T) {
	for _, s := range signatures {
		rest := map[string]string{"GIF8": "9a", "\x1f\x8b": "\x08"}[s.start] // of the signature, which only starts so
		kind, _, _ := strings.Cut(http.DetectContentType([]byte(s.start+rest+" ...")), ";")
		known := map[string]string{"image/png": "PNG", "image/jpeg": "JPEG", "image/gif": "GIF", "application/pdf": "PDF",
			"application/zip": "zip", "application/x-gzip": "gzip", "text/html": "web page", "text/xml": "XML"}
		if word, ok := known[kind]; ok && !strings.Contains(s.kind, word) {
			t.Errorf("%q is %s, not %s", s.start, kind, s.kind)
		} else if !ok && !strings.Contains("an .xls sheet of the old kind, a rich text document, UTF-32 text, an empty zip archive", s.kind) {
			t.Errorf("%q is not known as %s: %s", s.start, s.kind, kind)
		}
	}
}

// Counts of days mean what github.com/xuri/excelize/v2, by others, makes of them.
func TestDayCounts(t *testing.T) {
	for _, from1904 := range []bool{false, true} {
		for count := 10_000.0; count < 100_000; count += 37.04321 {
			want, err := excelize.ExcelDateToTime(count, from1904)
			if err != nil {
				t.Fatal(err)
			}
			if got, _ := dayCounted(count, from1904); got.Sub(want).Abs() > time.Second {
				t.Fatalf("%v from 1904 %v: %v, want %v", count, from1904, got, want)
			}
		}
	}
}

// A sheet's rows are read as those of a text, and its counts of days as dates.
func TestReadSheet(t *testing.T) {
	rows := [][]string{{"", ""}, {"date", "pinion_teeth", "spur_teeth", "tire_diameter_mm", "ambient_c", "run_minutes", "motor_peak_c"},
		{"46097.5", "15", "68", "118", "21", "8", "66"}, {"2026-03-16", "15", "68", "118", "21", "8", "hot"}}
	pull, stop := iter.Pull(slices.Values(rows))
	defer stop()
	next := func() ([]string, error) {
		if row, more := pull(); more {
			return row, nil
		}
		return nil, io.EOF
	}
	log, err := ReadSheet("log.xlsx", Sheet{Next: next}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	checkAccounts(t, log)
	if len(log.Runs) != 1 || log.Runs[0].Date() != "2026-03-16T12:00" || log.Runs[0].Line != 3 || len(log.Problems) != 1 || log.Problems[0].Line != 4 {
		t.Errorf("%v, %v", log.Runs, log.Problems)
	}
}
