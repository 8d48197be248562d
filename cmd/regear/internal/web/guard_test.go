package web_test

import (
	"io"
	"net"
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
	"regear/cmd/regear/internal/web"
)

func TestGuardKeepsOtherSitesOut(t *testing.T) {
	p := newPit(t, "")
	host := strings.TrimPrefix(p.server.URL, "http://")
	for _, c := range []struct {
		name, method, path, host string
		header                   map[string]string
		want                     int
	}{
		{"typed", "GET", "/", host, nil, 200},
		{"a page of ours", "POST", "/units", host, map[string]string{"Sec-Fetch-Site": "same-origin", "Origin": "http://" + host}, 200},
		{"a link followed on another site", "GET", "/", host, map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}, 200},
		{"a foreign name that leads here", "GET", "/", "evil.example", nil, 421},
		{"a foreign name with the port", "GET", "/api/runs", "evil.example:8717", nil, 421},
		{"a name that begins like ours", "GET", "/", "127.0.0.1.evil.example", nil, 421},
		{"fetched by another site", "GET", "/api/runs", host, map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": "script"}, 403},
		{"framed by another site", "GET", "/", host, map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "iframe"}, 403},
		{"another port of this machine", "GET", "/api/runs", host, map[string]string{"Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "cors"}, 403},
		{"an origin by an old browser", "GET", "/api/runs", host, map[string]string{"Origin": "http://evil.example"}, 403},
		{"an origin that is nobody's", "GET", "/api/runs", host, map[string]string{"Origin": "null"}, 403},
		{"posted by another site", "POST", "/log", host, map[string]string{"Sec-Fetch-Site": "cross-site", "Origin": "http://evil.example"}, 403},
		{"posted by another site as a navigation", "POST", "/log", host, map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}, 403},
		{"posted by an old browser on another site", "POST", "/log", host, map[string]string{"Origin": "http://evil.example"}, 403},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := http.NewRequest(c.method, p.server.URL+c.path, nil)
			if err != nil {
				t.Fatal(err)
			}
			r.Host = c.host
			for name, value := range c.header {
				r.Header.Set(name, value)
			}
			got, err := p.client.Do(r)
			if err != nil {
				t.Fatal(err)
			}
			got.Body.Close()
			if got.StatusCode != c.want {
				t.Errorf("status %d, want %d", got.StatusCode, c.want)
			}
			if got.Header.Get("Content-Security-Policy") == "" || got.Header.Get("Access-Control-Allow-Origin") != "" {
				t.Error("the answer's headers let others in")
			}
		})
	}
}

func TestTooLargeIsRefused(t *testing.T) {
	p := newPit(t, "")
	p.post("/log", aRun(p.form("/log"), "84", "note", strings.Repeat("x", 70_000))).hasStatus(http.StatusRequestEntityTooLarge).
		has("A form holds 64 kB at most: shorten the note")
	p.hasRuns(0)
	p.imports("large.csv", strings.Repeat("x", 33<<20)).hasStatus(http.StatusRequestEntityTooLarge).has("regear import")
}

func TestNoPathOfARequestIsOpened(t *testing.T) {
	p := newPit(t, "")
	for _, path := range []string{"/../../etc/passwd", "/style.css/../../web.go", "/templates/layout.html", "/import/x/..%2f..%2fbook.csv",
		"/import/../book.csv", "/book.csv", "/page.js/", "/%2e%2e/book.csv", "//etc/passwd"} {
		if got := p.get(path); got.status == http.StatusOK && got.path != "/import" {
			t.Errorf("%s: status %d:\n%s", path, got.status, got.text)
		}
	}
	got := p.post("/units", url.Values{"show": {"us"}, "back": {"https://evil.example/"}})
	if got.path != "/" {
		t.Errorf("the choice of units leads to %s", got.path)
	}
	for _, back := range []string{"//evil.example/", `/\evil.example/`, "javascript:alert(1)", "http:evil.example", "%2f%2fevil.example"} {
		r, err := p.noRedirects().PostForm(p.server.URL+"/units", url.Values{"show": {"us"}, "back": {back}})
		if err != nil {
			t.Fatal(err)
		}
		r.Body.Close()
		to, err := url.Parse(r.Header.Get("Location"))
		if err != nil || to.Host != "" || to.Scheme != "" || strings.HasPrefix(r.Header.Get("Location"), "//") || strings.HasPrefix(r.Header.Get("Location"), `/\`) {
			t.Errorf("%s leads to %s", back, r.Header.Get("Location"))
		}
	}
}

// noRedirects returns the client, which stays where it is told to go on.
func (p *pit) noRedirects() *http.Client {
	client := *p.client
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &client
}

func TestMarkupInCellsStaysText(t *testing.T) {
	p := newPit(t, "")
	const markup = `"><script>alert(1)</script><img src=x onerror=alert(2)>`
	p.saves(aRun(p.form("/log"), "84", "car", markup, "note", markup))
	p.imports(markup+".csv", "date,car,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c,<b>mine\n"+
		"2026-05-16,<i>car,<b>,68,118,22,12,84,<u>x\n2026-05-16,<i>car,17,68,118,22,12,84,<u>x\n").has("&lt;b&gt;")
	for _, path := range []string{"/", "/advice?car=" + url.QueryEscape(markup), "/fit?car=" + url.QueryEscape(markup), "/hindsight?car=" + url.QueryEscape(markup),
		"/runs", "/runs?car=" + url.QueryEscape(markup), "/log?car=" + url.QueryEscape(markup), "/advice?car=" + url.QueryEscape("nobody"+markup),
		"/runs?since=" + url.QueryEscape(markup), "/advice?car=" + url.QueryEscape(markup) + "&ambient=" + url.QueryEscape(markup)} {
		got := p.get(path)
		for _, danger := range []string{"<script>alert", "<img src=x", "<b>", "<i>car", "<u>x"} {
			got.lacks(danger)
		}
	}
	// What leaves as CSV must not become a formula of a spreadsheet.
	p.saves(aRun(p.form("/log?new=car"), "84", "note", "=1+1"))
	p.get("/runs.csv?car=heron").has(",'=1+1")
}

func TestDoorLetsOneBrowserInByEachLink(t *testing.T) {
	p := newPit(t, "")
	var links []string
	secrets := 0
	door := &web.Door{Random: func() string { secrets++; return strings.Repeat("k", 25) + string(rune('a'+secrets)) },
		NewLink: func(path string) { links = append(links, path) }}
	server := httptest.NewServer(web.Guard(door.Keep(newSite(p.book, "").Handler()), []string{"127.0.0.1"}))
	defer server.Close()
	p.server = server

	for _, path := range []string{"/", "/log", "/advice", "/api/runs", "/api/advice", "/runs.csv", "/import", "/page.js", "/enter/", "/enter/guess"} {
		if got := p.get(path); got.status < 400 || strings.Contains(got.text, "Your cars") {
			t.Errorf("%s: status %d for whoever has no link", path, got.status)
		}
	}
	p.post("/log", aRun(url.Values{}, "84")).hasStatus(http.StatusUnauthorized)
	// Messengers fetch a link before anybody opens it.
	p.get(links[0]).has("Come in")
	p.get(links[0]).has("Come in")
	p.post(links[0], nil).has("Your cars")
	p.get("/").has("Your cars")

	other := newPit(t, "")
	other.server = server
	other.post(links[0], nil).has("Used up")
	other.get("/").hasStatus(http.StatusUnauthorized)
	if len(links) != 2 {
		t.Fatalf("%d links after one was used", len(links))
	}
	other.post(links[1], nil).has("Your cars")
	p.get("/").has("Your cars")
}

// TestSlowRequestIsDropped shows that a request which never ends does not keep others
// from being answered, and that its own connection is closed by the server's limits.
func TestSlowRequestIsDropped(t *testing.T) {
	p := newPit(t, "")
	slow := httptest.NewUnstartedServer(p.server.Config.Handler)
	slow.Config.ReadTimeout = 200 * time.Millisecond
	slow.Start()
	defer slow.Close()
	connection, err := net.Dial("tcp", slow.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer connection.Close()
	_, _ = io.WriteString(connection, "POST /log HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 1000\r\n\r\ncar=heron")
	_ = connection.SetReadDeadline(time.Now().Add(10 * time.Second))
	answer, _ := io.ReadAll(connection) // ends when the server hangs up
	if strings.Contains(string(answer), "200 OK") {
		t.Errorf("half a form was taken: %s", answer)
	}
	p.hasRuns(0)
}

// A form keeps the units that it was made in, though others are chosen before it is sent.
func TestFormKeepsItsUnits(t *testing.T) {
	p := newPit(t, "")
	form := aRun(p.form("/log"), "84")
	p.post("/units", url.Values{"show": {"us"}, "back": {"/"}})
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
	switched := p.get("/advice?car=heron&ambient=35&minutes=12&tire=118&confidence=80&limit-motor=80").
		has("As you said: air of 35 °C", "tire of 118 mm").attribute("formaction", "/units")
	p.post(switched, url.Values{"show": {"us"}}).hasStatus(http.StatusOK).
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

func TestRunOfTheFuture(t *testing.T) {
	p := newPit(t, "")
	p.post("/log", aRun(p.form("/log"), "84", "date", "2062-05-16T10:00")).hasStatus(http.StatusUnprocessableEntity).
		has("lies in the future, check day, month and year").lacks("is this right?")
	p.hasRuns(0)
	// A phone may be half a day ahead of the computer.
	got := p.post("/log", aRun(p.form("/log"), "84", "date", clock.Add(14*time.Hour).Format("2006-01-02T15:04"))).
		has("is this right?", "When it ended: 2026-05-31T05:04 lies in the future")
	p.saves(formOf(got))
	p.hasRuns(1)
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
	for _, path := range []string{"/", "/advice", "/advice?pinions=40-44", "/advice?max-step-up=1&pinions=30", "/fit", "/hindsight", "/runs", "/report", "/import", "/log",
		"/rest?motor-now=50", "/rest?motor-now=5", "/compare?ambient-1=35", "/start", "/start?tire=130", "/start?car=wren&tire=130&pinion=15&spur=70&from-tire=60",
		"/start?units=metric", "/start?car=heron&cells=5", "/table", "/table?pinions=13&spurs=68", "/table?units=metric", "/table?pinions=1-400&spurs=1-400"} {
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
