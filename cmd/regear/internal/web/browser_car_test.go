package web_test

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// tick ticks a box, or chooses one of several.
func (d *driver) tick(name string) {
	d.Helper()
	box := d.find(name, []string{"checkbox", "radio"})
	before := of[bool](d, box, `function () { return this.checked }`)
	d.must(chromedp.Do(d.ctx, d.at(d.spotOf(box))))
	if now := of[bool](d, box, `function () { return this.checked }`); now == before {
		d.Fatalf("%s: %q stands at %v all the same", d.look, name, now)
	}
}

// TestBrowserThisCar goes from the warning about assumed limits to a car file that has them, by
// touch and at a desk, with and without scripts.
func TestBrowserThisCar(t *testing.T) {
	inEach(t, []look{{device: phone}, {device: phone, dark: true, noScript: true}, {device: desk}, {device: desk, noScript: true}}, logged, func(p *pit, d *driver) {
		d.open("/advice?car=heron").reads("no limit was given for")
		d.follow("Give the limits of heron")
		d.reads("This car: heron", "The car file does not have heron yet.", "left blank, it is assumed: 71 °C (common practice, no source)")
		d.fillAll("Motor under, °C", "85", "ESC under, °C", "75")
		for _, part := range []string{"motor", "ESC"} {
			d.chooseWhose(part, "the maker's sheet")
		}
		for _, pinion := range []string{"15", "16", "17"} {
			d.tick(pinion)
		}
		d.tick("16") // not at hand after all
		d.fillAll("Other pinions", "21", "Name of tire 1", "big", "Across tire 1, mm", "118", "Spurs at hand", "68,72", "Cells in series", "4")
		d.follow("Save this car")
		d.reads("Saved. Answers count with it from now on.")
		for _, want := range []string{"motor = \"85C\"\nmotor_whose = \"the maker's sheet\"", "esc = \"75C\"", "pinions = [15, 17, 21]", "spurs = [68, 72]", "big = \"118mm\"", "cells = 4"} {
			if !strings.Contains(p.cars.now(), want) {
				t.Errorf("%s: no %s in\n%s", d.look, want, p.cars.now())
			}
		}
		d.follow("To the advice")
		d.reads("under 85 °C")
		d.follow("This car: heron") // in the head of every page of the car
		if got := d.value("Motor under, °C"); got != "85" {
			t.Errorf("%s: the limit stands at %q", d.look, got)
		}
		// A mistake is told beside its field, and what else was typed is not lost.
		d.fillAll("Motor under, °C", "hot", "Motor kV", "2200")
		d.follow("Save this car")
		d.reads("Not saved yet", "Mend what is marked below.")
		d.fill("Motor under, °C", "86")
		d.follow("Save this car")
		if now := p.cars.now(); !strings.Contains(now, `motor = "86C"`) || !strings.Contains(now, "motor_kv = 2200") {
			t.Errorf("%s: the file is\n%s", d.look, now)
		}
	})
}

// chooseWhose says whose a part's limit is.
func (d *driver) chooseWhose(part, whose string) {
	d.Helper()
	id := strings.ToLower(part) + "-whose"
	box := element(d.object(`[...document.querySelectorAll("input[name='` + id + `']")].find(e => e.value === "` + whose + `")`))
	d.must(chromedp.Do(d.ctx, d.at(d.spotOf(box))))
	if !of[bool](d, box, `function () { return this.checked }`) {
		d.Fatalf("%s: the limit of the %s is not %s", d.look, part, whose)
	}
}

// TestBrowserKeepsWhatIf keeps limits that were typed under What if: at the next visit the pick is
// what it was with them.
func TestBrowserKeepsWhatIf(t *testing.T) {
	inEach(t, []look{{device: phone}, {device: desk, noScript: true}}, logged, func(p *pit, d *driver) {
		d.open("/advice?car=heron")
		assumed := d.headline()
		d.press("Limits, gears and the rest")
		d.fill("Motor under, °C", "105")
		d.follow("Keep these for heron")
		d.reads("What you typed under What if is filled in below. Save to keep it.")
		if got := d.value("Motor under, °C"); got != "105" {
			t.Errorf("%s: the limit stands at %q", d.look, got)
		}
		d.shoot("car-keep")
		d.follow("Save this car")
		d.follow("To the advice")
		kept := d.headline()
		if kept == assumed || !strings.Contains(kept, "105 °C") {
			t.Errorf("%s: with the limit kept the headline is %q, before it was %q", d.look, kept, assumed)
		}
		d.open("/advice?car=heron")
		if again := d.headline(); again != kept {
			t.Errorf("%s: at the next visit it is %q, it was %q", d.look, again, kept)
		}
		if !strings.Contains(p.cars.now(), "motor = \"105C\"\nmotor_whose = \"own choice\"") {
			t.Errorf("the file is\n%s", p.cars.now())
		}
	})
}

// TestBrowserThisCarOutOfDate saves a car on a page that another tab has made out of date.
func TestBrowserThisCarOutOfDate(t *testing.T) {
	t.Parallel()
	p := newPit(t, byHand)
	here := p.drive(look{device: phone})
	there := here.another()
	here.open("/car?car=heron")
	there.open("/car?car=heron")
	there.fill("Cells in series", "6")
	there.follow("Save this car")
	here.fill("Motor kV", "2200")
	here.tick("15")
	here.follow("Save this car")
	here.reads("Not saved yet", "The car file has changed since this page was opened", "Cells in series: 6 in the car file, 4 here.")
	here.inspect("car-stale")
	here.fill("Cells in series", "6")
	here.follow("Save this car")
	here.reads("Saved.")
	for _, want := range []string{"cells = 6", "motor_kv = 2200", "pinions = [13, 15, 17] # steel", "big = \"4.65in\" # new in May", "# Mine."} {
		if !strings.Contains(p.cars.now(), want) {
			t.Errorf("no %s in\n%s", want, p.cars.now())
		}
	}
}
