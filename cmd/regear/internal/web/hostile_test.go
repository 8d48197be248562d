package web_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"regear/analyze/logbook"
	"regear/analyze/run"
)

// A form keeps the units that it was made in, though others are chosen before it is sent.
func TestFormKeepsItsUnits(t *testing.T) {
	p := newPit(t, "")
	form := aRun(p.form("/log"), "84")
	p.post("/units", url.Values{"units": {"us"}, "back": {"/"}})
	p.saves(form)
	kept := p.runs()[0]
	if motor, _ := kept.Peak.Of(run.Motor); motor != 84 || kept.Ambient != 22 || kept.Tire != 118 {
		t.Errorf("stored: motor %v, air %v, tire %v", motor, kept.Ambient, kept.Tire)
	}
}

// What was asked in other units than are shown is asked the same.
func TestWhatIfKeepsItsUnits(t *testing.T) {
	p := newPit(t, "")
	p.importDemo("weekend.csv")
	back := p.get("/advice?car=heron&ambient=35&minutes=12&tire=118&confidence=80&limit-motor=80").
		has("As you said: air of 35 °C", "tire of 118 mm").hidden("back")
	p.post("/units", url.Values{"units": {"us"}, "back": {back}}).hasStatus(http.StatusOK).
		has("As you said: air of 95 °F", "As in the last run: 12 min", "the motor under 176 °F", `value="35C"`)
	p.get("/advice?car=heron&units=us&ambient=95&tire=4.65").has("As you said: air of 95 °F")
}

// What can't be answered does not cost what was typed.
func TestNoAnswerKeepsTheForm(t *testing.T) {
	p := newPit(t, "")
	p.importDemo("weekend.csv")
	for query, says := range map[string]string{
		"ambient=" + url.QueryEscape("\u0663\u0660"): "not a number",
		"limit-motor=20": "is not above the next run",
		"limit-motor=none&limit-esc=none&limit-battery=none": "give one below",
		"tire=" + url.QueryEscape("1e308mm"):                 "is no tire",
		"pinions=1-400&spurs=1-400":                          "160000 pairs, and 1000 are the most",
		"confidence=150":                                     "above 0 and below 100 %",
		"ambient=warm":                                       "not a number",
		"minutes=1e9":                                        "is no run&#39;s length",
		"limit-motor=" + url.QueryEscape("<script>alert(1)</script>"): "not a number",
	} {
		p.get("/advice?car=heron&max-step-up=1&"+query).hasStatus(http.StatusUnprocessableEntity).
			has(says, `name="ambient"`, `name="max-step-up" value="1"`).lacks("<script>alert")
	}
}

// What a program asks counts or is an error: it never silently does not count.
func TestBrokenQuestionIsRefused(t *testing.T) {
	p := newPit(t, "")
	p.importDemo("weekend.csv")
	for _, path := range []string{"/api/advice?ambient=35C;minutes=3", "/api/advice?ambient=%zzC", "/api/runs?since=%zz", "/runs.csv?pinion=%zz", "/api/advice?pinions=1-400&spurs=1-400"} {
		p.get(path).hasStatus(http.StatusUnprocessableEntity)
	}
}

// Forms without a name are each a run of their own.
func TestFormWithoutANameIsSavedEachTime(t *testing.T) {
	p := newPit(t, "")
	for _, motor := range []string{"70", "75"} {
		p.saves(aRun(url.Values{}, motor))
	}
	p.hasRuns(2)
}

// A form that was saved, changed and sent again is not told to be saved as it is now.
func TestSavedFormSentWithOtherValues(t *testing.T) {
	p := newPit(t, "")
	form := aRun(p.form("/log"), "84")
	p.saves(form)
	p.post("/log", aRun(form, "74")).hasStatus(http.StatusConflict).has("saved before", "To the run that was saved")
	p.hasRuns(1)
}

func TestRunOfTheFutureIsAskedAbout(t *testing.T) {
	p := newPit(t, "")
	form := aRun(p.form("/log"), "84", "date", "2062-05-16T10:00")
	got := p.post("/log", form).has("is this right?", "When it ended: 2062-05-16T10:00 lies in the future")
	form.Set("sure", got.hidden("sure"))
	p.saves(form)
	// A phone may be half a day ahead of the computer.
	p.saves(aRun(p.form("/log?car=heron"), "84", "date", clock.Add(14*time.Hour).Format("2006-01-02T15:04")))
	p.hasRuns(2)
}

// Names of files stand in messages as they are, in every script.
func TestFileNamesStandAsTheyAre(t *testing.T) {
	p := newPit(t, "")
	for _, name := range []string{"öl.csv", "weekend.csv", "週末.csv"} {
		p.imports(name, "\x00\x00").has("<p>" + name + ": ")
	}
}

// An upload of very many rows would take memory by the gigabyte to say what is wrong with
// each.
func TestVeryManyLinesAreRefused(t *testing.T) {
	p := newPit(t, "")
	for _, end := range []string{"\n", "\r", "\r\n"} {
		p.imports("many.csv", header+strings.Repeat("x"+end, 250_000)).has("more than this page takes").lacks("still held")
	}
}

// No page names a flag: a phone has no command line.
func TestNoPageNamesAFlag(t *testing.T) {
	p := newPit(t, "")
	p.importDemo("weekend.csv")
	flag, style := regexp.MustCompile(`--[a-z][a-z-]*`), regexp.MustCompile(`(?s)<style>.*</style>`)
	for _, path := range []string{"/", "/advice", "/advice?pinions=40-44", "/advice?max-step-up=1&pinions=30", "/fit", "/hindsight", "/runs", "/report", "/import", "/log"} {
		if found := flag.FindString(style.ReplaceAllString(p.get(path).text, "")); found != "" {
			t.Errorf("%s: names %s", path, found)
		}
	}
	logs, err := filepath.Glob("../../../../testdata/logs/*")
	if err != nil || len(logs) == 0 {
		t.Fatalf("%d logs, %v", len(logs), err)
	}
	for _, name := range logs {
		text, err := os.ReadFile(name)
		if err != nil {
			continue // a folder
		}
		for _, do := range []string{"look", "import"} {
			got := p.send(map[string]string{filepath.Base(name): string(text)}, map[string]string{"do": do})
			if found := flag.FindString(got.text); found != "" {
				at := strings.Index(got.text, found)
				t.Errorf("%s: names %s in …%s…", name, found, got.text[max(0, at-80):min(len(got.text), at+80)])
			}
		}
	}
}

// Where the book lies says nothing on a phone, and concerns nobody.
func TestNoErrorTellsWhereTheBookLies(t *testing.T) {
	book := logbook.Book{Path: filepath.Join(t.TempDir(), "book.csv"), Name: "log book"}
	if err := os.Mkdir(book.Path, 0o755); err != nil {
		t.Fatal(err)
	}
	site := newSite(book, "")
	for _, path := range []string{"/", "/log", "/runs", "/advice", "/api/runs"} {
		got := httptest.NewRecorder()
		site.Handler().ServeHTTP(got, httptest.NewRequest("GET", path, nil))
		if text := got.Body.String(); got.Code != http.StatusInternalServerError || strings.Contains(text, filepath.Dir(book.Path)) || !strings.Contains(strings.ToLower(text), "log book") {
			t.Errorf("%s: status %d:\n%s", path, got.Code, text)
		}
	}
}
