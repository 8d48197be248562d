package web_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"
)

const header = "date,car,pinion_teeth,spur_teeth,internal_ratio,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c\n"

func TestImportTellsWhatBecameOfEachRow(t *testing.T) {
	p := newPit(t, "")
	got := p.send(map[string]string{"weekend.csv": header +
		"2026-05-16T10:50,heron,17,68,2.5,118,22,12,84\n" +
		"2026-05-16T11:30,heron,seventeen,68,2.5,118,25,8,74\n" +
		"2026-05-16T12:10,heron,16,68,2.5,118,24,12,78\n"}, map[string]string{"do": "import"})
	got.has(t, "3 rows: 2 added", "1 refused", "weekend.csv:3: pinion_teeth: &#34;seventeen&#34;", "Download refused.csv")
	if n := len(p.runs()); n != 2 {
		t.Fatalf("%d runs", n)
	}
	link := regexp.MustCompile(`/import/[^"]+/refused\.csv`).FindString(got.text)
	rejects := p.get(link)
	if !strings.Contains(rejects.text, "refused_because") || !strings.Contains(rejects.text, "seventeen") || strings.Contains(rejects.text, "2026-05-16T12:10") {
		t.Errorf("the rejects are\n%s", rejects.text)
	}
	mended := strings.Replace(rejects.text, ",seventeen,", ",17,", 1)
	p.send(map[string]string{"refused.csv": mended}, map[string]string{"do": "import"}).has(t, "1 row: 1 added")
	if n := len(p.runs()); n != 3 {
		t.Errorf("%d runs after the mended row", n)
	}
	if got := p.get("/import/random1/../../book.csv"); got.status == http.StatusOK && got.path != "/import" {
		t.Errorf("%s is served", got.path)
	}
}

func TestLookFirstWritesNothing(t *testing.T) {
	p := newPit(t, "")
	got := p.send(map[string]string{"weekend.csv": header + "2026-05-16T10:50,heron,17,68,2.5,118,22,12,84\n"}, map[string]string{"do": "look"})
	got.has(t, "1 to be added", "nothing was written", "weekend.csv is still held here")
	if n := len(p.runs()); n != 0 {
		t.Fatalf("a look wrote %d runs", n)
	}
	p.send(nil, map[string]string{"do": "import", "held": hidden(t, got, "held")}).has(t, "1 row: 1 added")
}

// hidden returns the value of a form's hidden field.
func hidden(t *testing.T, from page, name string) string {
	t.Helper()
	found := regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(from.text)
	if found == nil {
		t.Fatalf("the page has no field %q:\n%s", name, from.text)
	}
	return found[1]
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
			p.send(map[string]string{"a.csv": header + "2026-05-16T10:50,heron,17,68,2.5,118,22,12,84\n"}, map[string]string{"do": "import"})
			other := map[string]string{"b.csv": header + "2026-05-16T10:50,heron,17,68,2.5,118,22,12,80\n"}
			got := p.send(other, map[string]string{"do": "import"})
			got.has(t, "conflict", "84", "80", "Nothing was changed yet")
			decided := map[string]string{"held": hidden(t, got, "held"), "mark": hidden(t, got, "mark"), "decide": c.decide}

			// Meanwhile another phone logs a run: the page is of a book that is no more.
			p.post("/log", aRun(p.form("/log?car=heron"), "70"))
			p.send(nil, decided).has(t, "has changed since this page was made")
			if n := len(p.runs()); n != 2 {
				t.Fatalf("a stale page decided: %d runs", n)
			}

			got = p.send(other, map[string]string{"do": "import"})
			decided["held"], decided["mark"] = hidden(t, got, "held"), hidden(t, got, "mark")
			p.send(nil, decided).has(t, "holds")
			csv := p.get("/runs.csv?since=2026-05-16&until=2026-05-16&pinion=17").text
			for _, peak := range c.peaks {
				if !strings.Contains(csv, peak) {
					t.Errorf("no run with %s:\n%s", peak, csv)
				}
			}
			if n := len(p.runs()); n != 1+len(c.peaks) {
				t.Errorf("%d runs:\n%s", n, csv)
			}
		})
	}
}

func TestConflictThatWasLookedAtIsDecided(t *testing.T) {
	p := newPit(t, "")
	p.send(map[string]string{"a.csv": header + "2026-05-16T10:50,heron,17,68,2.5,118,22,12,84\n"}, map[string]string{"do": "import"})
	got := p.send(map[string]string{"b.csv": header + "2026-05-16T10:50,heron,17,68,2.5,118,22,12,80\n"}, map[string]string{"do": "look"})
	got.has(t, "conflict", "84", "80")
	p.send(nil, map[string]string{"held": hidden(t, got, "held"), "mark": hidden(t, got, "mark"), "decide": "replace"}).has(t, "1 replaced")
}

func TestWhatAFileLacksIsAskedFor(t *testing.T) {
	p := newPit(t, "")
	nameless := "date,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,Temp mot\n03/04/2026,17,68,118,22,12,84\n"
	got := p.send(map[string]string{"club.csv": nameless}, map[string]string{"do": "import"})
	got.has(t, "Temp mot")
	held := hidden(t, got, "held")
	const columns = "Temp mot=motor_peak_c"
	got = p.send(nil, map[string]string{"do": "import", "held": held, "columns": columns})
	got.has(t, "03/04/2026", "3 April", "4 March", "No usable run")
	got = p.send(nil, map[string]string{"do": "import", "held": held, "columns": columns, "order": "day-first"})
	got.has(t, "names no car")
	p.send(nil, map[string]string{"do": "import", "held": held, "columns": columns, "car": "heron", "order": "day-first"}).has(t, "1 row: 1 added")
	if kept := p.runs()[0]; kept.Day() != 20260403 || kept.Car != "heron" {
		t.Errorf("imported as %v", kept)
	}
	// The mapping is remembered, as the command remembers it.
	p.send(map[string]string{"club.csv": strings.Replace(nameless, "03/04/2026", "2026-04-05", 1)}, map[string]string{"do": "import", "car": "heron"}).has(t, "1 row: 1 added")
}

func TestUploadThatIsNoLogIsRefused(t *testing.T) {
	p := newPit(t, "")
	for name, text := range map[string]string{
		"picture.csv": "\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
		"empty.csv":   "",
		"broken.xlsx": "PK\x03\x04 and then nothing",
		"other.csv":   "a,b\n1,2\n",
	} {
		got := p.send(map[string]string{name: text}, map[string]string{"do": "import"})
		if got.status != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d", name, got.status)
		}
		got.has(t, name)
	}
	p.send(nil, map[string]string{"do": "import"}).has(t, "Choose a file first")
	p.send(nil, map[string]string{"do": "import", "held": "gone"}).has(t, "choose it again")
	if got := p.post("/import", nil); got.status != http.StatusBadRequest {
		t.Errorf("a form without files: status %d", got.status)
	}
	if n := len(p.runs()); n != 0 {
		t.Errorf("%d runs", n)
	}
}

// A file whose tires are the size of a rim is imported once the reader has said that it is
// meant, a conflict behind it included.
func TestImportAsksAboutRimSizes(t *testing.T) {
	p := newPit(t, "")
	inches := strings.Replace(header, "_mm", "_in", 1)
	file := map[string]string{"club.csv": inches + "2026-05-16T10:50,heron,17,68,2.5,2.2,22,12,84\n"}
	got := p.send(file, map[string]string{"do": "look"})
	got.has(t, "1 to be added", "is a rim size, measure across the rubber")
	got = p.send(nil, map[string]string{"do": "import", "held": hidden(t, got, "held")})
	got.has(t, "Not imported yet: is this right?", "club.csv:2: tire_diameter_in: &#34;2.2&#34;: is a rim size, measure across the rubber", "Import it as it is")
	if n := len(p.runs()); n != 0 {
		t.Fatalf("%d runs were imported unasked", n)
	}
	p.send(nil, map[string]string{"held": hidden(t, got, "held"), "sure": "yes"}).has(t, "1 row: 1 added")

	file["club.csv"] = strings.Replace(file["club.csv"], ",84", ",80", 1)
	got = p.send(file, map[string]string{"do": "import"})
	got = p.send(nil, map[string]string{"held": hidden(t, got, "held"), "sure": "yes"})
	got.has(t, "Nothing was changed yet")
	decided := map[string]string{"held": hidden(t, got, "held"), "mark": hidden(t, got, "mark"), "sure": hidden(t, got, "sure"), "decide": "replace"}
	p.send(nil, decided).has(t, "1 replaced")
}
