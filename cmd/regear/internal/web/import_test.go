package web_test

import (
	"bytes"
	"net/http"
	"regexp"
	"strings"
	"testing"
)

// again sends the form of an answer: the file is held. More values are given as name and
// value in turn.
func (p *pit) again(got page, more ...string) page {
	p.Helper()
	values := map[string]string{"held": got.hidden("held"), "mark": got.hidden("mark")}
	for i := 0; i < len(more); i += 2 {
		values[more[i]] = more[i+1]
	}
	return p.send(nil, values)
}

// looks looks at one file before it is imported.
func (p *pit) looks(name, text string) page {
	p.Helper()
	return p.send(map[string]string{name: text}, map[string]string{"do": "look"})
}

// A run, and the same run with another peak.
const (
	aRow     = header + "2026-05-16T10:50,heron,17,68,2.5,118,22,12,84\n"
	otherRow = header + "2026-05-16T10:50,heron,17,68,2.5,118,22,12,80\n"
)

const header = "date,car,pinion_teeth,spur_teeth,internal_ratio,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c\n"

func TestImportTellsWhatBecameOfEachRow(t *testing.T) {
	p := newPit(t, "")
	got := p.imports("weekend.csv", header+
		"2026-05-16T10:50,heron,17,68,2.5,118,22,12,84\n"+
		"2026-05-16T11:30,heron,seventeen,68,2.5,118,25,8,74\n"+
		"2026-05-16T12:10,heron,16,68,2.5,118,24,12,78\n").
		has("3 rows: 2 added", "1 refused", "weekend.csv:3: pinion_teeth: &#34;seventeen&#34;", "Download refused.csv")
	p.hasRuns(2)
	link := regexp.MustCompile(`/import/[^"]+/refused\.csv`).FindString(got.text)
	rejects := p.get(link).has("refused_because", "seventeen").lacks("2026-05-16T12:10")
	mended := strings.Replace(rejects.text, ",seventeen,", ",17,", 1)
	p.imports("refused.csv", mended).has("1 row: 1 added")
	p.hasRuns(3)
	if got := p.get("/import/random1/../../book.csv"); got.status == http.StatusOK && got.path != "/import" {
		t.Errorf("%s is served", got.path)
	}
}

func TestLookFirstWritesNothing(t *testing.T) {
	p := newPit(t, "")
	got := p.looks("weekend.csv", aRow).has("1 to be added", "nothing was written", "weekend.csv is still held here")
	p.hasRuns(0)
	p.again(got, "do", "import").has("1 row: 1 added")
}

func TestConflictIsDecidedOnThePage(t *testing.T) {
	for _, c := range []struct {
		decide string
		peaks  []string
	}{
		{"replace", []string{",80,"}},
		{"keep-both", []string{",84,", ",80,"}},
	} {
		t.Run(c.decide, func(t *testing.T) {
			p := newPit(t, "")
			p.imports("a.csv", aRow)
			got := p.imports("b.csv", otherRow).has("conflict", "84", "80", "Nothing was changed yet")

			// Meanwhile another phone logs a run: the page is of a book that is no more.
			p.saves(aRun(p.form("/log?car=heron"), "70"))
			p.again(got, "decide", c.decide).has("has changed since this page was made")
			p.hasRuns(2)

			p.again(p.imports("b.csv", otherRow), "decide", c.decide).has("holds")
			p.get("/runs.csv?since=2026-05-16&until=2026-05-16&pinion=17").has(c.peaks...)
			p.hasRuns(1 + len(c.peaks))
		})
	}
}

func TestConflictThatWasLookedAtIsDecided(t *testing.T) {
	p := newPit(t, "")
	p.imports("a.csv", aRow)
	p.again(p.looks("b.csv", otherRow).has("conflict", "84", "80"), "decide", "replace").has("1 replaced")
}

func TestWhatAFileLacksIsAskedFor(t *testing.T) {
	p := newPit(t, "")
	nameless := "date,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,Temp mot\n03/04/2026,17,68,118,22,12,84\n"
	got := p.imports("club.csv", nameless).has("Temp mot")
	const columns = "Temp mot=motor_peak_c"
	got = p.again(got, "do", "import", "columns", columns).has("03/04/2026", "3 April", "4 March", "No usable run")
	got = p.again(got, "do", "import", "columns", columns, "order", "day-first").has("names no car", "which one is it?")
	p.again(got, "do", "import", "columns", columns, "order", "day-first", "car", "heron").has("1 row: 1 added")
	if kept := p.runs()[0]; kept.Day() != 20260403 || kept.Car != "heron" {
		t.Errorf("imported as %v", kept)
	}
	// The mapping is remembered, as the command remembers it.
	p.send(map[string]string{"club.csv": strings.Replace(nameless, "03/04/2026", "2026-04-05", 1)}, map[string]string{"do": "import", "car": "heron"}).has("1 row: 1 added")
}

func TestUploadThatIsNoLogIsRefused(t *testing.T) {
	p := newPit(t, "")
	for name, text := range map[string]string{
		"picture.csv": "\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
		"empty.csv":   "",
		"broken.xlsx": "PK\x03\x04 and then nothing",
		"other.csv":   "a,b\n1,2\n",
	} {
		p.imports(name, text).hasStatus(http.StatusUnprocessableEntity).has(name)
	}
	p.send(nil, map[string]string{"do": "import"}).has("Choose a file first")
	p.send(nil, map[string]string{"do": "import", "held": "gone"}).has("choose it again")
	p.post("/import", nil).hasStatus(http.StatusBadRequest)
	p.hasRuns(0)
}

// A file whose tires are the size of a rim is imported once the reader has said that it is
// meant, a conflict behind it included.
func TestImportAsksAboutRimSizes(t *testing.T) {
	p := newPit(t, "")
	inches := strings.NewReplacer("_mm", "_in", ",118,", ",2.2,")
	got := p.looks("club.csv", inches.Replace(aRow)).has("1 to be added", "is a rim size, measure across the rubber")
	got = p.again(got, "do", "import").has("Not imported yet: is this right?",
		"club.csv:2: tire_diameter_in: &#34;2.2&#34;: is a rim size, measure across the rubber", "Import it as it is")
	p.hasRuns(0)
	p.again(got, "sure", "yes").has("1 row: 1 added")

	got = p.again(p.imports("club.csv", inches.Replace(otherRow)), "sure", "yes").has("Nothing was changed yet")
	p.again(got, "sure", got.hidden("sure"), "decide", "replace").has("1 replaced")
}

// A spreadsheet of the driver's own gets in as it is; words for a heat stop are asked about, and what
// was left open fills in the form.
func TestImportOfASpreadsheet(t *testing.T) {
	const header = "Datum;Auto;Ritzel;Hauptzahnrad;Innenübersetzung;Reifen Ø (mm);Luft °C;Fahrzeit;Motor °C;Regler °C\n"
	p := newPit(t, "")
	p.imports("gut.csv", header+"09.05.2026;Dachs;16;68;2,5;101,0;21,5;11,5;66;52\n").
		has("1 row: 1 added", "&#34;Ritzel&#34; → pinion_teeth")
	p.hasRuns(1)

	got := p.imports("heiß.csv", header+"10.05.2026;Dachs;17;68;2,5;101;24;12;zu heiß!;58\n").
		has("did heat end these runs?", "zu heiß!", "Heat ended them")
	p.hasRuns(1)
	p.again(got, "heat", "yes").has("1 row: 1 added")
	if last := p.runs()[1]; !last.StoppedByHeat || last.Peak.Len() != 1 {
		t.Errorf("%+v", last)
	}
	got = p.imports("wieder.csv", header+"11.05.2026;Dachs;17;68;2,5;101;24;12;zu heiß!;58\n")
	p.again(got, "heat", "no").has("1 row: 1 added", "cell left out")

	got = p.imports("offen.csv", "Date;Auto;Ritzel;Reifen;Luft;Temp;Fahrzeit;Motor\n12.05.2026;Dachs;16;101;22;25;12;66\n13.05.2026;Dachs;17;101;22;25;12;71\n").
		hasStatus(http.StatusUnprocessableEntity).
		has("the form below is filled in", "if the file is in °C and mm", `<option value="metric" selected>`, "spur_teeth=68")
	p.hasRuns(3)
	p.again(got, "do", "import", "units", "metric", "constants", "spur_teeth=68\ninternal_ratio=2.5").has("2 rows: 2 added", "spur_teeth=68 was taken for 2 runs")

	p.get("/import").has("Remembered for your files", "spur_teeth=68")
	p.send(nil, map[string]string{"forget": "spur_teeth=68"})
	p.get("/import").has("internal_ratio=2.5").lacks("Forget spur_teeth=68")
	p.send(nil, map[string]string{"forget": "internal_ratio=2.5"})
	p.get("/import").lacks("Remembered for your files")
}

// A copy of the log book that another device saved is taken like a log, with what was changed and
// deleted there.
func TestACopyIsTaken(t *testing.T) {
	here, there := twoRuns(t), twoRuns(t)
	there.post("/run", changed(there.form("/run?number=2"), "motor-peak", "76"))
	there.saves(aRun(there.form("/log?car=heron"), "79"))
	var copied bytes.Buffer
	if err := there.book.Save(&copied); err != nil {
		t.Fatal(err)
	}
	here.imports("phone.zip", copied.String()).has("a copy of the log book, 3 runs", "1 new, 1 changed there later and 1 as they are here", "motor peak 74 °C → 76 °C")
	here.hasRuns(3)
	if here.peak(2) != 76 {
		t.Errorf("run 2 has %v", here.peak(2))
	}
	here.get("/changes").has("from a copy: added 1, changed 1")
}
