package web_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// imports imports a log by choosing its file.
func (d *driver) imports(path string) {
	d.Helper()
	d.open("/import")
	d.chooseFiles("Files: CSV logs or .xlsx sheets", path)
	d.follow("Import")
}

// aFile writes a log and returns its path.
func (d *driver) aFile(name, text string) string {
	d.Helper()
	path := filepath.Join(d.TempDir(), name)
	d.must(os.WriteFile(path, []byte(text), 0o644))
	return path
}

// TestBrowserRefusedRows imports a log with bad rows: each is shown with its line, its
// cell and the reason, the rest is imported, and mended the bad ones are as well.
func TestBrowserRefusedRows(t *testing.T) {
	inEach(t, []look{{device: phone}, {device: desk, noScript: true}}, emptyPit, func(p *pit, d *driver) {
		d.imports(filepath.Join(demoFolder, "weekend.csv"))
		d.imports(d.aFile("sunday.csv", header+
			"2026-05-24T10:50,heron,17,68,2.5,118,22,12,84\n"+
			"2026-05-24T11:30,heron,seventeen,68,2.5,118,25,8,74\n"+
			"2026-05-24T12:10,heron,16,68,2.5,118,24,12,hot\n"))
		d.reads("3 rows: 1 added", "2 refused",
			`sunday.csv:3: pinion_teeth: "seventeen": is not a number`,
			`sunday.csv:4: motor_peak_c: "hot": is not a number`)
		d.shoot("import-refused")
		weekend := countRows(p.T, filepath.Join(demoFolder, "weekend.csv"))
		if got := len(p.runs()); got != weekend+1 {
			p.Fatalf("the book holds %d runs, want %d", got, weekend+1)
		}
		mended := strings.NewReplacer(",seventeen,", ",17,", ",hot", ",78").Replace(d.download("Download refused.csv"))
		d.imports(d.aFile("mended.csv", mended))
		d.reads("2 rows: 2 added")
		if got := len(p.runs()); got != weekend+3 {
			p.Errorf("the book holds %d runs after the mended rows, want %d", got, weekend+3)
		}
	})
}

// TestBrowserRefusesWhatIsNoLog chooses files that hold no run.
func TestBrowserRefusesWhatIsNoLog(t *testing.T) {
	t.Parallel()
	p := newPit(t, "")
	d := p.drive(look{device: phone})
	d.open("/import").follow("Import")
	d.reads("Choose a file first")
	for _, name := range []string{"binary.csv", "empty.csv", "page.csv", "picture.csv", "archive.csv", "no-unit.csv", "header-only.csv", "misspelt-columns.csv"} {
		d.imports(filepath.Join(logsFolder, name))
		d.reads(name)
		if n := len(p.runs()); n != 0 {
			t.Fatalf("%s: %d runs were imported", name, n)
		}
	}
}

// TestBrowserConflict imports a run that the book has with other values: both are shown,
// and what the reader decides is done, unless the book has changed meanwhile.
func TestBrowserConflict(t *testing.T) {
	for _, c := range []struct {
		look
		decision string
		want     []string
	}{
		{look{device: phone}, "The file's values count", []string{"motor_peak_c=80"}},
		{look{device: phone, dark: true}, "The book's values count", []string{"motor_peak_c=84"}},
		{look{device: desk, dark: true, noScript: true}, "Keep both runs", []string{"motor_peak_c=84", "motor_peak_c=80"}},
	} {
		t.Run(c.decision, func(t *testing.T) {
			t.Parallel()
			p := newPit(t, "")
			d := p.drive(c.look)
			d.imports(d.aFile("saturday.csv", header+"2026-05-16T10:50,heron,17,68,2.5,118,22,12,84\n"))
			other := d.aFile("again.csv", header+"2026-05-16T10:50,heron,17,68,2.5,118,22,12,80\n")
			d.imports(other)
			d.reads("The log book has this run with other values", "Motor, highest", "84 °C", "80 °C", "Nothing was changed yet")
			d.shoot("import-conflict")
			p.holds("motor_peak_c=84")

			// Meanwhile another phone logs a run: the page is of a book that is no more.
			p.post("/log", aRun(p.form("/log?car=heron"), "70"))
			d.follow(c.decision)
			d.reads("has changed since this page was made", "nothing was decided")
			p.holds("motor_peak_c=84", "motor_peak_c=70")

			d.follow(c.decision)
			p.holds(append(c.want, "motor_peak_c=70")...)
		})
	}
}

// TestBrowserAmbiguousDates chooses on the page how dates are meant. The file is chosen
// once.
func TestBrowserAmbiguousDates(t *testing.T) {
	for _, c := range []struct {
		look
		order, want string
	}{
		{look{device: phone}, "are the 3rd of April", "date=2026-04-03"},
		{look{device: desk, noScript: true}, "are March the 4th", "date=2026-03-04"},
	} {
		t.Run(c.order, func(t *testing.T) {
			t.Parallel()
			p := newPit(t, "")
			d := p.drive(c.look)
			d.imports(d.aFile("club.csv", header+"2026-05-16T10:50,heron,17,68,2.5,118,22,12,80\n03/04/2026,heron,17,68,2.5,118,22,12,84\n"))
			d.reads("03/04/2026")
			d.shoot("import-dates")
			d.choose("Dates such as 03/04/2026 (date order)", c.order)
			d.follow("Import")
			p.holds(c.want, "motor_peak_c=80")
		})
	}
}

// TestBrowserConflictsOneByOne decides each of several runs by touch, and takes it back.
func TestBrowserConflictsOneByOne(t *testing.T) {
	inEach(t, []look{{device: phone}, {device: phone, dark: true, noScript: true}}, emptyPit, func(p *pit, d *driver) {
		row := func(clock, peak string) string {
			return "2026-05-16T" + clock + ",heron,17,68,2.5,118,22,12," + peak + "\n"
		}
		d.imports(d.aFile("saturday.csv", header+row("10:50", "84")+row("11:30", "74")+row("12:10", "78")))
		d.imports(d.aFile("again.csv", header+row("10:50", "80")+row("11:30", "70")+row("12:10", "71")))
		d.reads("The log book has these runs with other values", "heron, 2026-05-16 10:50", "again.csv, line 4")
		d.tapChip("heron, 2026-05-16 10:50", "The file's")
		d.tapChip("heron, 2026-05-16 11:30", "The book's")
		d.shoot("import-conflicts-chosen")
		d.enlarged("import-conflicts")
		d.follow("Do as chosen")
		d.reads("some runs are still open", "again.csv, line 4")
		d.follow("Keep both runs")
		d.reads("1 added", "1 replaced", "1 left out, as other values of the same run count")
		p.holds("motor_peak_c=80", "motor_peak_c=74", "motor_peak_c=78", "motor_peak_c=71")
		d.follow("Undo")
		p.holds("motor_peak_c=84", "motor_peak_c=74", "motor_peak_c=78")
	})
}

// tapChip taps one choice of a group.
func (d *driver) tapChip(group, words string) {
	d.Helper()
	d.must(chromedp.Do(d.ctx, d.at(d.spotOf(element(d.object(fmt.Sprintf(
		`[...document.querySelectorAll("fieldset")].find(f => f.innerText.includes(%q)).querySelectorAll("label.chip").values().find(l => l.innerText === %q)`, group, words)))))))
}

// TestBrowserHeaders imports a log without a car and with a header of its own: the
// page asks for both, and keeps the file meanwhile. What it remembers is forgotten on a tap.
func TestBrowserHeaders(t *testing.T) {
	inEach(t, []look{{device: phone}, {device: phone, dark: true, noScript: true}}, emptyPit, func(p *pit, d *driver) {
		const log = "date,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,Wert,Ort\n2026-05-16,17,68,118,22,12,84,Halle\n"
		d.imports(d.aFile("club.csv", log))
		d.reads("club.csv", "Wert", "as in Halle", "No column tells how hot the motor")
		d.choose("“Wert”, as in 84", "motor, highest, °C")
		d.shoot("import-headers")
		d.enlarged("import-headers")
		d.follow("Import")
		d.reads("which one is it?")
		d.shoot("import-nameless")
		d.fill("The car, if the file names none", "heron")
		d.follow("Import")
		d.reads("1 added")
		p.holds("car=heron motor_peak_c=84")

		d.open("/import").reads("“Wert” is motor, highest, °C")
		d.chooseFiles("Files: CSV logs or .xlsx sheets", d.aFile("club.csv", log))
		d.press("More about the file")
		d.fill("The car, if the file names none", "heron")
		d.follow("Look first")
		d.reads("1 known already", "club.csv is still held here")
		d.press("All headers and more about the file")
		d.shoot("import-remembered")
		d.enlarged("import-remembered")
		d.follow("Forget: “Wert” is motor, highest, °C")
		d.reads("No column tells how hot the motor", "club.csv is still held here")
	})
}

// countRows counts the rows of a log below its header.
func countRows(t *testing.T, path string) int {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	n := -1 // the header
	for line := range strings.Lines(string(data)) {
		if !strings.HasPrefix(line, "#") && strings.TrimSpace(line) != "" {
			n++
		}
	}
	return n
}
