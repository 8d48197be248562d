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

	"regear/analyze/logbook"
	"regear/analyze/run"
)

// A form keeps the units that it was made in, though others are chosen before it is sent.
func TestFormKeepsItsUnits(t *testing.T) {
	p := newPit(t, "")
	form := aRun(p.form("/log"), "84")
	p.post("/units", url.Values{"units": {"us"}, "back": {"/"}})
	if got := p.post("/log", form); !strings.HasPrefix(got.path, "/advice") {
		t.Fatalf("not saved:\n%s", got.text)
	}
	kept := p.runs()[0]
	if motor, _ := kept.Peak.Of(run.Motor); motor != 84 || kept.Ambient != 22 || kept.Tire != 118 {
		t.Errorf("stored: motor %v, air %v, tire %v", motor, kept.Ambient, kept.Tire)
	}
}

// What was asked in other units than are shown is asked the same.
func TestWhatIfKeepsItsUnits(t *testing.T) {
	p := newPit(t, "")
	p.importDemo("weekend.csv")
	const asked = "/advice?car=heron&ambient=35&minutes=12&tire=118&confidence=80&limit-motor=80"
	metric := p.get(asked)
	metric.text = strings.ReplaceAll(metric.text, "\u00a0", " ")
	metric.has(t, "As you said: air of 35 °C", "tire of 118 mm")
	back := regexp.MustCompile(`name="back" value="([^"]*)"`).FindStringSubmatch(metric.text)
	if back == nil {
		t.Fatal("the page does not say where it is")
	}
	us := p.post("/units", url.Values{"units": {"us"}, "back": {strings.ReplaceAll(back[1], "&amp;", "&")}})
	us.text = strings.ReplaceAll(us.text, "\u00a0", " ")
	us.has(t, "As you said: air of 95 °F", "As in the last run: 12 min", "the motor under 176 °F", `value="35C"`)
	if us.status != http.StatusOK {
		t.Errorf("status %d", us.status)
	}
	again := p.get("/advice?car=heron&units=us&ambient=95&tire=4.65")
	again.text = strings.ReplaceAll(again.text, "\u00a0", " ")
	again.has(t, "As you said: air of 95 °F")
}

// What can't be answered does not cost what was typed.
func TestNoAnswerKeepsTheForm(t *testing.T) {
	p := newPit(t, "")
	p.importDemo("weekend.csv")
	for query, says := range map[string]string{
		"limit-motor=20": "is not above the next run",
		"limit-motor=none&limit-esc=none&limit-battery=none":          "give one below",
		"pinions=1-400&spurs=1-400":                                   "160000 pairs, and 1000 are the most",
		"confidence=150":                                              "above 0 and below 100 %",
		"ambient=warm":                                                "not a number",
		"ambient=" + url.QueryEscape("\u0663\u0660"):                  "not a number",
		"tire=" + url.QueryEscape("1e308mm"):                          "is no tire",
		"minutes=1e9":                                                 "is no run&#39;s length",
		"limit-motor=" + url.QueryEscape("<script>alert(1)</script>"): "not a number",
	} {
		got := p.get("/advice?car=heron&max-step-up=1&" + query)
		got.has(t, says, `name="ambient"`, `name="max-step-up" value="1"`)
		if got.status != http.StatusUnprocessableEntity || strings.Contains(got.text, "<script>alert") {
			t.Errorf("%s: status %d", query, got.status)
		}
	}
	if got := p.get("/api/advice?pinions=1-400&spurs=1-400"); got.status != http.StatusUnprocessableEntity {
		t.Errorf("every gear there is: status %d", got.status)
	}
}

// What a program asks counts or is an error: it never silently does not count.
func TestBrokenQuestionIsRefused(t *testing.T) {
	p := newPit(t, "")
	p.importDemo("weekend.csv")
	for _, path := range []string{"/api/advice?ambient=35C;minutes=3", "/api/advice?ambient=%zzC", "/api/runs?since=%zz", "/runs.csv?pinion=%zz"} {
		if got := p.get(path); got.status != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d", path, got.status)
		}
	}
}

// Forms without a name are each a run of their own.
func TestFormWithoutANameIsSavedEachTime(t *testing.T) {
	p := newPit(t, "")
	for _, motor := range []string{"70", "75"} {
		form := aRun(url.Values{}, motor)
		p.post("/log", form)
	}
	if n := len(p.runs()); n != 2 {
		t.Errorf("%d runs of two", n)
	}
}

// A form that was saved, changed and sent again is not told to be saved as it is now.
func TestSavedFormSentWithOtherValues(t *testing.T) {
	p := newPit(t, "")
	form := aRun(p.form("/log"), "84")
	p.post("/log", form)
	form.Set("motor-peak", "74")
	got := p.post("/log", form)
	if got.status != http.StatusConflict || len(p.runs()) != 1 {
		t.Errorf("status %d, %d runs", got.status, len(p.runs()))
	}
	got.has(t, "saved before", "To the run that was saved")
}

func TestRunOfTheFutureIsDoubted(t *testing.T) {
	p := newPit(t, "")
	form := aRun(p.form("/log"), "84")
	form.Set("date", "2062-05-16T10:00")
	got := p.post("/log", form)
	got.has(t, "is this right?", "When it ended: 2062-05-16T10:00 lies in the future")
	form.Set("sure", hidden(t, got, "sure"))
	if p.post("/log", form); len(p.runs()) != 1 {
		t.Error("it can't be saved as it is")
	}
	// A phone may be half a day ahead of the computer.
	form = aRun(p.form("/log?car=heron"), "84")
	form.Set("date", clock.Add(14*60*60*1e9).Format("2006-01-02T15:04"))
	if p.post("/log", form); len(p.runs()) != 2 {
		t.Error("another time zone is doubted")
	}
}

// Names of files stand in messages as they are, in every script.
func TestFileNamesStandAsTheyAre(t *testing.T) {
	p := newPit(t, "")
	for _, name := range []string{"öl.csv", "weekend.csv", "週末.csv"} {
		p.send(map[string]string{name: "\x00\x00"}, map[string]string{"do": "import"}).has(t, "<p>"+name+": ")
	}
}

// An upload of very many rows would take memory by the gigabyte to say what is wrong with
// each.
func TestVeryManyLinesAreRefused(t *testing.T) {
	p := newPit(t, "")
	for _, end := range []string{"\n", "\r", "\r\n"} {
		got := p.send(map[string]string{"many.csv": header + strings.Repeat("x"+end, 250_000)}, map[string]string{"do": "import"})
		got.has(t, "more than this page takes")
		if strings.Contains(got.text, "still held") {
			t.Error("it is held all the same")
		}
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

// Where the book lies says nothing on a phone, and is nobody's business.
func TestNoErrorTellsWhereTheBookLies(t *testing.T) {
	book := logbook.Book{Path: filepath.Join(t.TempDir(), "book.csv")}
	if err := os.Mkdir(book.Path, 0o755); err != nil {
		t.Fatal(err)
	}
	site := newSite(book, "")
	site.BookPath = book.Path
	for _, path := range []string{"/", "/log", "/runs", "/advice", "/api/runs"} {
		got := httptest.NewRecorder()
		site.Handler().ServeHTTP(got, httptest.NewRequest("GET", path, nil))
		if text := got.Body.String(); got.Code != http.StatusInternalServerError || strings.Contains(text, filepath.Dir(book.Path)) || !strings.Contains(text, "log book") {
			t.Errorf("%s: status %d:\n%s", path, got.Code, text)
		}
	}
}

func TestTooLongNoteIsToldAsSuch(t *testing.T) {
	p := newPit(t, "")
	form := aRun(p.form("/log"), "84")
	form.Set("note", strings.Repeat("x", 70_000))
	got := p.post("/log", form)
	got.has(t, "A form holds 64 kB at most: shorten the note")
	if got.status != http.StatusRequestEntityTooLarge {
		t.Errorf("status %d", got.status)
	}
}
