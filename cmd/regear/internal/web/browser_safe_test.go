package web_test

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"
)

// Markup that would run, were a page to take it for its own.
const (
	wickedCar  = `"><script>document.title='owned'</script>`
	wickedNote = `</textarea><img src=x onerror="document.title='owned'"><svg onload="document.title='owned'">`
	wickedHead = `<script>document.title='owned'</script><b>head`
)

// TestBrowserMarkupStaysText gives the pages markup wherever they take text. It is shown
// as it was typed and runs nowhere, and not even the browser's policy has to stop it:
// a driver's tab fails the test on any problem.
func TestBrowserMarkupStaysText(t *testing.T) {
	t.Parallel()
	p := newPit(t, "")
	d := p.drive(look{device: desk})
	harmless := func(where string, shown ...string) {
		t.Helper()
		d.reads(shown...)
		if title := see[string](d, `document.title`); strings.HasPrefix(title, "owned") {
			t.Errorf("%s: the markup ran", where)
		}
		if n := see[int](d, `document.querySelectorAll("script:not([src='/page.js']), main img, main b, [onerror], [onload]").length`); n != 0 {
			t.Errorf("%s: %d elements of the markup are on the page", where, n)
		}
	}
	d.open("/log")
	d.fillAll("The car's name", wickedCar, "Motor, °C", "84", "Driven, min", "12", "Air, °C", "22",
		"Pinion, teeth", "17", "Spur, teeth", "68", "Internal ratio", "2.5", "Tire, mm", "118")
	d.press("Warm start, battery, labels and note")
	d.fillAll("Note", wickedNote, "Surface", wickedNote, "Which motor", wickedNote)
	d.follow("Save the run")
	harmless("advice", wickedCar)
	d.follow("Log a run")
	d.press("Warm start, battery, labels and note")
	if got := d.value("Surface"); got != wickedNote {
		t.Errorf("the surface stands at %q, want it as it was typed", got)
	}
	d.fillAll("Motor, °C", wickedNote, "Driven, min", wickedNote)
	d.follow("Save the run")
	harmless("log", wickedCar, "Not saved yet")
	d.fillAll("Motor, °C", "80", "Driven, min", "12", "Air, °C", "22")
	d.follow("Save the run")

	d.imports(d.aFile(`<img src=x onerror=document.title="owned">.csv`, strings.Replace(header, "\n", ","+wickedHead+",note\n", 1)+
		`2026-05-23T10:50,wren,15,72,1,61,22,12,80,<b>1</b>,"<img src=x onerror=document.title='owned'>"`+"\n"+
		`2026-05-23T11:50,<b>wren,<b>,72,1,61,22,12,80,<b>1</b>,x`+"\n"))
	harmless("import", `<b>`, wickedHead)
	d.follow("Cars")
	harmless("cars", wickedCar)
	for _, way := range []string{"/advice", "/fit", "/hindsight", "/runs", "/log", "/car"} {
		d.open(way + "?car=" + urlOf(wickedCar))
		harmless(way, wickedCar)
	}
	d.open("/car?car=" + urlOf(wickedCar))
	d.fillAll("Name of tire 1", "x"+wickedNote, "Across tire 1, mm", "118", "Motor under, °C", wickedNote)
	d.follow("Save this car")
	harmless("this car refused", wickedCar, "Not saved yet")
	d.fill("Motor under, °C", "80")
	d.follow("Save this car")
	harmless("this car", wickedCar, "Saved.")
	if got := d.value("Name of tire 1"); got != "x"+wickedNote {
		t.Errorf("the tire's name stands at %q, want it as it was typed", got)
	}
	d.open("/runs")
	harmless("/runs", wickedCar, "wren")
	d.open("/advice?car=" + urlOf(wickedHead))
	harmless("no such car", wickedHead)
	d.open("/advice?car=" + urlOf(wickedCar) + "&minutes=" + urlOf(wickedNote) + "&surface=" + urlOf(wickedNote))
	harmless("what if", wickedCar)
}

func urlOf(text string) string {
	var b strings.Builder
	for _, c := range []byte(text) {
		fmt.Fprintf(&b, "%%%02X", c)
	}
	return b.String()
}

// mostFirst is what the first useful page may weigh at most, in bytes as they come over
// the network, with all that it loads.
const mostFirst = 40_000

// TestBrowserFirstPageIsLight opens the cars, and the advice, as a phone does that was never here.
func TestBrowserFirstPageIsLight(t *testing.T) {
	t.Parallel()
	p := newPit(t, "")
	d := p.drive(look{device: desk})
	d.imports(filepath.Join(demoFolder, "season.csv"))
	for _, car := range []string{"wren", "gull", "crane", "finch"} {
		text := header
		for i, peak := range []int{84, 78, 86, 72} {
			text += fmt.Sprintf("2026-05-%d,%s,%d,72,1,61,22,12,%d\n", 20+i, car, 15+i%2, peak)
		}
		d.imports(d.aFile(car+".csv", text))
	}
	p.isLight("/")
	p.isLight("/advice?car=heron")
}

func (p *pit) isLight(path string) {
	p.Helper()
	d := p.drive(look{device: phone})
	d.open(path)
	see[string](d, `fetch("/icon.svg").then(r => r.text())`) // a browser without a window may show none
	d.until("all of the page", func() bool {
		d.mu.Lock()
		defer d.mu.Unlock()
		asked := func(path string) bool {
			return slices.ContainsFunc(d.requests, func(url string) bool { return strings.HasPrefix(url, d.origin+path) })
		}
		return asked(path) && asked("/style.css") && asked("/page.js") && d.pending == 0
	})
	d.mu.Lock()
	defer d.mu.Unlock()
	p.Logf("%s comes in %.1f kB and %d requests: %s", path, d.received/1000, len(d.requests), strings.Join(d.requests, " "))
	if d.received > mostFirst {
		p.Errorf("%s weighs %.0f bytes, want at most %d", path, d.received, mostFirst)
	}
}

// TestBrowserKeyboard goes through pages by Tab alone: it reaches everything that can be
// used, in the order in which it stands there, and what has the focus shows it and is not
// covered by anything.
func TestBrowserKeyboard(t *testing.T) {
	t.Parallel()
	p := newPit(t, "")
	for _, l := range []look{{device: desk}, {device: phone, dark: true}} {
		d := p.drive(l)
		d.imports(filepath.Join(demoFolder, "weekend.csv"))
		for _, path := range []string{"/", "/log?car=heron", "/advice?car=heron", "/car?car=heron", "/runs?car=heron", "/import"} {
			d.open(path)
			d.tabsThrough(path)
		}
	}
}

// focused is what has the focus, and what is wrong with how it shows.
type focused struct {
	Index int // among all that can have it, in the order of the page; -1 for none
	Wrong string
}

// usable is what Tab stops at: of boxes to choose one from, at the chosen one alone, or the first.
const usable = `[...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex='0']")]
	.filter((e, i, all) => e.type !== "radio" || e === (all.find(o => o.name === e.name && o.checked) ?? all.find(o => o.name === e.name)))
	.filter(e => e.tabIndex >= 0 && e.type !== "hidden" && e.checkVisibility() && (!e.closest("details:not([open])") || e.matches("details:not([open]) > summary")))`

func (d *driver) tabsThrough(path string) {
	d.Helper()
	// A form that has the focus at once is gone through from the top as well.
	d.until("the focus", func() bool {
		return see[bool](d, `!document.querySelector("[autofocus]") || document.activeElement !== document.body`)
	})
	see[bool](d, `(document.body.tabIndex = -1, document.body.focus(), document.body.removeAttribute("tabindex"), true)`)
	all := see[int](d, usable+`.length`)
	for want := range all {
		var got focused
		// A field for a date has several parts, each with a stop of its own.
		for range 10 {
			d.keys(kb.Tab)
			got = see[focused](d, `(() => {
				const e = document.activeElement, Index = `+usable+`.indexOf(e);
				const style = getComputedStyle(e), box = e.getBoundingClientRect();
				if (style.outlineStyle === "none" || parseFloat(style.outlineWidth) < 2) return {Index, Wrong: "does not show that it has the focus"};
				const hit = document.elementFromPoint(box.x + Math.min(box.width / 2, 20), box.y + Math.min(box.height / 2, 20));
				if (!hit || !e.contains(hit)) return {Index, Wrong: "lies under " + (hit ? hit.outerHTML.slice(0, 60) : "the edge of the window")};
				return {Index, Wrong: ""};
			})()`)
			if got.Index != want-1 {
				break
			}
		}
		if got.Index != want {
			d.Fatalf("%s, %s: Tab number %d leads to number %d of %d", path, d.look, want+1, got.Index+1, all)
		}
		if got.Wrong != "" {
			d.Errorf("%s, %s: %s %s", path, d.look, see[string](d, `document.activeElement.outerHTML.slice(0, 80)`), got.Wrong)
		}
	}
}

// TestBrowserSkipLink leaps over the frame of the page.
func TestBrowserSkipLink(t *testing.T) {
	t.Parallel()
	p := logged(t)
	for _, l := range []look{{device: phone}, {device: desk, noScript: true}} {
		d := p.drive(l)
		d.open("/advice?car=heron")
		d.keys(kb.Tab)
		if shown := see[bool](d, `document.activeElement.innerText === "Skip to the content" && document.activeElement.getBoundingClientRect().x >= 0`); !shown {
			t.Errorf("%s: the first Tab does not show the link past the frame", d.look)
		}
		d.keys(kb.Enter)
		d.until("the focus in the page's own part", func() bool { return see[bool](d, `document.activeElement.id === "main"`) })
		d.keys(kb.Tab)
		if inside := see[bool](d, `document.querySelector("main").contains(document.activeElement)`); !inside {
			t.Errorf("%s: the next Tab leads out of the page's own part", d.look)
		}
	}
}

// TestBrowserLiveMistake types nonsense into what-if: the field says so at once, no answer
// stands that would be of another question, and mended it answers again.
func TestBrowserLiveMistake(t *testing.T) {
	t.Parallel()
	p := logged(t)
	d := p.drive(look{device: phone})
	d.open("/advice?car=heron")
	before := d.headline()
	for _, c := range []struct{ label, nonsense, says, mended string }{
		{"Run, min", "long", "not a number", "10"},
		{"Tire, mm", "9999", "is no tire", "118"},
		{"Air, °C", "200", "is no air to drive in", "20"},
	} {
		d.tabTo(c.label)
		d.selectAll()
		d.keys(c.nonsense)
		d.until("what is wrong with "+c.label, func() bool { return strings.Contains(d.shown(), c.says) })
		if strings.Contains(d.shown(), "Candidates") || strings.Contains(d.shown(), before) {
			t.Errorf("%s: an answer stands there in spite of %q", c.label, c.nonsense)
		}
		d.shoot("advice-live-mistake")
		d.selectAll()
		d.keys(c.mended)
		d.until("an answer", func() bool { return strings.Contains(d.shown(), "Candidates") })
		if strings.Contains(d.shown(), c.says) {
			t.Errorf("%s: the mended field is still said to be wrong", c.label)
		}
	}
	d.follow("As in the last run")
	if got := d.headline(); got != before {
		t.Errorf("as in the last run, the page says %q, and said %q before", got, before)
	}
}

// TestBrowserSliderGoesBothWays moves a slider and its number by each other.
func TestBrowserSliderGoesBothWays(t *testing.T) {
	t.Parallel()
	p := logged(t)
	d := p.drive(look{device: phone})
	d.open("/advice?car=heron")
	d.tabTo("Air, °C")
	d.selectAll()
	d.keys("30")
	if got := d.value("Air"); got != "30" {
		t.Errorf("the slider stands at %q while its number says 30", got)
	}
	d.tabTo("Air")
	d.keys(kb.ArrowLeft)
	if got := d.value("Air, °C"); got != "29" {
		t.Errorf("the number says %q while its slider stands at 29", got)
	}
	if said := of[string](d, d.find("Air", filledIn), `function () { return this.getAttribute("aria-valuetext") }`); said != "29 °C" {
		t.Errorf("the slider is read out as %q, want 29 °C", said)
	}
}
