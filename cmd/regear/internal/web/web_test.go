package web_test

import (
	"bytes"
	"fmt"
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

	"regear/advise/carfile"
	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/cmd/regear/internal/web"
)

// pit is a page over a log book of its own.
type pit struct {
	*testing.T
	book   logbook.Book
	server *httptest.Server
	client *http.Client
}

// clock is the moment at which the tests log runs.
var clock = time.Date(2026, 5, 16, 15, 4, 5, 0, time.UTC)

func newPit(t *testing.T, cars string) *pit {
	t.Helper()
	book := logbook.Book{Path: filepath.Join(t.TempDir(), "book.csv")}
	site := newSite(book, cars)
	server := httptest.NewServer(web.Guard(site.Handler(), []string{"127.0.0.1"}))
	t.Cleanup(server.Close)
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &pit{t, book, server, &http.Client{Jar: jar}}
}

func newSite(book web.Book, cars string) *web.Site {
	var mu sync.Mutex
	n := 0
	return &web.Site{
		Book: book,
		Cars: func() (*carfile.File, error) { return carfile.Read("cars.toml", strings.NewReader(cars)) },
		Now:  func() time.Time { return clock },
		Random: func() string {
			mu.Lock()
			defer mu.Unlock()
			n++
			return fmt.Sprintf("random%d", n)
		},
		Version: "test",
	}
}

// page is an answer as a reader gets it.
type page struct {
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
	return page{r.StatusCode, r.Request.URL.RequestURI(), string(text)}
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
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for name, value := range values {
		_ = form.WriteField(name, value) // a buffer does not fail
	}
	for name, text := range files {
		file, _ := form.CreateFormFile("files", name)
		_, _ = io.WriteString(file, text)
	}
	form.Close()
	return p.answer(p.client.Post(p.server.URL+"/import", form.FormDataContentType(), &body))
}

// runs returns what the book holds.
func (p *pit) runs() []run.Run {
	p.Helper()
	snapshot, err := p.book.Snapshot()
	if err != nil {
		p.Fatal(err)
	}
	if len(snapshot.Log.Problems) > 0 {
		p.Fatalf("the book has rows that can't be used: %v", snapshot.Log.Problems)
	}
	return snapshot.Log.Runs
}

var fieldPattern = regexp.MustCompile(`(?s)<input[^>]*?\bname="([^"]+)"[^>]*?\bvalue="([^"]*)"`)

// form returns the fields of the form that adds a run, as a browser would send them
// untouched.
func (p *pit) form(path string) url.Values {
	p.Helper()
	return formOf(p.get(path))
}

func formOf(from page) url.Values {
	values := url.Values{}
	_, form, _ := strings.Cut(from.text, `action="/log"`)
	for _, field := range fieldPattern.FindAllStringSubmatch(form, -1) {
		if !strings.Contains(field[0], `type="checkbox"`) {
			values.Set(field[1], field[2])
		}
	}
	return values
}

// aRun is what a driver enters of a run.
func aRun(form url.Values, motor string) url.Values {
	for name, value := range map[string]string{"car": "heron", "pinion": "17", "spur": "68", "internal-ratio": "2.5",
		"tire": "118", "minutes": "12", "ambient": "22", "motor-peak": motor} {
		if form.Get(name) == "" || name == "motor-peak" {
			form.Set(name, value)
		}
	}
	return form
}

func (got page) has(t *testing.T, want ...string) {
	t.Helper()
	for _, w := range want {
		if !strings.Contains(got.text, w) {
			t.Errorf("%s: no %q in:\n%s", got.path, w, got.text)
		}
	}
}
