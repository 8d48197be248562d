package web_test

import (
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// logged returns a pit whose book holds one run, logged without a browser.
func logged(t *testing.T) *pit {
	t.Helper()
	p := newPit(t, "")
	p.post("/log", aRun(p.form("/log"), "84"))
	p.holds("pinion_teeth=17 motor_peak_c=84")
	return p
}

// A driver who reads °F and inches types what the gun shows. 68 °F are 20 °C and 176 °F are
// 80 °C exactly, by the definition of the scale; 4.7 in are 119.38 mm, as an inch is
// 25.4 mm (NIST SP 811, appendix B). The tire that was not touched stays at its 118 mm,
// though it is shown as 4.65 in, which are 118.11 mm.
func TestBrowserFahrenheitAndInches(t *testing.T) {
	inEach(t, []look{{device: phone}, {device: desk, noScript: true}}, logged, func(p *pit, d *driver) {
		d.open("/log?car=heron")
		d.follow("Show °F and inches")
		if tire := d.value("Tire, in"); tire != "4.65" {
			p.Errorf("a tire of 118 mm stands at %q inches, want 4.65", tire)
		}
		d.fillAll("Motor, °F", "176", "Air, °F", "68", "Driven, min", "10")
		d.follow("Save the run")
		d.reads("Saved: heron", "motor 176 °F", "68 °F")
		d.follow("Log a run")
		d.fillAll("Motor, °F", "176", "Air, °F", "68", "Driven, min", "10", "Tire, in", "4.7")
		d.follow("Save the run")
		p.holds("", "motor_peak_c=80 ambient_c=20 run_minutes=10 tire_diameter_mm=118",
			"motor_peak_c=80 ambient_c=20 run_minutes=10 tire_diameter_mm=119.38")
		d.follow("Show °C and mm")
		d.reads("under 71 °C")
	})
}

// Many phones' number keys have a comma and no point.
func TestBrowserDecimalComma(t *testing.T) {
	t.Parallel()
	p := logged(t)
	d := p.drive(look{device: phone, dark: true})
	d.open("/log?car=heron")
	d.fillAll("Motor, °C", "81,5", "Air, °C", "22,5", "Driven, min", "12,5", "Tire, mm", "117,86", "Internal ratio", "2,6")
	d.follow("Save the run")
	d.reads("Not saved yet: is this right?", "Internal ratio: 2,6 is another internal ratio than this car had before, check it.")
	d.follow("Save as it is")
	p.holds("", "motor_peak_c=81.5 ambient_c=22.5 run_minutes=12.5 tire_diameter_mm=117.86 internal_ratio=2.6")
}

// TestBrowserStalePage logs a run on a page that another tab has made out of date.
func TestBrowserStalePage(t *testing.T) {
	inEach(t, []look{{device: phone}, {device: desk, dark: true, noScript: true}}, logged, func(p *pit, here *driver) {
		there := here.another()
		here.open("/log?car=heron")
		there.open("/log?car=heron")
		there.fillAll("Motor, °C", "70", "Air, °C", "22", "Driven, min", "8", "Pinion, teeth", "15")
		there.follow("Save the run")

		here.fillAll("Motor, °C", "83,5", "Air, °C", "23", "Driven, min", "9")
		here.press("Warm start, battery, labels and note")
		here.fill("Note", "gusts")
		here.follow("Save the run")
		here.reads("Not saved yet", "The log book has changed since this page was opened", "Pinion, teeth: 15 in the newest run, 17 here.")
		here.shoot("log-stale")
		p.holds("", "pinion_teeth=15")
		for label, want := range map[string]string{"Motor, °C": "83,5", "Air, °C": "23", "Driven, min": "9", "Pinion, teeth": "17"} {
			if got := here.value(label); got != want {
				p.Errorf("what was typed is lost: %q stands at %q, want %q", label, got, want)
			}
		}
		here.follow("Save the run")
		here.reads("Saved: heron")
		p.holds("", "pinion_teeth=15 motor_peak_c=70", "pinion_teeth=17 motor_peak_c=83.5 ambient_c=23 run_minutes=9 note=gusts")
	})
}

// TestBrowserSameMoment gives two runs of a car one moment.
func TestBrowserSameMoment(t *testing.T) {
	t.Parallel()
	p := logged(t)
	d := p.drive(look{device: desk})
	for i, motor := range []string{"70", "75"} {
		d.open("/log?car=heron")
		d.fillAll("Motor, °C", motor, "Air, °C", "22", "Driven, min", "8")
		d.fillMoment("When it ended", clock.AddDate(0, 0, -1))
		d.follow("Save the run")
		if saved := strings.Contains(d.shown(), "Saved: heron"); saved != (i == 0) {
			t.Fatalf("run %d: saved is %v. The page says:\n%s", i+1, saved, d.shown())
		}
	}
	d.reads("Not saved yet", "the book holds a run of heron at that moment with other values: give another time")
	p.holds("motor_peak_c=70", "motor_peak_c=84")
	if got := d.value("Motor, °C"); got != "75" {
		t.Errorf("what was typed is lost: the motor stands at %q", got)
	}
	d.shoot("log-same-moment")
	d.fillMoment("When it ended", clock.AddDate(0, 0, -1).Add(time.Hour))
	d.follow("Save the run")
	p.holds("motor_peak_c=70", "motor_peak_c=75", "motor_peak_c=84")
}

// TestBrowserDoubleTap taps twice on what saves a run.
func TestBrowserDoubleTap(t *testing.T) {
	inEach(t, []look{{device: phone}, {device: phone, noScript: true}}, logged, func(p *pit, d *driver) {
		d.open("/log?car=heron")
		d.fillAll("Motor, °C", "70", "Air, °C", "22", "Driven, min", "8")
		save := d.at(d.spotOf(d.find("Save the run", pressed)))
		ctx, end := d.waiting()
		defer end()
		// Without a script the second tap asks anew before the first is answered.
		_, err := chromedp.Run(ctx, chromedp.WaitEvent(cdppage.LoadEventFired, nil, chromedp.Steps(save, save)))
		d.must(err)
		d.reads("Saved: heron")
		p.holds("", "motor_peak_c=70")
	})
}

// TestBrowserManyAtOnce lets a crowd log runs while two phones do, who all press Save at
// the same moment, round after round.
func TestBrowserManyAtOnce(t *testing.T) {
	t.Parallel()
	const crowd, rounds = 50, 2
	p := logged(t)
	phones := []*driver{p.drive(look{device: phone}), p.drive(look{device: phone, dark: true, noScript: true})}
	want := map[string]int{}
	for round := range rounds {
		for i, d := range phones {
			note := fmt.Sprintf("phone %d round %d", i, round)
			want[note] = 1
			d.open("/log?car=heron")
			d.fillAll("Motor, °C", "70", "Air, °C", "22", "Driven, min", "8")
			d.press("Warm start, battery, labels and note")
			d.fill("Note", note)
		}
		var ready, done sync.WaitGroup
		start := make(chan struct{})
		at := func(do func()) {
			ready.Add(1)
			done.Go(func() { ready.Done(); <-start; do() })
		}
		for i := range crowd {
			note := fmt.Sprintf("client %d round %d", i, round)
			want[note] = 1
			form := aRun(p.form("/log?car=heron"), "70")
			form.Set("note", note)
			at(func() {
				r, err := http.PostForm(p.server.URL+"/log", form)
				if err != nil {
					t.Error(err)
					return
				}
				r.Body.Close()
			})
		}
		for _, d := range phones {
			save := d.at(d.spotOf(d.find("Save the run", pressed)))
			at(func() {
				if _, err := chromedp.RunResponse(d.ctx, save); err != nil {
					t.Error(err)
				}
			})
		}
		ready.Wait()
		close(start)
		done.Wait()
		for _, d := range phones {
			d.reads("Saved: heron")
		}
	}
	got := map[string]int{}
	for _, r := range p.runs() {
		got[r.Note]++
	}
	delete(got, "") // the run that was there before
	for note, n := range got {
		if n != 1 || want[note] != 1 {
			t.Errorf("%q is %d times in the book", note, n)
		}
	}
	if len(got) != len(want) {
		t.Errorf("the book holds %d of %d runs", len(got), len(want))
	}
}

// Out of reach of the page, nothing typed is lost, and the run is saved once the page answers.
func TestBrowserOutOfReach(t *testing.T) {
	inEach(t, []look{{device: phone}}, logged, func(p *pit, d *driver) {
		reach := func(is bool) {
			tell(d, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
				MatchedNetworkConditions: []*network.Conditions{{DownloadThroughput: -1, UploadThroughput: -1, Offline: !is}}})
		}
		d.open("/log?car=heron")
		d.fillAll("Motor, °C", "83")
		reach(false)
		d.press("Save the run")
		d.until("out of reach", func() bool { return strings.Contains(d.shown(), "Out of reach: nothing is saved yet") })
		d.shoot("log-out-of-reach")
		if d.value("Motor, °C") != "83" {
			t.Error("what was typed is gone")
		}
		p.hasRuns(1)
		reach(true)
		d.until("that the run is saved", func() bool { return len(p.runs()) == 2 })
		p.holds("", "motor_peak_c=83")
	})
}

// What was typed stays when the units are switched, with a finger and in the form itself.
func TestBrowserSwitchesUnitsMidway(t *testing.T) {
	inEach(t, []look{{device: phone}, {device: phone, noScript: true}, {device: desk}}, logged, func(p *pit, d *driver) {
		d.open("/log?car=heron")
		d.fillAll("Motor, °C", "81.5", "Pinion, teeth", "16")
		d.follow("Type °F instead")
		for label, want := range map[string]string{"Motor, °F": "81.5 °C", "Pinion, teeth": "16", "Air, °F": "71.6"} {
			if got := d.value(label); got != want {
				p.Errorf("%s: %s stands at %q, want %q", d.look, label, got, want)
			}
		}
		d.fill("ESC, °F", "131")
		d.follow("Save the run")
		d.reads("Saved: heron")
		p.holds("", "motor_peak_c=81.5 esc_peak_c=55 pinion_teeth=16 ambient_c=22")
	})
}
