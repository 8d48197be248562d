package web_test

import (
	"html"
	"net/url"
	"regexp"
	"strings"
	"testing"
)

// An invented car, as a driver has it by hand.
const byHand = `# Mine.
units = "metric"

[cars.heron] # the old one
pinions = [17, 13] # steel
spurs = [68]
cells = 4

[cars.heron.tires]
big = "4.65in" # new in May

[cars.heron.limits]
motor = "176F"
motor_whose = "the club's list"

[cars.gull]
cells = 2
`

var inputPattern = regexp.MustCompile(`<input[^>]*>`)

func attribute(input, name string) string {
	found := regexp.MustCompile(` ` + name + `="([^"]*)"`).FindStringSubmatch(input)
	if found == nil {
		return ""
	}
	return html.UnescapeString(found[1])
}

// carForm returns the form of This car as a browser would send it untouched.
func carForm(from page) url.Values {
	values := url.Values{}
	_, form, _ := strings.Cut(from.text, `action="/car"`)
	for _, input := range inputPattern.FindAllString(form, -1) {
		kind := attribute(input, "type")
		if kind != "checkbox" && kind != "radio" || strings.Contains(input, " checked") {
			values.Add(attribute(input, "name"), attribute(input, "value"))
		}
	}
	return values
}

func withFields(form url.Values, pairs ...string) url.Values {
	for i := 0; i < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	return form
}

// savesCar sends the form of This car, which has to be saved.
func (p *pit) savesCar(form url.Values) page {
	p.Helper()
	got := p.post("/car", form)
	if !strings.HasPrefix(got.path, "/car?car=heron&saved=yes") {
		p.Fatalf("not saved:\n%s", got.text)
	}
	return got.has("Saved.")
}

// What is changed is changed where it stands, and the rest of the file stays to the byte, in
// whichever units the page shows it.
func TestCarPageChangesOnlyWhatIsTouched(t *testing.T) {
	p := newPit(t, byHand)
	form := carForm(p.get("/car?car=Heron"))
	for name, want := range map[string]string{"motor-limit": "80", "motor-whose": "the club's list", "tire-1-name": "big", "tire-1-size": "118.1",
		"spurs": "68", "cells": "4", "kv": "", "esc-limit": ""} {
		if got := form.Get(name); got != want {
			t.Errorf("%s stands at %q, want %q", name, got, want)
		}
	}
	if got := strings.Join(form["pinions"], ","); got != "13,17" {
		t.Errorf("pinions %s are ticked", got)
	}
	p.savesCar(form)
	if p.cars.now() != byHand {
		t.Errorf("nothing was touched, and the file is\n%s", p.cars.now())
	}

	p.post("/units", url.Values{"show": {"us"}, "back": {"/"}})
	form = carForm(p.get("/car?car=heron"))
	if form.Get("motor-limit") != "176" || form.Get("tire-1-size") != "4.65" {
		t.Errorf("in °F and inches the form stands at %v", form)
	}
	form["pinions"] = []string{"13", "15", "17"}
	p.savesCar(withFields(form, "esc-limit", "160", "esc-whose", "own choice", "tire-2-name", "small", "tire-2-size", "4,1", "kv", "2200"))
	want := strings.NewReplacer("pinions = [17, 13] #", "pinions = [13, 15, 17] #", "cells = 4\n", "motor_kv = 2200\ncells = 4\n",
		"# new in May\n", "# new in May\nsmall = \"4.1in\"\n", "the club's list\"\n", "the club's list\"\nesc = \"160F\"\nesc_whose = \"own choice\"\n").Replace(byHand)
	want = strings.Replace(strings.Replace(want, "motor_kv = 2200\n", "", 1), "[cars.heron] # the old one\n", "[cars.heron] # the old one\nmotor_kv = 2200\n", 1)
	if got := p.cars.now(); !sameLines(got, want) || strings.Contains(got, "motor = \"80") {
		t.Errorf("the file is\n%s\nwant\n%s", got, want)
	}
}

// sameLines reports whether two texts hold the same lines, in any order.
func sameLines(a, b string) bool {
	count := map[string]int{}
	for _, line := range strings.Split(a, "\n") {
		count[line]++
	}
	for _, line := range strings.Split(b, "\n") {
		count[line]--
	}
	for _, n := range count {
		if n != 0 {
			return false
		}
	}
	return true
}

// What can't be is said at its field, what was typed still stands there, and the file is as it was.
func TestCarPageTellsMistakesAtTheirField(t *testing.T) {
	for name, c := range map[string]struct {
		fields []string
		want   string
	}{
		"a limit":         {[]string{"motor-limit", "900"}, "is no limit of a part"},
		"pinions":         {[]string{"other-pinions", "many"}, "write numbers of teeth up to 400"},
		"spurs":           {[]string{"spurs", "72-68"}, "72-68 runs backwards: write 68-72"},
		"a pitch":         {[]string{"pitch", "0.8"}, "module or diametral pitch?"},
		"a ratio":         {[]string{"internal-ratio", "-1"}, "write a number above 0"},
		"cells":           {[]string{"cells", "four"}, "write a whole number from 1 to 99"},
		"kv beyond all":   {[]string{"kv", "9000000"}, "does not lie above 0 and up to 1e&#43;06"},
		"a tire's size":   {[]string{"tire-2-name", "small", "tire-2-size", "5"}, "is no tire&#39;s diameter"},
		"no size":         {[]string{"tire-1-size", ""}, "to take the tire out, clear its name too"},
		"no name":         {[]string{"tire-2-size", "104"}, "a name of your own"},
		"a name twice":    {[]string{"tire-2-name", "big", "tire-2-size", "104"}, "is the name of another tire here"},
		"half a mount":    {[]string{"mount-least", "80"}, "write the least and the most teeth of both gears together"},
		"a mount upside":  {[]string{"mount-least", "90", "mount-most", "80"}, "write the least and the most teeth of both gears together"},
		"no name of ours": {[]string{"tire-2-name", "1st", "tire-2-size", "104"}, "a tire&#39;s name begins with a letter"},
	} {
		p := newPit(t, byHand)
		form := withFields(carForm(p.get("/car?car=heron")), c.fields...)
		got := p.post("/car", form).hasStatus(422).has("Not saved yet", "Mend what is marked below.", `class="error">`, c.want)
		again := carForm(got)
		for i := 0; i < len(c.fields); i += 2 {
			if again.Get(c.fields[i]) != c.fields[i+1] {
				t.Errorf("%s: %s stands at %q now", name, c.fields[i], again.Get(c.fields[i]))
			}
		}
		if p.cars.now() != byHand {
			t.Errorf("%s: the file is\n%s", name, p.cars.now())
		}
	}
}

// A slip that may be meant is asked about, once.
func TestCarPageAsksAboutSlips(t *testing.T) {
	for want, fields := range map[string][]string{
		"Across tire 2: 2.2in is a rim size, measure across the rubber": {"tire-2-name", "rim", "tire-2-size", "2.2in"},
		"Motor under: 30 is outside the usual 40 to 120":                {"motor-limit", "30"},
		"Cells in series: 14 is outside the usual 1 to 12":              {"cells", "14"},
		"No pair of the gears named fits the mount":                     {"mount-least", "10", "mount-most", "20"},
	} {
		p := newPit(t, byHand)
		form := withFields(carForm(p.get("/car?car=heron")), fields...)
		got := p.post("/car", form).has("is this right?", want, "Save as it is")
		if p.cars.now() != byHand {
			t.Errorf("%s: saved unasked:\n%s", want, p.cars.now())
		}
		p.savesCar(carForm(got))
		p.savesCar(carForm(p.get("/car?car=heron"))) // it is known now
	}
}

// A car that only the log knows is added, with remarks, behind the others.
func TestCarPageAddsACar(t *testing.T) {
	for _, before := range []string{"", "[cars.gull]\ncells = 2\n"} {
		p := newPit(t, before)
		p.saves(aRun(p.form("/log?new=car"), "84"))
		got := p.get("/car?car=heron").has("The car file does not have heron yet.", "is assumed")
		p.savesCar(withFields(carForm(got), "motor-limit", "85", "motor-whose", "the maker's sheet", "tire-1-name", "big", "tire-1-size", "118"))
		after := p.cars.now()
		for _, want := range []string{"# Limits, with their unit, and whose they are.", "motor = \"85C\"\nmotor_whose = \"the maker's sheet\"\n", "# esc = \"71C\"\n", "big = \"118mm\"\n"} {
			if !strings.Contains(after, want) {
				t.Errorf("no %q in\n%s", want, after)
			}
		}
		if !strings.HasPrefix(after, before) || (before == "") != strings.Contains(after, "units = \"metric\"") {
			t.Errorf("%q became\n%s", before, after)
		}
		p.get("/advice?car=heron").has("under 85 °C")
	}
}

// A form that was made from another state of the file is not saved, and nothing that was typed
// is lost; what else has changed in the file is nothing that the form would write over.
func TestCarPageThatIsOutOfDate(t *testing.T) {
	p := newPit(t, byHand)
	form := withFields(carForm(p.get("/car?car=heron")), "kv", "2200")
	p.cars.text = strings.Replace(byHand, "cells = 2", "cells = 3", 1)
	p.savesCar(form)

	form = withFields(carForm(p.get("/car?car=heron")), "kv", "3300")
	before := strings.NewReplacer("176F", "170F", "cells = 4", "cells = 6").Replace(p.cars.now())
	p.cars.text = before
	got := p.post("/car", form).hasStatus(422).has("The car file has changed since this page was opened",
		"Motor under: 170F, the club&#39;s list in the car file, 80C, the club&#39;s list here.", "Cells in series: 6 in the car file, 4 here.", "Motor kV: 2200 in the car file, 3300 here.")
	if p.cars.now() != before {
		t.Errorf("saved all the same:\n%s", p.cars.now())
	}
	p.savesCar(carForm(got))
	if now := p.cars.now(); !strings.Contains(now, `motor = "80C"`) || !strings.Contains(now, "motor_kv = 3300") || !strings.Contains(now, "cells = 4") || !strings.Contains(now, "cells = 3") {
		t.Errorf("the file is\n%s", now)
	}
	p.savesCar(form) // a second tap
}

func TestCarPageWithoutACar(t *testing.T) {
	p := newPit(t, "")
	p.get("/car").hasStatus(400).has("Which car?")
	p.get("/car?car=herno").hasStatus(404).has("Neither the log book nor the car file knows a car called “herno”")
	p.post("/car", url.Values{"car": {"herno"}, "cells": {"4"}}).hasStatus(404)
	if p.cars.now() != "" {
		t.Errorf("the file is\n%s", p.cars.now())
	}
	p.cars.text = "[cars.heron\n"
	p.post("/log", aRun(p.form("/log"), "84"))
	p.get("/car?car=heron").hasStatus(500).has("The car file can&#39;t be read", "cars.toml:1:")
	p.cars.text = byHand
	p.get("/car").hasStatus(200).has("This car: heron")
	p.get("/car?car=gull").hasStatus(200).has("This car: gull", "Log a run")
}

// What the form doesn't show stays: gears of another pitch, and a mount told by the motor's travel
// until it is told by teeth.
func TestCarPageKeepsWhatItDoesNotShow(t *testing.T) {
	const before = `[cars.heron]
pitch = "module 0.8"
spurs = [68]
pinions = [17]
[cars.heron.mount] # measured
known_pinion = 17
known_spur = 68
closer = "0mm"
farther = "2.4mm"
[[cars.heron.other_gears]]
pitch = "48 dp"
pinions = [20]
spurs = [90]
`
	p := newPit(t, before)
	got := p.get("/car").has("gears of another pitch too", "which makes 85 to 91 teeth")
	p.savesCar(withFields(carForm(got), "cells", "3"))
	if now := p.cars.now(); !sameLines(now, before+"cells = 3\n") {
		t.Errorf("the file is\n%s", now)
	}
	p.savesCar(withFields(carForm(p.get("/car")), "mount-least", "85", "mount-most", "92"))
	if now := p.cars.now(); strings.Contains(now, "closer") || !strings.Contains(now, "[cars.heron.mount] # measured\nleast_teeth = 85\nmost_teeth = 92\n") || !strings.Contains(now, "pinions = [20]") {
		t.Errorf("the file is\n%s", now)
	}
}

// What was typed under What if opens the form filled in, and nothing else does.
func TestKeepWhatIf(t *testing.T) {
	p := newPit(t, byHand)
	p.post("/log", aRun(p.form("/log"), "84", "esc-peak", "60", "battery-peak", "40"))
	ask := url.Values{"car": {"heron"}, "units": {"metric"}, "keep": {"yes"}, "minutes": {"9"}, "ambient": {"22"}, "confidence": {"80"}, "pinions": {"9"},
		"limit-motor": {"95"}, "limit-esc": {"71"}, "limit-battery": {"none"}, "tire": {"104,5"}, "cells": {"6"}}
	got := p.get("/car?"+ask.Encode()).has("What you typed under What if is filled in below.", "“none” for battery can&#39;t be kept")
	form := carForm(got)
	for name, want := range map[string]string{"motor-limit": "95", "motor-whose": "own choice", "esc-limit": "", "battery-limit": "",
		"tire-2-name": "new tire", "tire-2-size": "104.5", "cells": "6", "tire-1-size": "118.1"} {
		if form.Get(name) != want {
			t.Errorf("%s stands at %q, want %q", name, form.Get(name), want)
		}
	}
	if p.cars.now() != byHand {
		t.Error("saved before it was said to be")
	}
	p.savesCar(form)
	if now := p.cars.now(); !strings.Contains(now, "motor = \"95C\"\nmotor_whose = \"own choice\"\n") || !strings.Contains(now, `"new tire" = "104.5mm"`) || !strings.Contains(now, "cells = 6") {
		t.Errorf("the file is\n%s", now)
	}
	// A tire that the file has is not asked to be named again, nor is nonsense lost.
	ask.Set("tire", "118.11")
	ask.Set("limit-motor", "hot")
	got = p.get("/car?"+ask.Encode()).has(`value="hot"`, `class="error"`)
	if form := carForm(got); form.Get("tire-3-size") != "" {
		t.Errorf("the form stands at %v", form)
	}
}
