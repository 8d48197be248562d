package web_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"

	"regear/analyze/logbook"
	"regear/analyze/runlog"
)

// copied is how far the copies of a test reach.
type copied struct{ last int }

func (c *copied) LastRun() (int, error) { return c.last, nil }

func (c *copied) SetLastRun(number int) error {
	c.last = number
	return nil
}

// A copy holds the book as it is. Where the browser holds the book, the first page says so, and reminds
// of a copy once ten runs are in none.
func TestCopy(t *testing.T) {
	book := logbook.Book{Path: filepath.Join(t.TempDir(), "book.csv"), Name: "log book"}
	site := newSite(book, "")
	get := func(path string) *httptest.ResponseRecorder {
		answer := httptest.NewRecorder()
		site.Handler().ServeHTTP(answer, httptest.NewRequest(http.MethodGet, path, nil))
		return answer
	}
	add := func(from, to int) {
		t.Helper()
		text := strings.Builder{}
		text.WriteString(header)
		for day := from; day <= to; day++ {
			fmt.Fprintf(&text, "2026-05-%02d,heron,17,68,2.5,118,22,12,84\n", day)
		}
		log, err := runlog.Read("some.csv", strings.NewReader(text.String()), runlog.Options{KeepCells: true})
		if err != nil || len(log.Problems) > 0 {
			t.Fatal(err, log.Problems)
		}
		if _, err := book.Add([]logbook.Contents{logbook.FromLog(log)}, logbook.Undecided); err != nil {
			t.Fatal(err)
		}
	}
	first := func(want, unwanted string) {
		t.Helper()
		page := get("/").Body.String()
		if !strings.Contains(page, want) || unwanted != "" && strings.Contains(page, unwanted) {
			t.Errorf("the first page should say %q and not %q:\n%s", want, unwanted, page)
		}
	}
	const offer, reminder, where = "Save a copy of the log book", "are in no copy yet", "lies in this browser"
	if empty := get("/copy.zip"); empty.Code != http.StatusNotFound {
		t.Errorf("a copy of no book: status %d", empty.Code)
	}
	first("The log book is empty.", offer)
	add(1, 9)
	first(offer, where)

	site.Copied = new(copied)
	first(where, reminder)
	add(10, 10)
	first("10 runs "+reminder, "")
	saved := get("/copy.zip")
	if kind := saved.Header().Get("Content-Disposition"); saved.Code != http.StatusOK || !strings.Contains(kind, `attachment; filename="regear-2026-05-30-1504.zip"`) {
		t.Errorf("status %d, %s", saved.Code, kind)
	}
	first(offer, reminder)
	add(11, 19)
	first(offer, reminder)

	other := logbook.Book{Path: filepath.Join(t.TempDir(), "book.csv")}
	if restored, err := other.Restore("copy.zip", saved.Body.Bytes()); err != nil || restored.Runs != 10 {
		t.Errorf("the copy holds %d runs (%v), want 10", restored.Runs, err)
	}
	add(20, 20)
	first("10 runs "+reminder, "")
}
