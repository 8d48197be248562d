package web_test

import (
	"path/filepath"
	"slices"
	"testing"

	"regear/advise/carfile"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/document"
	"regear/cmd/regear/internal/report"
)

// sets says values, given as name and text in turn, as the command's flags do.
func (p *pit) sets(values []ask.Value, pairs ...string) {
	p.Helper()
	for i := 0; i < len(pairs); i += 2 {
		value, _ := ask.Named(values, pairs[i])
		if err := value.Set(pairs[i+1]); err != nil {
			p.Fatal(err)
		}
	}
}

// headlines waits until the page's headline is that of a document, as the command writes it.
func (d *driver) headlines(doc document.Document) {
	d.Helper()
	want := oneLine(string(doc[0].(document.Headline)))
	d.until("for the headline "+want, func() bool {
		return see[bool](d, `!!document.querySelector(".headline")`) && d.headline() == want
	})
}

// sends presses Show, unless the page answers while you type.
func (d *driver) sends(isLive bool) {
	d.Helper()
	if !isLive || d.noScript {
		d.follow("Show")
	}
}

// TestBrowserTools asks what the commands start, rest, compare and table answer, from an empty
// log book on, and gets the same answers.
func TestBrowserTools(t *testing.T) {
	inEach(t, []look{{device: phone}, {device: phone, noScript: true}, {device: desk}, {device: desk, dark: true, noScript: true}}, emptyPit, func(p *pit, d *driver) {
		d.open("/").follow("New tires: what to run first")
		d.fillAll("Tire before, mm", "104", "Tire after, mm", "118", "Pinion before", "17", "Spur before", "68")
		d.sends(false)
		change := new(ask.Change)
		p.sets(change.Values(), "from-tire", "104mm", "tire", "118mm", "pinion", "17", "spur", "68")
		started, known, err := change.Answer(nil, &carfile.Car{})
		d.must(err)
		d.headlines(report.Start(report.Started{Start: started, Known: known}, units.Metric, report.OnPage))

		d.imports(filepath.Join(demoFolder, "weekend.csv"))
		d.open("/advice?car=heron&minutes=9").follow("How long to run, how long to rest")
		if got := d.value("Run, min"); got != "9" {
			t.Errorf("%s: the run stands at %q minutes, want the 9 that were asked under What if", d.look, got)
		}
		d.fillAll("Air, °C", "30", "Motor now, °C", "55")
		d.sends(true)
		warm := report.Rested{Advice: p.advised("heron", "minutes", "9", "ambient", "30C")}
		warm.Start.Set(run.Motor, 55)
		d.headlines(report.Rest(warm, units.Metric))
		d.follow("To the advice")
		d.answers(warm.Advice)

		d.follow("Several next runs side by side")
		d.fill("Run, min", "15")
		d.sends(true)
		both := report.Compared{Runs: []report.NextRun{{Advice: warm.Advice}, {Different: "run 15 min", Advice: p.advised("heron", "minutes", "15", "ambient", "30C")}}}
		d.headlines(report.Compare(both, units.Metric))

		d.open("/advice?car=heron").follow("Every pinion and spur: ratio and rollout")
		d.fill("Tire, mm", "104")
		d.sends(false)
		// 104 mm * pi * 17 teeth / (68 teeth * 2.5)
		if rows := d.table("Pinions with spur 68"); !slices.ContainsFunc(rows, func(r []string) bool { return slices.Equal(r, []string{"17", "10.00", "32.7"}) }) {
			t.Errorf("%s: pinion 17 does not roll 32.7 mm a turn: %q", d.look, rows)
		}
	})
}
