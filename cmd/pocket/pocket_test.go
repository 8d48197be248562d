package main

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"image/png"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
)

// The same source makes the same files, none of which says where they were made, and a first visit
// loads no more than it may.
func TestSite(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("the program takes long to build: without -short this runs")
	}
	site, err := built()
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	var told strings.Builder
	if err := run(folder, &told); err != nil {
		t.Fatal(err)
	}
	t.Log(told.String())
	top, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range site {
		got, err := os.ReadFile(filepath.Join(folder, name))
		if err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s is another one than the one before (%v)", name, err)
		}
		if name == program {
			unpacked, err := gzip.NewReader(bytes.NewReader(got))
			if err != nil {
				t.Fatal(err)
			}
			if got, err = io.ReadAll(unpacked); err != nil {
				t.Fatal(err)
			}
		}
		if bytes.Contains(got, []byte(top)) || bytes.Contains(got, []byte(os.TempDir()+"/")) {
			t.Errorf("%s says where it was made", name)
		}
	}
	var manifest struct {
		Icons []struct{ Src, Sizes, Type string }
	}
	if err := json.Unmarshal(site["manifest.webmanifest"], &manifest); err != nil || len(manifest.Icons) < 3 {
		t.Errorf("the manifest's icons are %v (%v)", manifest.Icons, err)
	}
	for _, icon := range manifest.Icons {
		if icon.Type != "image/png" {
			continue
		}
		picture, err := png.DecodeConfig(bytes.NewReader(site[icon.Src]))
		if size := fmt.Sprintf("%dx%d", picture.Width, picture.Height); err != nil || size != icon.Sizes {
			t.Errorf("%s is %s (%v), and said to be %s", icon.Src, size, err, icon.Sizes)
		}
	}
	for _, work := range []string{"\nGo: LICENSE", "\ngonum.org/v1/plot v", "\ncodeberg.org/go-fonts/liberation v"} {
		if !strings.Contains(string(site["licences.txt"]), work) {
			t.Errorf("the licence of %s is missing", work)
		}
	}
}

// An invented weekend of an invented car: what its driver types after each of three runs.
var weekend = [][]string{
	{"The car's name", "heron", "Motor, °C", "84", "ESC, °C", "57", "Battery, °C", "40", "Driven, min", "12", "Air, °C", "22",
		"Pinion, teeth", "17", "Spur, teeth", "68", "Internal ratio", "2.5", "Tire, mm", "118"},
	{"Motor, °C", "78", "ESC, °C", "53", "Battery, °C", "40", "Driven, min", "12:30", "Air, °C", "24.5", "Pinion, teeth", "16"},
	{"Motor, °C", "86", "ESC, °C", "60", "Battery, °C", "45", "Driven, min", "12", "Air, °C", "27", "Pinion, teeth", "17"},
}

// TestWeekend goes through a weekend with the network off from the first page on, and with the
// browser killed on the way. At its end the program for computers, given the phone's copy, has the
// same runs and gives the same answer.
func TestWeekend(t *testing.T) {
	t.Parallel()
	space := newWebSpace(t, "pit/") // a web space may be shared
	p := newPhone(t, "http://"+space.address+"/pit/")
	p.install()
	space.outOfReach()
	p.restart()
	p.open("")
	p.reads("The log book is empty.", "Your log book lies in this browser")
	for i, run := range weekend {
		p.follow("Log a run")
		p.fill(run...)
		p.follow("Save the run")
		p.reads("Saved: heron", fmt.Sprintf("holds %d run", i+1))
		p.restart()
		p.open("advice?car=heron")
		if figures := see[int](p, `document.querySelectorAll("main svg").length`); figures < 3 {
			t.Errorf("the advice has %d figures", figures)
		}
	}
	p.asksWhatIf()
	p.changesTheCar()
	p.mendsRuns()
	p.importsAndExports()
	p.readsAllPages()
	p.agreesWithTheComputer()
	p.behaved()
}

func (p *phone) asksWhatIf() {
	p.Helper()
	headline := func() string { return see[string](p, `document.querySelector(".headline").innerText`) }
	before := headline()
	p.fill("Run, min", "25")
	p.until("another answer", func() bool { return headline() != before })
	p.follow("How long to run, how long to rest")
	p.reads("rest")
	p.follow("To the advice")
	p.follow("Several next runs side by side")
	p.reads("side by side")
	p.open("advice?car=heron")
	if report := string(p.download("A report to keep")); !strings.Contains(report, "heron") || !strings.Contains(report, "</html>") {
		p.Errorf("the report is %q", report)
	}
}

func (p *phone) changesTheCar() {
	p.Helper()
	p.open("car?car=heron")
	p.fill("Motor under, °C", "80")
	p.follow("Save this car")
	p.reads("Saved.")
	p.restart()
	p.open("advice?car=heron")
	p.reads("80 °C")
	p.follow("Show °F and inches")
	p.reads("176 °F")
	p.restart()
	p.open("advice?car=heron")
	p.reads("176 °F")
	p.follow("Show °C and mm")
	p.reads("80 °C")
}

func (p *phone) mendsRuns() {
	p.Helper()
	p.open("run?number=2")
	p.fill("Motor, °C", "79")
	p.follow("Save the change")
	p.reads("motor 79 °C")
	p.open("run?number=3")
	p.follow("Delete run 3")
	p.reads("Deleted run 3. The log book holds 2 runs now.")
	p.restart()
	p.open("changes")
	p.reads("deleted run 3", "changed run 2")
	p.follow("Undo")
	p.reads("Undone: deleted run 3")
	if runs := p.runs(); len(runs) != 3 || runs[1].Motor != 79 {
		p.Fatalf("the book holds %v", runs)
	}
}

func (p *phone) importsAndExports() {
	p.Helper()
	p.open("")
	if see[bool](p, `document.body.innerText.includes("in no copy yet")`) {
		p.Error("three runs are no reason for a reminder")
	}
	p.follow("Import")
	season := "testdata/demo/season.csv"
	text, err := os.ReadFile(season)
	p.must(err)
	rows := strings.Count(string(text), "\n2026-")
	p.choose(season)
	p.follow("Look first")
	p.reads("nothing was written")
	p.stopWorker() // which has the file
	p.follow("Import")
	p.reads(fmt.Sprintf("%d added", rows))
	p.restart()
	p.open("")
	before := len(p.runs())
	if before != rows+3 {
		p.Errorf("the book holds %d runs, want 3 and %d imported", before, rows)
	}
	p.reads(fmt.Sprintf("%d runs are in no copy yet", before))
	p.open("runs")
	csv := string(p.download("As a CSV file"))
	if lines := strings.Count(csv, "\n"); lines != before+1 {
		p.Errorf("the CSV file of %d runs has %d lines", before, lines)
	}
}

func (p *phone) readsAllPages() {
	p.Helper()
	for path, text := range map[string]string{
		"fit?car=heron": "How heat follows gearing", "hindsight?car=heron": "the 80 % range held", "runs": "heron",
		"start?car=heron": "Tire before", "table?car=heron": "rollout", "log?car=heron": "Save the run", "nowhere": "There is no such page",
	} {
		p.open(path)
		p.reads(text)
		if path := see[string](p, `document.querySelector("header a").getAttribute("href")`); !strings.HasSuffix(p.home, path) {
			p.Errorf("the first page is at %q, the site at %s", path, p.home)
		}
	}
}

// agreesWithTheComputer restores the phone's copy with the program for computers.
func (p *phone) agreesWithTheComputer() {
	p.Helper()
	p.open("")
	saved := p.download("Save a copy of the log book")
	p.open("")
	if shown := p.shown(); strings.Contains(shown, "in no copy yet") {
		p.Errorf("after a copy the page still says:\n%s", shown)
	}
	folder := p.TempDir()
	archive := filepath.Join(folder, "phone.zip")
	p.must(os.WriteFile(archive, saved, 0o644))
	book := filepath.Join(folder, "book.csv")
	regear := func(args ...string) (answer map[string]any) {
		p.Helper()
		cmd := exec.Command("go", append([]string{"run", "./cmd/regear"}, args...)...)
		cmd.Env = append(os.Environ(), "REGEAR_BOOK="+book, "XDG_CONFIG_HOME="+folder)
		text, err := cmd.Output()
		if err != nil {
			p.Fatalf("%s: %v", cmd, err)
		}
		_ = json.Unmarshal(bytes.ReplaceAll(text, []byte(book), []byte("log book")), &answer) // restore answers in words
		return answer
	}
	agree := func() {
		p.Helper()
		for path, args := range map[string][]string{
			"api/runs":             {"runs", "--format", "json"},
			"api/advice?car=heron": {"advise", "--car", "heron", "--format", "json"},
		} {
			var there map[string]any
			text := see[string](p, fmt.Sprintf(`fetch(%q).then(r => r.text())`, p.home+path))
			p.must(json.Unmarshal([]byte(text), &there))
			if here := regear(args...); !reflect.DeepEqual(here, there) {
				p.Errorf("%s: the computer has\n%v\nthe phone\n%v", path, here, there)
			}
		}
	}
	regear("book", "restore", archive)
	agree()
	back := filepath.Join(folder, "computer.zip")
	regear("delete", "1")
	regear("edit", "2", "--motor-peak", "81C")
	regear("book", "save", back)
	p.open("import")
	p.choose(back)
	p.follow("Import")
	p.reads("1 deleted there")
	agree()
}

// TestKilledWorkers kills the worker at random moments during saves, every fifth time with the whole
// browser, and between them. What was said to be saved is there, and what was sent again because nothing was
// said is there once.
func TestKilledWorkers(t *testing.T) {
	for phone := range uint64(2) {
		t.Run(fmt.Sprint(phone), func(t *testing.T) {
			t.Parallel()
			const kills = 25
			killDuringSaves(t, phone, kills)
		})
	}
}

func killDuringSaves(t *testing.T, seed uint64, kills int) {
	space := newWebSpace(t, "")
	p := newPhone(t, "http://"+space.address+"/")
	p.install()
	space.outOfReach()
	p.follow("Log a run")
	p.fill(weekend[0]...)
	p.follow("Save the run")
	random := rand.New(rand.NewPCG(14, seed))
	var longest [2]time.Duration // that a save took, from a worker that runs and from one that has to start
	told, kept := 0, 0
	for kill := range kills {
		p.open("log?car=heron")
		at := time.Date(2026, 5, 1, 8, 0, 0, 0, time.UTC).Add(time.Duration(kill) * time.Hour)
		p.fill("Motor, °C", "80", "ESC, °C", "57", "Battery, °C", "40", "Driven, min", "12", "Air, °C", "22",
			"When it ended", at.Format("2006-01-02T15:04"), "Note", fmt.Sprintf("kill %d", kill))
		form := see[string](p, `new URLSearchParams(new FormData(document.querySelector("main form"))).toString()`)
		cold := 0
		if kill%5 == 1 {
			cold = 1
			p.stopWorker()
		}
		began := time.Now()
		p.send(form)
		if longest[cold] > 0 { // the first one says how long a save takes
			time.Sleep(time.Duration(random.Int64N(int64(longest[cold]))))
			if p.said() == "saved" {
				told++
			}
			if kill%5 == 0 {
				p.restart()
				p.open("log?car=heron")
			} else {
				p.stopWorker()
			}
			cold = 0
			kept += strings.Count(fmt.Sprint(p.runs()), fmt.Sprintf("kill %d}", kill))
			began = time.Now()
			p.send(form)
		}
		p.until("an answer", func() bool { return p.said() != "" })
		if said := p.said(); said != "saved" {
			t.Fatalf("kill %d: sent again, the form is answered with: %s", kill, said)
		}
		longest[cold] = max(longest[cold], time.Since(began))
	}
	notes := map[string]int{}
	for _, run := range p.runs() {
		notes[run.Note]++
	}
	for kill := range kills {
		if n := notes[fmt.Sprintf("kill %d", kill)]; n != 1 {
			t.Errorf("the run of kill %d is there %d times", kill, n)
		}
	}
	t.Logf("%d kills: %d saves were told before, %d were done; none lost, none doubled", kills, told, kept)
}

// send sends a form to be saved, and leaves what is said to it to said.
func (p *phone) send(form string) {
	p.Helper()
	see[bool](p, fmt.Sprintf(`(() => {
		window.said = "";
		const mine = window.latest = (window.latest ?? 0) + 1; // what an earlier one comes to says nothing of this one
		const says = (text) => { if (mine === window.latest) window.said = text; };
		fetch("log", { method: "POST", body: new URLSearchParams(%q), redirect: "manual" }).then(
			async reply => says(reply.type === "opaqueredirect" ? "saved" : await reply.text()), error => says(String(error)));
		return true;
	})()`, form))
}

func (p *phone) said() string {
	p.Helper()
	return see[string](p, "window.said")
}

// TestForeignForm sends a form of another site to the log book: it is refused, whatever the form says.
func TestForeignForm(t *testing.T) {
	t.Parallel()
	space, other := newWebSpace(t, ""), newWebSpace(t, "")
	p := newPhone(t, "http://"+space.address+"/")
	p.install()
	other.put("evil.html", fmt.Appendf(nil, `<!doctype html><meta name="referrer" content="no-referrer"><main><form method="post" action="%slog">
		<input name="car" value="heron"><input name="motor-peak" value="84"><input name="minutes" value="12"><input name="ambient" value="22">
		<input name="pinion" value="17"><input name="spur" value="68"><input name="internal-ratio" value="2.5"><input name="tire" value="118"><button>Go</button></form></main>`, p.home))
	home := p.home
	p.home = "http://" + other.address + "/"
	p.open("evil.html")
	p.follow("Go")
	p.reads("Another site asked for this, so it was refused.")
	p.home = home
	p.open("")
	p.reads("The log book is empty.")
	p.behaved()
}

// TestNewVersion puts a new version on the web space. One that is there by half is not taken; a whole
// one waits until the driver changes to it, and finds the log book as it was.
func TestNewVersion(t *testing.T) {
	t.Parallel()
	space := newWebSpace(t, "")
	p := newPhone(t, "http://"+space.address+"/")
	p.install()
	p.follow("Log a run")
	p.fill(weekend[0]...)
	p.follow("Save the run")
	site, err := built()
	p.must(err)
	// The new version has another style sheet, which its worker knows by another sum.
	style := append(slices.Clone(site["style.css"]), "\n/* new */\n"...)
	worker := strings.Replace(string(site["sw.js"]), sumOf(site["style.css"]), sumOf(style), 1)
	space.put("sw.js", []byte(strings.Replace(worker, `cacheName = ours + "`, `cacheName = ours + "new `, 1)))
	isNew := func() bool {
		return see[bool](p, `fetch("/style.css").then(r => r.text()).then(text => text.includes("/* new */"))`)
	}
	update := func() {
		see[bool](p, `navigator.serviceWorker.getRegistration().then(r => r.update()).then(() => true, () => true)`)
	}
	update()
	time.Sleep(2 * time.Second)
	p.open("")
	if isNew() || see[bool](p, `document.getElementById("renew") !== null`) {
		t.Error("half a version was taken")
	}
	space.put("style.css", style)
	update()
	p.until("the notice of a new version", func() bool { return strings.Contains(p.shown(), "A new version of regear is here.") })
	if isNew() {
		t.Error("the new version took its place before it was asked to")
	}
	p.follow("Change to it")
	if !isNew() {
		t.Error("the new version was not taken")
	}
	if runs := p.runs(); len(runs) != 1 {
		t.Errorf("the book holds %v", runs)
	}
	p.behaved()
}

// BenchmarkPages measures what pages cost on this machine: the first page from a browser that was just
// started, in seconds of all its processors, and the advice from a worker that runs, by the clock too.
func BenchmarkPages(b *testing.B) {
	space := newWebSpace(b, "")
	p := newPhone(b, "http://"+space.address+"/")
	p.install()
	p.open("import")
	p.choose("testdata/demo/season.csv")
	p.follow("Import")
	var cold, warmBusy float64
	var warm time.Duration
	for b.Loop() {
		p.restart()
		before := p.busy()
		p.open("")
		cold += p.busy() - before
		p.open("advice?car=heron")
		began := time.Now()
		before = p.busy()
		p.open("advice?car=heron")
		warm, warmBusy = warm+time.Since(began), warmBusy+p.busy()-before
	}
	b.ReportMetric(cold/float64(b.N), "cold-cpu-s")
	b.ReportMetric(warm.Seconds()/float64(b.N), "warm-advice-s")
	b.ReportMetric(warmBusy/float64(b.N), "warm-advice-cpu-s")
}

// TestFirstPageIsAccessible runs the accessibility checker on the page that installs the program, with
// all that it may say shown at once. What it may say when loading fails, it says.
func TestFirstPageIsAccessible(t *testing.T) {
	t.Parallel()
	space := newWebSpace(t, "")
	if err := os.Remove(filepath.Join(space.folder, "sw.js")); err != nil {
		t.Fatal(err)
	}
	checker, err := os.ReadFile("cmd/regear/internal/web/testdata/axe-core/axe.min.js")
	if err != nil {
		t.Fatal(err)
	}
	p := newPhone(t, "http://"+space.address+"/")
	p.open("")
	p.until("that loading broke off", func() bool { return strings.Contains(p.shown(), "Loading broke off.") })
	see[any](p, string(checker)+`; document.querySelectorAll("[hidden]").forEach(e => { e.hidden = false; })`)
	for _, wrong := range see[[]string](p, `axe.run(document, {
		resultTypes: ["violations"],
		runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
	}).then(r => r.violations.flatMap(v => v.nodes.map(n => v.id + " at " + n.target + ": " + n.failureSummary)))`) {
		t.Error(wrong)
	}
}
