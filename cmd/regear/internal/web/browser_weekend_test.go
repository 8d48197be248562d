package web_test

import (
	"fmt"
	"html"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

const (
	demoFolder = "../../../../testdata/demo"
	logsFolder = "../../../../testdata/logs"
)

// A weekend of an invented car: what its driver types after each of three runs.
var weekendRuns = [][]string{
	{"The car's name", "heron", "Motor, °C", "84", "ESC, °C", "57", "Battery, °C", "40", "Driven, min", "12", "Air, °C", "22",
		"Pinion, teeth", "17", "Spur, teeth", "68", "Internal ratio", "2.5", "Tire, mm", "118"},
	{"Motor, °C", "78", "ESC, °C", "53", "Battery, °C", "40", "Driven, min", "12:30", "Air, °C", "24,5", "Pinion, teeth", "16"},
	{"Motor, °C", "86", "ESC, °C", "60", "Battery, °C", "45", "Driven, min", "12", "Air, °C", "27", "Pinion, teeth", "17"},
}

// TestBrowserWholeWeekend goes all the way from an empty log book to a pick that rests on
// a season, on every kind of screen, with and without scripts.
func TestBrowserWholeWeekend(t *testing.T) {
	inEach(t, []look{{device: phone}, {device: phone, dark: true, noScript: true}, {device: desk, dark: true}, {device: desk, noScript: true}}, emptyPit, func(p *pit, d *driver) {
		d.open("/").reads("The log book is empty.")
		d.follow("Log a run")
		for i, run := range weekendRuns {
			if i > 0 {
				d.follow("Log a run")
			}
			d.fillAll(run...)
			d.follow("Save the run")
			d.reads("Saved: heron", fmt.Sprintf("holds %d run", i+1))
			d.answers(p.advised("heron"))
		}
		p.holdsTheWeekend()
		d.asksWhatIf(p)
		d.importsTheSeason(p)
		d.looksBack(p)
		d.keepsAReport()
		t.Logf("%s: the whole weekend takes %d taps and %d characters", d.look, d.taps, d.typed)
	})
}

// TestBrowserTapsAndKeys counts what a run costs a thumb: a first one from an empty log book, and
// later ones from the page of an open car.
func TestBrowserTapsAndKeys(t *testing.T) {
	inEach(t, []look{{device: phone}, {device: phone, noScript: true}}, emptyPit, func(p *pit, d *driver) {
		first := slices.Clone(weekendRuns[0])
		first[slices.Index(first, "84")] = "72"
		d.open("/")
		d.follow("Log a run")
		if d.noScript {
			d.fillAll(first...)
		} else {
			// The keyboard's key for the next field leads through the form.
			for _, label := range []string{"The car's name", "Motor, °C", "ESC, °C", "Battery, °C", "Driven, min", "Air, °C", "Pinion, teeth", "Spur, teeth", "Internal ratio", "Tire, mm"} {
				if at := slices.Index(first, label); at >= 0 {
					d.fill(label, first[at+1])
				}
				d.keys(kb.Enter)
			}
		}
		d.follow("Save the run")
		p.hasRuns(1)
		t.Logf("%s: a first run takes %d taps and %d keys", d.look, d.taps, d.typed)
		if most := map[bool]int{false: 10, true: 13}[d.noScript]; d.taps > most {
			t.Errorf("%s: a first run takes %d taps, want %d at most", d.look, d.taps, most)
		}

		d.taps, d.typed = 0, 0
		d.follow("Log a run")
		d.fillAll("Motor, °C", "71", "ESC, °C", "57", "Battery, °C", "40")
		d.follow("Save the run")
		d.reads("Motor: foreseen ", "read 71: inside.")
		p.hasRuns(2)
		t.Logf("%s: a later run on the same pinion takes %d taps and %d digits", d.look, d.taps, d.typed)
		if d.taps > 5 || d.typed > 6 {
			t.Errorf("%s: a later run takes %d taps and %d digits, want 5 and 6 at most", d.look, d.taps, d.typed)
		}

		d.taps, d.typed = 0, 0
		d.follow("Log a run")
		d.press(strconv.Itoa(p.advised("heron").Pick.Gearing.Pinion) + " as advised")
		d.fillAll("Motor, °C", "65", "ESC, °C", "50", "Battery, °C", "37")
		d.follow("Save the run")
		p.hasRuns(3)
		t.Logf("%s: one on the advised pinion takes %d taps and %d digits", d.look, d.taps, d.typed)
		if most := map[bool]int{false: 5, true: 6}[d.noScript]; d.taps > most || d.typed > 6 {
			t.Errorf("%s: one on the advised pinion takes %d taps and %d digits, want %d and 6 at most", d.look, d.taps, d.typed, most)
		}
	})
}

// holdsTheWeekend checks that the book has what was typed, to the last digit.
func (p *pit) holdsTheWeekend() {
	p.Helper()
	p.holds(
		"pinion_teeth=17 spur_teeth=68 internal_ratio=2.5 tire_diameter_mm=118 ambient_c=22 run_minutes=12 motor_peak_c=84 esc_peak_c=57 battery_peak_c=40",
		"pinion_teeth=16 spur_teeth=68 internal_ratio=2.5 tire_diameter_mm=118 ambient_c=24.5 run_minutes=12.5 motor_peak_c=78 esc_peak_c=53 battery_peak_c=40",
		"pinion_teeth=17 spur_teeth=68 internal_ratio=2.5 tire_diameter_mm=118 ambient_c=27 run_minutes=12 motor_peak_c=86 esc_peak_c=60 battery_peak_c=45",
	)
}

// holds checks that the book holds exactly as many runs as are wanted, in this order, each
// with cells such as "pinion_teeth=17", as the book has them.
func (p *pit) holds(want ...string) {
	p.Helper()
	runs := p.runs()
	if len(runs) != len(want) {
		p.Fatalf("the book holds %d runs, want %d", len(runs), len(want))
	}
	for i, r := range runs {
		cells := cellsOf(r)
		for _, cell := range strings.Fields(want[i]) {
			column, value, _ := strings.Cut(cell, "=")
			if cells[column] != value {
				p.Errorf("run %d of the book: %s is %q, want %q", i+1, column, cells[column], value)
			}
		}
	}
}

// cellsOf returns a run's cells, as the book has them, by their columns.
func cellsOf(r run.Run) map[string]string {
	cells := map[string]string{}
	for i, text := range runlog.Written(r) {
		cells[runlog.WrittenColumns()[i]] = text
	}
	return cells
}

// advised is what the engine behind the command answers of a car, asked as by the
// command's flags, given as name and text in turn.
func (p *pit) advised(name string, said ...string) *advise.Advice {
	p.Helper()
	_, byCar := analyze.Cars(p.runs())
	fitted, err := newSite(p.book, "").Fit(&app.Car{Name: name, Runs: byCar[name]})
	if err != nil {
		p.Fatal(err)
	}
	next := new(ask.NextRun)
	for i := 0; i < len(said); i += 2 {
		if err := next.Set(said[i], said[i+1]); err != nil {
			p.Fatal(err)
		}
	}
	answer, _, err := fitted.Answer(next)
	if err != nil {
		p.Fatal(err)
	}
	return answer
}

// answers checks that the page of the advice says what the engine says.
func (d *driver) answers(want *advise.Advice) {
	d.Helper()
	headline := d.headline()
	if want := oneLine(report.Headline(want, units.Metric)); headline != want {
		d.Errorf("%s: the page says %q, the engine %q", d.look, headline, want)
	}
	if pick := strconv.Itoa(want.Pick.Gearing.Pinion); !strings.Contains(headline, pick) {
		d.Errorf("%s: the pick is pinion %s, and the page says %q", d.look, pick, headline)
	}
	rows := d.table("What each candidate would do")
	columns := map[string]int{}
	for i, name := range rows[0] {
		columns[oneLine(name)] = i
	}
	if len(rows)-1 != len(want.Candidates) {
		d.Fatalf("%s: the page has %d candidates, want %d", d.look, len(rows)-1, len(want.Candidates))
	}
	for i, c := range want.Candidates {
		for column, value := range map[string]float64{"pinion": float64(c.Gearing.Pinion), "chance": 100 * c.Chance, "ratio": c.Ratio, "rollout mm": float64(c.Rollout)} {
			if cell := rows[i+1][columns[column]]; !rounds(cell, value) {
				d.Errorf("%s: pinion %d: %s is %q on the page, and %g to the engine", d.look, c.Gearing.Pinion, column, cell, value)
			}
		}
	}
}

// rounds reports whether a cell is a number as closely as its digits can say. A chance is
// rounded down, and next to 0 and 1 told as a bound.
func rounds(cell string, value float64) bool {
	text, isChance := strings.CutSuffix(cell, " %")
	if bound, below := strings.CutPrefix(text, "under "); below {
		return bound == "1" && value < 1
	}
	if bound, above := strings.CutPrefix(text, "over "); above {
		return bound == "99" && value > 99
	}
	shown, err := strconv.ParseFloat(text, 64)
	_, decimals, _ := strings.Cut(text, ".")
	unit := math.Pow10(-len(decimals))
	if isChance {
		return err == nil && shown == math.Floor(value/unit)*unit
	}
	return err == nil && math.Abs(shown-value) <= unit/2+1e-9
}

// asksWhatIf asks about a longer run by the keyboard alone.
func (d *driver) asksWhatIf(p *pit) {
	d.Helper()
	if d.noScript {
		d.ifMinutes("17")
	} else {
		before := d.headline()
		d.tabTo("Run")
		d.keys(strings.Repeat(kb.ArrowRight, 5))
		d.until("another answer", func() bool { return d.headline() != before })
	}
	if got := d.value("Run, min"); got != "17" {
		d.Fatalf("%s: the run stands at %q minutes, want 17", d.look, got)
	}
	longer := p.advised("heron", "minutes", "17")
	d.until("the answer for 17 minutes", func() bool { return d.headline() == oneLine(report.Headline(longer, units.Metric)) })
	d.answers(longer)
	d.shoot("advice-what-if")
}

// ifMinutes asks about a run of another length by the number field and the keyboard
// alone, and waits for the answer.
func (d *driver) ifMinutes(minutes string) {
	d.Helper()
	before := d.headline()
	d.tabTo("Run, min")
	d.selectAll()
	d.keys(minutes)
	if d.noScript {
		d.tabTo("Show")
		d.leave(chromedp.KeyEvent(kb.Enter))
		return
	}
	d.until("another answer", func() bool { return d.headline() != before })
}

// importsTheSeason imports a log by choosing its file.
func (d *driver) importsTheSeason(p *pit) {
	d.Helper()
	season := filepath.Join(demoFolder, "season.csv")
	d.imports(season)
	rows := countRows(d.T, season)
	d.reads(fmt.Sprintf("%d rows: %d added", rows, rows))
	if got, want := len(p.runs()), rows+len(weekendRuns); got != want {
		d.Fatalf("%s: the book holds %d runs, want %d", d.look, got, want)
	}
	d.follow("Runs")
	if got := see[int](d, `document.querySelectorAll("ol.runs li").length`); got != len(p.runs()) {
		d.Errorf("%s: %d runs are listed, want %d", d.look, got, len(p.runs()))
	}
}

// looksBack reads the hindsight, which foresees each run from the earlier ones alone.
func (d *driver) looksBack(p *pit) {
	d.Helper()
	d.follow("Cars")
	d.follow("Why, and what if for heron")
	d.answers(p.advised("heron"))
	d.shoot("advice-season")
	d.follow("Hindsight: would the forecasts have been right?")
	d.press("Chances, and every run")
	want, err := analyze.LookBack(p.runs(), analyze.Limits{})
	d.must(err)
	for _, part := range want.Parts {
		d.reads(fmt.Sprintf("the 80 %% range held %d of %d times", part.Held, len(part.Replays)))
		forecasts := d.table("Every forecast of the " + part.Part.Word())[1:]
		if len(forecasts) != len(p.runs())-1 {
			d.Errorf("%s: %d forecasts of the %s, want one for each of %d runs but the first", d.look, len(forecasts), part.Part.Word(), len(p.runs()))
		}
	}
	d.follow("To the advice")
}

// keepsAReport downloads the report on what was asked, and finds the answer in it.
func (d *driver) keepsAReport() {
	d.Helper()
	d.ifMinutes("20")
	headline := d.headline()
	text := d.download("A report to keep")
	if !strings.Contains(oneLine(html.UnescapeString(text)), headline) {
		d.Errorf("%s: the report does not say %q, as the page it was taken from does", d.look, headline)
	}
}
