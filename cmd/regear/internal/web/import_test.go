package web_test

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/web"
)

// controls are what a form for imports sends: hidden fields, fields, chosen options and marks.
var controls = regexp.MustCompile(`(?s)<input([^>]*)>|<select[^>]*? name="([^"]+)".*?</select>|<textarea[^>]*? name="([^"]+)"[^>]*>(.*?)</textarea>`)

var attributeOf = regexp.MustCompile(`\b(name|value|type)="([^"]*)"`)

var chosenOption = regexp.MustCompile(`<option value="([^"]*)" selected>`)

// form returns the form for imports of a page as a browser sends it untouched.
func (got page) form() url.Values {
	got.Helper()
	_, form, found := strings.Cut(got.text, `action="/import"`)
	if !found {
		got.Fatalf("no form in:\n%s", got.text)
	}
	form, _, _ = strings.Cut(form, "</form>")
	values := url.Values{}
	for _, c := range controls.FindAllStringSubmatch(form, -1) {
		switch {
		case c[2] != "":
			value := ""
			if chosen := chosenOption.FindStringSubmatch(c[0]); chosen != nil {
				value = chosen[1]
			}
			values.Add(c[2], html.UnescapeString(value))
		case c[3] != "":
			values.Add(c[3], html.UnescapeString(c[4]))
		default:
			has := map[string]string{}
			for _, a := range attributeOf.FindAllStringSubmatch(c[1], -1) {
				has[a[1]] = html.UnescapeString(a[2])
			}
			if has["type"] != "file" && (has["type"] != "radio" || strings.Contains(c[1], " checked")) {
				values.Add(has["name"], has["value"])
			}
		}
	}
	return values
}

// values returns what the form sends of one name.
func (got page) values(name string) []string { return got.form()[name] }

// press sends the form by a button, with more values given as name and value in turn.
func (got page) press(button, value string, more ...string) page {
	got.Helper()
	values := got.form()
	values.Set(button, value)
	for i := 0; i < len(more); i += 2 {
		values.Set(more[i], more[i+1])
	}
	return got.pit.sendAll(nil, values)
}

// pressWith sends the form by a button, with all values of one name.
func (got page) pressWith(button, value, name string, all []string) page {
	got.Helper()
	values := got.form()
	values.Set(button, value)
	values[name] = all
	return got.pit.sendAll(nil, values)
}

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
		decide, told string
		peaks        []string
	}{
		{"replace", "1 replaced", []string{",80,"}},
		{"keep-both", "1 added", []string{",84,", ",80,"}},
		{"keep-book", "1 left out, as other values of the same run count", []string{",84,"}},
	} {
		t.Run(c.decide, func(t *testing.T) {
			p := newPit(t, "")
			p.imports("a.csv", aRow)
			const asked = "The log book has this run with other values"
			got := p.imports("b.csv", otherRow).has(asked, "heron, 2026-05-16 10:50", "b.csv, line 2", "Motor, highest", "84 °C", "80 °C", "Nothing was changed yet",
				"The book&#39;s values count", "The file&#39;s values count", "Keep both runs")

			// Meanwhile another phone logs a run: the page is of a book that is no more, and is shown as it is now.
			p.saves(aRun(p.form("/log?car=heron"), "70"))
			got = got.press("run:b.csv:2", c.decide).has("has changed since this page was made", asked)
			p.hasRuns(2)

			got = got.press("run:b.csv:2", c.decide).has("holds", c.told)
			p.get("/runs.csv?since=2026-05-16&until=2026-05-16&pinion=17").has(c.peaks...)
			p.hasRuns(1 + len(c.peaks))
			if c.decide == "keep-book" {
				got.lacks("<button>Undo") // nothing was changed
				return
			}
			p.post("/undo", url.Values{"form": {got.hidden("form")}, "mark": {undoMark.FindStringSubmatch(got.text)[1]}})
			p.get("/runs.csv?pinion=17").has(",84,").lacks(",80,")
		})
	}
}

var undoMark = regexp.MustCompile(`action="/undo">.*?name="mark" value="([^"]*)"`)

func TestConflictThatWasLookedAtIsDecided(t *testing.T) {
	p := newPit(t, "")
	p.imports("a.csv", aRow)
	p.looks("b.csv", otherRow).has("84 °C", "80 °C").press("decide", "replace").has("1 replaced")
}

// Several conflicts are decided one by one or for all at once. What is open is asked again, and what
// was decided of the rest stays. Two rows of one file are equals, whatever counts for all.
func TestConflictsAreDecidedOneByOne(t *testing.T) {
	const other = header + "2026-05-16T10:50,heron,17,68,2.5,118,22,12,80\n2026-05-16T11:50,heron,17,68,2.5,119,22,12,76\n" +
		"2026-05-16T12:50,heron,15,68,2.5,118,22,12,70\n2026-05-16T12:50,heron,15,68,2.5,118,22,12,71\n"
	started := func(t *testing.T) (*pit, page) {
		p := newPit(t, "")
		p.imports("a.csv", aRow+"2026-05-16T11:50,heron,17,68,2.5,118,22,12,74\n")
		return p, p.imports("b.csv", other).has("These runs stand twice, with different values", "For all: the book's", "119 mm", "Tire, diameter", "Line 4&#39;s", "Line 5&#39;s")
	}
	holds := func(p *pit, want ...string) {
		p.Helper()
		p.hasRuns(len(want))
		for _, r := range p.runs() {
			peak, _ := r.Peak.Of(run.Motor)
			if text := fmt.Sprintf("%v on %v", peak, r.Tire); !slices.Contains(want, text) {
				p.Errorf("the book has a run of %s, want %v", text, want)
			}
		}
	}

	p, got := started(t)
	got = got.press("decide", "each").has("some runs are still open", "76 °C")
	got = got.press("decide", "each", "run:b.csv:2", "replace", "run:b.csv:3", "keep-book").has("Line 4&#39;s").lacks("76 °C")
	p.hasRuns(2)
	got = got.press("run:b.csv:5", "replace").has("4 rows: 1 added, 0 known already, 1 replaced, 2 left out, as other values of the same run count and 0 refused")
	holds(p, "80 on 118", "74 on 118", "71 on 118")
	got.has("<button>Undo")

	p, got = started(t)
	got = got.press("decide", "replace").has("Line 4&#39;s").lacks("76 °C")
	got.press("run:b.csv:5", "keep-both").has("2 added, 0 known already, 2 replaced")
	holds(p, "80 on 118", "76 on 119", "70 on 118", "71 on 118")

	p, got = started(t)
	got = got.press("decide", "keep-book", "run:b.csv:2", "replace").has("Line 4&#39;s").lacks("76 °C")
	got.press("run:b.csv:5", "keep-book").has("1 added, 0 known already, 3 left out")
	holds(p, "84 on 118", "74 on 118", "70 on 118")
}

// A page in °F shows both values in °F.
func TestConflictInTheUnitsOfThePage(t *testing.T) {
	p := newPit(t, "")
	p.imports("a.csv", aRow)
	p.post("/units", url.Values{"show": {"us"}})
	p.imports("b.csv", otherRow).has("183.2 °F", "176 °F")
}

// What a file does not say is asked for: its headers with their cells, the order of its dates, its
// car. The file is sent once, and what was said is remembered.
func TestWhatAFileLacksIsAskedFor(t *testing.T) {
	p := newPit(t, "")
	nameless := "date,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,Wert,Ort\n03/04/2026,17,68,118,22,12,84,Halle\n"
	got := p.imports("club.csv", nameless).hasStatus(http.StatusUnprocessableEntity).
		has("club.csv:1: this header line can&#39;t be read yet", "No column tells how hot the motor, the ESC or the battery got",
			"What are these headers?", "“Wert”, as in 84", "“Ort”, as in Halle")
	as := got.values("as")
	as[0] = "motor_peak_c"
	got = got.pressWith("do", "import", "as", as).has("03/04/2026", "3 April", "4 March", "No usable run", "club.csv is still held here")
	got = got.press("do", "import", "order", "day-first").has("names no car", "which one is it?", "“Ort”, as in Halle")
	p.hasRuns(0)
	got.press("do", "import", "car", "heron").has("1 row: 1 added")
	if kept := p.runs()[0]; kept.Day() != 20260403 || kept.Car != "heron" {
		t.Errorf("imported as %v", kept)
	}
	// The mapping is remembered, as the command remembers it.
	p.send(map[string]string{"club.csv": strings.Replace(nameless, "03/04/2026", "2026-04-05", 1)}, map[string]string{"do": "import", "car": "heron"}).has("1 row: 1 added")
	p.get("/import").has("“Wert” is motor, highest, °C", `value="Wert=motor_peak_c" aria-label="Forget: `)
}

// Of units and dates that can be two things, each is asked once for the whole file, filled in.
func TestUnitsAndDatesAreAskedForOnce(t *testing.T) {
	p := newPit(t, "")
	got := p.imports("club.csv", "date,car,Ritzel,Hauptzahnrad,Reifen,Luft,Fahrzeit,Motortemp\n03/04/2026,Dachs,17,68,118,22,12,84\n").
		hasStatus(http.StatusUnprocessableEntity).has("Nothing tells the unit of “Luft”, “Motortemp”, “Reifen”.", "The form below holds what would read it if the file is in °C and mm and").lacks("column needs its unit")
	asked, folded, _ := strings.Cut(got.text, "<details>")
	for _, id := range []string{`id="order"`, `id="units"`} {
		if !strings.Contains(asked, id) || strings.Contains(folded, id) {
			t.Errorf("%s is not asked for once, up front", id)
		}
	}
	got.press("do", "import").has("1 row: 1 added")
	if kept := p.runs()[0]; kept.Day() != 20260403 || kept.Tire != 118 {
		t.Errorf("imported as %v", kept)
	}
}

// Every column that a log may have, and all that a log must say, is told in words.
func TestEveryColumnHasWords(t *testing.T) {
	p := newPit(t, "")
	got := p.imports("other.csv", "a,b\n1,2\n").hasStatus(http.StatusUnprocessableEntity)
	for _, c := range runlog.Columns() {
		for _, name := range c.Names {
			option := regexp.MustCompile(`<option value="` + name + `">([^<]*)</option>`).FindStringSubmatch(got.text)
			if name != runlog.NumberColumn && (option == nil || strings.Contains(option[1], "_")) {
				t.Errorf("%s is called %q", name, option)
			}
		}
	}
	if told := regexp.MustCompile(`No column tells \w[^.<]+\.`).FindAllString(got.text, -1); len(told) != 7 { // the contract's needed columns: date, two gears, tire, air, minutes, a peak
		t.Errorf("told to be missing: %q", told)
	}
}

// A header that was taken for a column can be said to be another, or none: its cells stay in the book
// as they are, and that is remembered and can be forgotten without sending the file again.
func TestHeadersAreChosen(t *testing.T) {
	p := newPit(t, "")
	const log = "Datum;Auto;Ritzel;Hauptzahnrad;Reifen mm;Luft °C;Fahrzeit;Motor °C;Regler °C\n09.05.2026 10:00;Dachs;16;68;101;21;11;66;52\n"
	got := p.looks("gut.csv", log).has("1 to be added", "All headers and more about the file", "“Regler °C”, as in 52").lacks("What is this header?")
	if chosen := got.values("as"); !slices.Equal(chosen, []string{"date", "car", "pinion_teeth", "spur_teeth", "tire_diameter_mm", "ambient_c", "run_minutes", "motor_peak_c", "esc_peak_c"}) {
		t.Errorf("filled in: %q", chosen)
	}
	as := got.values("as")
	as[8] = ""
	got = got.pressWith("do", "look", "as", as).has("1 to be added")
	got.press("do", "import").has("1 row: 1 added", "kept beside the columns that are read: &#34;Regler °C&#34;")
	if got := p.runs()[0]; got.Peak.Len() != 1 {
		t.Errorf("%+v", got)
	}
	if book, err := os.ReadFile(p.book.Path); err != nil || !strings.Contains(string(book), "Regler °C") || !strings.Contains(string(book), ",52") {
		t.Errorf("%v: the book holds\n%s", err, book)
	}

	got = p.looks("gut.csv", log).has("“Regler °C” is nothing: keep it as it is", "nothing as remembered", "1 known already")
	got = got.press("forget", "Regler °C=").has("gut.csv is still held here").lacks("Remembered for your files")
	if got.values("as")[8] != "esc_peak_c" {
		t.Errorf("once forgotten: %q", got.values("as"))
	}
	got.press("do", "import").has("known with blank cells filled in")

	as = got.values("as")
	as[8] = "battery_peak_parsecs"
	got.pressWith("do", "import", "as", as).hasStatus(http.StatusUnprocessableEntity).has("there is no column")
}

// What a file can do without is read, and then asked about.
func TestHeaderThatCouldBeReadIsAskedAbout(t *testing.T) {
	p := newPit(t, "")
	p.imports("club.csv", strings.Replace(strings.Replace(aRow, "motor_peak_c", "motor_peak_c,surfase", 1), ",84\n", ",84,grass\n", 1)).
		has("1 row: 1 added", "What is this header?", "“surfase”, as in grass", "could be “surface”").
		pressWith("do", "import", "as", []string{"surface", "date", "car", "pinion_teeth", "spur_teeth", "internal_ratio", "tire_diameter_mm", "ambient_c", "run_minutes", "motor_peak_c"}).
		has("1 known with blank cells filled in")
	if got := p.runs()[0].Surface; got != "grass" {
		t.Errorf("the surface is %q", got)
	}
}

// Uploads that are gone, as after a restart, are said to be, and the answers stay in the form.
func TestUploadThatIsGone(t *testing.T) {
	p := newPit(t, "")
	const log = "date,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,Wert\n03/04/2026,17,68,118,22,12,84\n"
	got := p.imports("club.csv", log)
	got = got.press("do", "import", "order", "month-first", "car", "heron", "as", "motor_peak_c", "header", "Wert", "taken", "", "held", "gone").hasStatus(http.StatusUnprocessableEntity).
		has("no longer held here: choose it again", `type="file"`, `<details open>`, `value="heron"`,
			`<option value="month-first" selected>`, "“Wert”", `<option value="motor_peak_c" selected>`)
	values := got.form()
	values.Set("do", "import")
	p.sendAll(map[string]string{"club.csv": log}, values).has("1 row: 1 added")
	if day := p.runs()[0].Day(); day != 20260304 {
		t.Errorf("imported as of %d", day)
	}
}

// keptUploads are uploads in a store of the test's own.
type keptUploads map[string][]web.Upload

func (k keptUploads) Keep(id string, files []web.Upload) { k[id] = files }
func (k keptUploads) Get(id string) []web.Upload         { return k[id] }

// Uploads outlive a site that keeps them elsewhere: names and bytes are all it takes to go on.
func TestUploadsOutliveTheSite(t *testing.T) {
	kept, book := keptUploads{}, logbook.Book{Path: filepath.Join(t.TempDir(), "book.csv"), Name: "log book"}
	start := func() *pit {
		site := newSite(book, "")
		site.Uploads = kept
		server := httptest.NewServer(web.Guard(site.Handler(), []string{"127.0.0.1"}))
		t.Cleanup(server.Close)
		return &pit{t, book, nil, server, server.Client()}
	}
	first := start().looks("two.csv", aRow+strings.Replace(otherRow[len(header):], "heron,17", "heron,many", 1)).has("1 to be added", "1 refused", "two.csv is still held here")
	second := start()
	first.pit = second
	second.get("/import/" + first.hidden("held") + "/refused.csv").has("many")
	first.press("do", "import").has("2 rows: 1 added")
	for id := range kept {
		delete(kept, id)
	}
	second.get("/import/" + first.hidden("held") + "/refused.csv").hasStatus(http.StatusNotFound).has("import the file again")
}

// Files of one name, as a phone gives them, are told apart.
func TestFilesOfOneName(t *testing.T) {
	p := newPit(t, "")
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for _, text := range []string{aRow, otherRow} {
		file, _ := form.CreateFormFile("files", "image.csv")
		_, _ = io.WriteString(file, text)
	}
	form.Close()
	p.answer(p.client.Post(p.server.URL+"/import", form.FormDataContentType(), &body)).
		has("image.csv, line 2", "2-image.csv, line 2").press("run:2-image.csv:2", "keep-book").has("1 left out")
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
		has("give what the file lacks", "if the file is in °C and mm", `<option value="metric" selected>`, "Spur, teeth, in all runs", "as in 68")
	p.hasRuns(3)
	got.press("do", "import", "lacks:spur_teeth", "68", "constants", "internal_ratio=2.5").has("2 rows: 2 added", "spur_teeth=68 was taken for 2 runs")

	p.get("/import").has("Remembered for your files", "Spur, teeth: 68, where a file with the same headers lacks it")
	p.send(nil, map[string]string{"forget": "spur_teeth=68"})
	p.get("/import").has("Internal ratio: 2.5").lacks("Spur, teeth: 68")
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
