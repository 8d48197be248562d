package web_test

import (
	"fmt"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"regear/cmd/regear/internal/web"
)

// stop is one page on a walk through the site, and how to get there from the one before.
type stop struct {
	name string
	to   func(d *driver)
}

func at(name, path string) stop {
	return stop{name, func(d *driver) { d.open(path) }}
}

// walk is every page of the site, in the states in which they look different.
var walk = []stop{
	at("home-empty", "/"),
	at("runs-empty", "/runs"),
	at("start-first", "/start"),
	{"start-refused", func(d *driver) {
		d.fillAll("Tire after, mm", "118", "Pinion before", "17", "Spur before", "68")
		d.follow("Show")
	}},
	{"start-no-log", func(d *driver) { d.fill("Tire before, mm", "104"); d.follow("Show") }},
	at("table-first", "/table"),
	at("log-first", "/log"),
	{"log-refused", func(d *driver) { d.fill("Pinion, teeth", "many"); d.follow("Save the run") }},
	at("import", "/import"),
	{"import-done", func(d *driver) { d.imports(filepath.Join(demoFolder, "weekend.csv")) }},
	{"import-refused", func(d *driver) { d.imports(filepath.Join(logsFolder, "implausible.csv")) }},
	{"import-conflict", func(d *driver) {
		d.imports(d.aFile("again.csv", header+"2026-05-16T10:50,heron,17,68,2.5,118,22,12,80\n"))
	}},
	{"import-conflicts", func(d *driver) {
		d.imports(d.aFile("again.csv", header+"2026-05-16T10:50,heron,17,68,2.5,118,22,12,80\n2026-05-16T11:35,heron,19,68,2.5,120,22,9,80\n"+
			"2026-05-17T11:35,heron,19,68,2.5,120,22,9,80\n2026-05-17T11:35,heron,19,68,2.5,120,22,9,81\n"))
	}},
	{"import-headers", func(d *driver) {
		d.imports(d.aFile("eigene.csv", "Datum,Ort an dem gefahren wurde,Ritzel,Hauptzahnrad,Reifen,Luft,Fahrzeit,Wert,Wert 2\n03/04/2026,Halle,17,68,118,22,12,84,60\n"))
	}},
	{"import-asks", func(d *driver) {
		d.imports(d.aFile("eigene.csv", "Datum,Auto,Ritzel,Reifen,Luft,Fahrzeit,Motortemp\n03/04/2026,Dachs,17,118,22,12,84\n"))
	}},
	{"import-open", func(d *driver) { d.press("All headers and more about the file") }},
	{"import-look", func(d *driver) {
		d.open("/import")
		d.chooseFiles("Files: CSV logs or .xlsx sheets", d.aFile("two.csv", header+
			"2026-05-23T10:50,wren,15,72,1,61,22,12,80\n2026-05-23T11:50,wren,16,72,1,61,22,12,84\n"))
		d.follow("Look first")
	}},
	{"import-two-cars", func(d *driver) { d.follow("Import") }},
	at("home", "/"),
	at("log-which", "/log?car="),
	at("log", "/log?car=heron"),
	{"log-open", func(d *driver) { d.press("Warm start, battery, labels and note") }},
	{"log-doubtful", func(d *driver) {
		d.fillAll("Motor, °C", "84", "Air, °C", "45", "Driven, min", "400")
		d.follow("Save the run")
	}},
	at("log-new-car", "/log?new=car"),
	at("advice", "/advice?car=heron"),
	{"advice-saved", func(d *driver) {
		d.open("/log?car=heron")
		d.fillAll("Motor, °C", "85", "ESC, °C", "59", "Battery, °C", "45", "Air, °C", "27", "Driven, min", "12")
		d.follow("Save the run")
	}},
	at("advice-next", "/advice?car=heron"),
	{"advice-open", func(d *driver) { d.press("Limits, gears and the rest") }},
	at("advice-refused", "/advice?car=heron&minutes=long"),
	at("advice-two-runs", "/advice?car=wren"),
	at("rest", "/rest?car=heron&motor-now=60&battery-now=40"),
	at("rest-refused", "/rest?car=heron&motor-now=5"),
	at("compare-first", "/compare?car=heron"),
	at("compare", "/compare?car=heron&ambient-1=35&ambient-2=35&minutes-2=15&tire-3=104"),
	at("compare-refused", "/compare?car=heron&tire-3=wide"),
	at("start", "/start?car=heron&units=metric&tire=130"),
	{"start-open", func(d *driver) { d.press("Another battery or motor"); d.press("What is at hand, and the air") }},
	at("table", "/table?car=heron"),
	at("table-two-tires", "/table?pinions=13-18&spurs=68,72&tire-1=104&tire-2=118"),
	at("car-new", "/car?car=heron"),
	{"car-refused", func(d *driver) {
		d.fillAll("Motor under, °C", "900", "Name of tire 1", "big")
		d.follow("Save this car")
	}},
	{"car-doubtful", func(d *driver) {
		d.fillAll("Motor under, °C", "30", "Across tire 1, mm", "118")
		d.follow("Save this car")
	}},
	{"car-saved", func(d *driver) {
		d.follow("Save as it is")
	}},
	at("fit", "/fit?car=heron"),
	at("hindsight", "/hindsight?car=heron"),
	at("runs", "/runs"),
	{"runs-filters", func(d *driver) { d.press("Choose runs") }},
	at("run", "/run?number=1"),
	{"run-doubtful", func(d *driver) { d.fill("Motor, °C", "140"); d.follow("Save the change") }},
	{"run-changed", func(d *driver) { d.fill("Motor, °C", "85"); d.follow("Save as it is") }},
	{"run-conflict", func(d *driver) {
		d.open("/run?number=2")
		d.fillMoment("When it ended", time.Date(2026, 5, 16, 10, 50, 0, 0, time.UTC))
		d.follow("Save the change")
	}},
	{"run-deleted", func(d *driver) { d.open("/run?number=2"); d.follow("Delete run 2") }},
	at("no-such-run", "/run?number=2"),
	at("changes", "/changes"),
	at("runs-refused", "/runs?car=heron&pinion=many"),
	at("which-car", "/advice"),
	at("no-such-page", "/garage"),
}

// TestBrowserEveryPage walks through the site and looks at each page on a phone and at a
// desk, in light and in dark: it fits the screen, can be used with a thumb, and the
// accessibility checker has nothing to say.
func TestBrowserEveryPage(t *testing.T) {
	t.Parallel()
	p := newPit(t, "")
	d := p.drive(look{device: phone})
	for _, s := range walk {
		s.to(d)
		d.inspect(s.name)
		if shown := d.shown(); strings.Contains(shown, filepath.Dir(p.book.Path)) {
			t.Errorf("%s names a folder of the computer:\n%s", s.name, shown)
		}
	}
}

// inspect looks at a page in every way. The checker reads it once in each scheme and at
// each width.
func (d *driver) inspect(name string) {
	d.Helper()
	for _, l := range looks {
		d.lookAs(l)
		d.fits(name)
		if l.touch != l.dark {
			d.isAccessible(name)
		}
		d.beginsOnScreen(name)
		d.shoot(name)
	}
	d.lookAs(look{device: phone})
	d.enlarged(name)
}

// enlarged checks that a page whose text is set to 200 % (WCAG 2.2, success criterion 1.4.4) still fits
// its screen, and that no text or control lies on another.
func (d *driver) enlarged(name string) {
	d.Helper()
	for _, wrong := range see[[]string](d, fmt.Sprintf(`(() => {
		document.documentElement.style.fontSize = "200%%";
		const wrong = [], wide = document.documentElement.scrollWidth, width = %d;
		if (wide > width) wrong.push("is " + wide + " px wide on a screen of " + width);
		const boxes = [...document.querySelectorAll("main :is(p, label, legend, h1, h2, select, input, textarea, button, summary, th, td, .button)")]
			.filter(e => e.checkVisibility() && !e.matches("[type=hidden], label input, .visually-hidden, .reach, .reach *")) // those float on purpose
			.map(e => [e, e.getBoundingClientRect()]);
		for (const [a, x] of boxes) for (const [b, y] of boxes)
			if (a !== b && !a.contains(b) && !b.contains(a) && x.width && y.width &&
				Math.min(x.right, y.right) - Math.max(x.left, y.left) > 1 && Math.min(x.bottom, y.bottom) - Math.max(x.top, y.top) > 1)
				wrong.push("has " + a.outerHTML.slice(0, 60) + " on " + b.outerHTML.slice(0, 60));
		return wrong;
	})()`, d.width)) {
		d.Errorf("%s, %s, at 200 %%: the page %s", name, d.look, wrong)
	}
	d.shoot(name + "-enlarged")
	see[string](d, `document.documentElement.style.fontSize = ""`)
}

// beginsOnScreen checks that the first picture of a page begins on its first screen, on a phone of
// usual height.
func (d *driver) beginsOnScreen(name string) {
	d.Helper()
	const usualHeight = 844 - 56 // less the navigation
	top := see[float64](d, `(() => {
		const picture = document.querySelector("figure");
		return picture && picture.checkVisibility() ? picture.getBoundingClientRect().top + scrollY : 0;
	})()`)
	if top > usualHeight {
		d.Errorf("%s, %s: the picture begins at %.0f px", name, d.look, top)
	}
}

// lookAs makes the tab look otherwise, on the page as it is.
func (d *driver) lookAs(l look) {
	d.Helper()
	d.look = l
	var mobile []chromedp.EmulateViewportOption
	if l.touch {
		mobile = append(mobile, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait)
	}
	d.must(chromedp.Do(d.ctx, chromedp.EmulateViewport(l.width, l.height, mobile...)))
	tell(d, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: l.scheme()}}})
}

// Sizes in CSS pixels. What is pressed is as large as the enhanced target size of WCAG
// 2.2 (success criterion 2.5.5, 44 by 44), for a thumb after a run; that no text is
// smaller than 14 is common practice, no source.
const (
	leastTarget = 44
	leastText   = 14
)

// fits checks that neither the page nor, on a phone, a table but the candidates' scrolls sideways, that what is pressed
// is large enough for a thumb, and that all text is large enough to be read at arm's length.
func (d *driver) fits(name string) {
	d.Helper()
	for _, wrong := range see[[]string](d, fmt.Sprintf(`(() => {
		const wrong = [], width = %d, target = %d, text = %d;
		const wide = document.documentElement.scrollWidth;
		if (wide > width) wrong.push("is " + wide + " px wide on a screen of " + width);
		for (const details of document.querySelectorAll("details:has(table)")) details.open = true;
		for (const box of document.querySelectorAll(".wide"))
			if (width < 640 && !box.ariaLabel?.startsWith("What each candidate would do") && box.scrollWidth > box.clientWidth) wrong.push("has a table of " + box.scrollWidth + " px in " + box.clientWidth + ": " + box.ariaLabel);
		for (const e of document.querySelectorAll("button, nav a, a.button, summary, select, textarea, input")) {
			const box = (e.type === "checkbox" ? e.closest("label") : e).getBoundingClientRect();
			if (box.width && (box.height < target || box.width < target))
				wrong.push("has a target of " + box.width + " by " + box.height + ": " + e.outerHTML.slice(0, 80));
		}
		const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
		for (let node; (node = walker.nextNode());) {
			const of = node.parentElement;
			if (!node.data.trim() || !of.checkVisibility() || of.closest("style, title, desc, option")) continue;
			const scale = of instanceof SVGGraphicsElement ? of.getScreenCTM().a : 1;
			const size = parseFloat(getComputedStyle(of).fontSize) * scale;
			if (size < text) wrong.push("has text of " + size.toFixed(1) + " px: " + node.data.trim().slice(0, 40));
		}
		return wrong;
	})()`, d.width, leastTarget, leastText)) {
		d.Errorf("%s, %s: the page %s", name, d.look, wrong)
	}
}

// checker is axe-core: see testdata/axe-core/SOURCE.md.
const checker = "testdata/axe-core/axe.min.js"

// isAccessible checks a page by all rules of WCAG 2 up to level AA and by those that the
// checker's makers hold to be best practice.
func (d *driver) isAccessible(name string) {
	d.Helper()
	program, err := os.ReadFile(checker)
	d.must(err)
	if !see[bool](d, `"axe" in window`) {
		see[chromedp.Void](d, string(program))
	}
	type violation struct{ Rule, Help, Where, What string }
	for _, v := range see[[]violation](d, `axe.run(document, {
		resultTypes: ["violations"],
		runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
	}).then(r => r.violations.flatMap(v => v.nodes.map(n => ({
		Rule: v.id, Help: v.help, Where: n.target.join(" "), What: n.failureSummary}))))`) {
		d.Errorf("%s, %s: %s (%s) at %s: %s", name, d.look, v.Help, v.Rule, v.Where, oneLine(v.What))
	}
}

// TestBrowserDoor looks at the page in front of the door and goes through it.
func TestBrowserDoor(t *testing.T) {
	t.Parallel()
	p := logged(t)
	site := newSite(p.book, "")
	var links []string
	door := &web.Door{Random: site.Random, NewLink: func(path string) { links = append(links, path) }}
	server := httptest.NewServer(web.Guard(door.Keep(site.Handler()), []string{"127.0.0.1"}))
	t.Cleanup(server.Close)

	d, other := drive(t, look{device: phone}, server.URL), drive(t, look{device: phone}, server.URL)
	d.open("/advice?car=heron").inspect("door-closed")
	d.reads("Closed")
	d.open(links[0]).inspect("door")
	d.follow("Come in")
	d.reads("heron")
	other.open("/advice?car=heron").reads("Closed")
	other.open(links[0]).reads("Used up")
	other.open(links[len(links)-1]).follow("Come in")
	other.reads("heron")
}
