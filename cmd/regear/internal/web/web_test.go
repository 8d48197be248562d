package web_test

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/klauspost/compress/gzhttp"

	"regear/advise/carfile"
	"regear/analyze/logbook"
	"regear/analyze/logbook/workbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/web"
)

// pit is a page over a log book of its own.
type pit struct {
	*testing.T
	book   logbook.Book
	cars   *carFile
	server *httptest.Server
	client *http.Client
}

// clock is the moment at which the tests log runs.
var clock = time.Date(2026, 5, 30, 15, 4, 5, 0, time.UTC)

func newPit(t *testing.T, cars string) *pit {
	t.Helper()
	book := logbook.Book{Path: filepath.Join(t.TempDir(), "book.csv"), Name: "log book"}
	site, carFile := newSiteWithCars(book, cars)
	server := httptest.NewServer(web.Guard(gzhttp.GzipHandler(site.Handler()), []string{"127.0.0.1"}))
	t.Cleanup(server.Close)
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &pit{t, book, carFile, server, &http.Client{Jar: jar}}
}

func emptyPit(t *testing.T) *pit { return newPit(t, "") }

// carFile is a car file in memory.
type carFile struct {
	mu   sync.Mutex
	text string
}

func (c *carFile) now() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.text
}

func (c *carFile) change(change func([]byte) ([]byte, error)) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	after, err := change([]byte(c.text))
	if err == nil {
		c.text = string(after)
	}
	return err
}

func newSite(book logbook.Book, cars string) *web.Site {
	site, _ := newSiteWithCars(book, cars)
	return site
}

func newSiteWithCars(book logbook.Book, cars string) (*web.Site, *carFile) {
	file := &carFile{text: cars}
	var mu sync.Mutex
	n := 0
	return &web.Site{
		App: app.App{
			Book:       book,
			Cars:       func() (*carfile.File, error) { return carfile.Read("cars.toml", strings.NewReader(file.now())) },
			ChangeCars: file.change,
			Now:        func() time.Time { return clock },
			Workbook:   workbook.Read,
		},
		Random: func() string {
			mu.Lock()
			defer mu.Unlock()
			n++
			return fmt.Sprintf("random%d", n)
		},
		Version: "test",
	}, file
}

// page is an answer as a reader gets it.
type page struct {
	*testing.T
	pit    *pit
	status int
	path   string // where redirects led
	text   string
}

func (p *pit) answer(r *http.Response, err error) page {
	p.Helper()
	if err != nil {
		p.Fatal(err)
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err != nil {
		p.Fatal(err)
	}
	// Numbers hold on to their units in HTML.
	return page{p.T, p, r.StatusCode, r.Request.URL.RequestURI(), strings.ReplaceAll(string(text), "\u00a0", " ")}
}

func (p *pit) get(path string) page {
	p.Helper()
	return p.answer(p.client.Get(p.server.URL + path))
}

func (p *pit) post(path string, values url.Values) page {
	p.Helper()
	return p.answer(p.client.PostForm(p.server.URL+path, values))
}

// send sends files and values as the form for imports does.
func (p *pit) send(files map[string]string, values map[string]string) page {
	p.Helper()
	all := url.Values{}
	for name, value := range values {
		all.Set(name, value)
	}
	return p.sendAll(files, all)
}

// sendAll sends files and values of which several may have one name.
func (p *pit) sendAll(files map[string]string, values url.Values) page {
	p.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for name, all := range values {
		for _, value := range all {
			_ = form.WriteField(name, value) // a buffer does not fail
		}
	}
	for name, text := range files {
		file, _ := form.CreateFormFile("files", name)
		_, _ = io.WriteString(file, text)
	}
	form.Close()
	return p.answer(p.client.Post(p.server.URL+"/import", form.FormDataContentType(), &body))
}

// imports imports one file.
func (p *pit) imports(name, text string) page {
	p.Helper()
	return p.send(map[string]string{name: text}, map[string]string{"do": "import"})
}

// saves sends the form of a run, which has to be saved.
func (p *pit) saves(form url.Values) page {
	p.Helper()
	got := p.post("/log", form)
	if !strings.HasPrefix(got.path, "/advice?") {
		p.Fatalf("not saved:\n%s", got.text)
	}
	return got
}

// hasRuns checks how many runs the book holds.
func (p *pit) hasRuns(want int) {
	p.Helper()
	if n := len(p.runs()); n != want {
		p.Fatalf("the book holds %d runs, want %d", n, want)
	}
}

// runs returns what the book holds.
func (p *pit) runs() []run.Run {
	p.Helper()
	snapshot, err := p.book.Snapshot(runlog.Options{})
	if err != nil {
		p.Fatal(err)
	}
	if len(snapshot.Log.Problems) > 0 {
		p.Fatalf("the book has rows that can't be used: %v", snapshot.Log.Problems)
	}
	return snapshot.Log.Runs
}

var fieldPattern = regexp.MustCompile(`(?s)<input[^>]*?\bname="([^"]+)"[^>]*?\bvalue="([^"]*)"[^>]*>`)

// form returns the fields of the form of a run, as a browser would send them
// untouched.
func (p *pit) form(path string) url.Values {
	p.Helper()
	return formOf(p.get(path))
}

func formOf(from page) url.Values {
	values := url.Values{}
	_, form, found := strings.Cut(from.text, `action="/log"`)
	if !found {
		_, form, _ = strings.Cut(from.text, `action="/run"`)
	}
	for _, field := range fieldPattern.FindAllStringSubmatch(form, -1) {
		isBox := strings.Contains(field[0], `type="checkbox"`) || strings.Contains(field[0], `type="radio"`)
		if !isBox || strings.Contains(field[0], " checked") {
			values.Set(field[1], html.UnescapeString(field[2]))
		}
	}
	return values
}

// aRun is what a driver enters of a run: the motor's peak, what the form lacks, and more
// fields, given as name and value in turn.
func aRun(form url.Values, motor string, more ...string) url.Values {
	for name, value := range map[string]string{"car": "heron", "pinion": "17", "spur": "68", "internal-ratio": "2.5",
		"tire": "118", "minutes": "12", "ambient": "22", "motor-peak": motor} {
		if form.Get(name) == "" || name == "motor-peak" {
			form.Set(name, value)
		}
	}
	for i := 0; i < len(more); i += 2 {
		form.Set(more[i], more[i+1])
	}
	return form
}

func (got page) has(want ...string) page {
	got.Helper()
	for _, w := range want {
		if !strings.Contains(got.text, w) {
			got.Errorf("%s: no %q in:\n%s", got.path, w, got.text)
		}
	}
	return got
}

func (got page) lacks(unwanted string) page {
	got.Helper()
	if strings.Contains(got.text, unwanted) {
		got.Errorf("%s: there is %q in:\n%s", got.path, unwanted, got.text)
	}
	return got
}

func (got page) hasStatus(want int) page {
	got.Helper()
	if got.status != want {
		got.Errorf("%s: status %d, want %d", got.path, got.status, want)
	}
	return got
}

// hidden returns the value of a form's hidden field.
// attribute returns the first value of an attribute that begins as wanted.
func (got page) attribute(name, begins string) string {
	got.Helper()
	found := regexp.MustCompile(` ` + name + `="(` + begins + `[^"]*)"`).FindStringSubmatch(got.text)
	if found == nil {
		got.Fatalf("%s: no %s that begins with %q in:\n%s", got.path, name, begins, got.text)
	}
	return html.UnescapeString(found[1])
}

func (got page) hidden(name string) string {
	got.Helper()
	found := regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(got.text)
	if found == nil {
		got.Fatalf("%s: no field %q in:\n%s", got.path, name, got.text)
	}
	return html.UnescapeString(found[1])
}
