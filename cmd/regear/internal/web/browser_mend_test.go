package web_test

import (
	"testing"
)

// TestBrowserMends changes a run, deletes it, and takes both back, by touch and by mouse, with the
// script and without.
func TestBrowserMends(t *testing.T) {
	inEach(t, []look{{device: phone}, {device: desk, dark: true, noScript: true}}, logged, func(p *pit, d *driver) {
		d.open("/runs?car=heron")
		d.follow("2026-05-30 15:04 · 17/68 12 min · motor 84 °C")
		d.shoot("run")
		d.fill("Motor, °C", "48")
		d.follow("Save the change")
		d.reads("Changed: heron", "motor 48 °C")
		d.shoot("run-changed")
		p.holds("motor_peak_c=48")
		d.follow("Undo")
		d.reads("Undone: changed run 1", "added run 1")
		p.holds("motor_peak_c=84")

		d.open("/run?number=1")
		d.follow("Delete run 1")
		d.reads("Deleted run 1.", "holds 0 runs now")
		p.holds()
		d.follow("Undo")
		p.holds("motor_peak_c=84")

		// What is undone on one phone is told to the other, which undoes nothing more.
		other := d.another()
		other.open("/changes")
		d.open("/changes")
		d.follow("Undo")
		other.follow("Undo")
		other.reads("Nothing was undone", "The log book has changed since this was shown")
	})
}

// TestBrowserStaleRun changes one run on two phones.
func TestBrowserStaleRun(t *testing.T) {
	inEach(t, []look{{device: phone}, {device: desk, noScript: true}}, logged, func(p *pit, here *driver) {
		there := here.another()
		here.open("/run?number=1")
		there.open("/run?number=1")
		there.fill("Motor, °C", "80")
		there.follow("Save the change")
		here.fillAll("Motor, °C", "79", "Air, °C", "21")
		here.follow("Save the change")
		here.reads("Not saved yet", "Motor: 80 in the log book, 79 here.")
		here.shoot("run-stale")
		p.holds("motor_peak_c=80 ambient_c=22")
		here.follow("Save the change")
		p.holds("motor_peak_c=79 ambient_c=21")
	})
}
