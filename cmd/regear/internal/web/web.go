// Package web serves the log book as pages for the phone in the pit and the desk at
// home: the advice for each car, logging a run, importing logs, the runs, hindsight.
//
// The pages are made on the server and work without a script. The handlers know the
// book through [Book] alone and touch no file, clock or network themselves, so that
// the same handlers can serve from within a browser as well.
//
// Handlers trust whoever reaches them. [Guard] keeps other sites out, and [Door]
// everybody who has no link.
package web

import (
	"embed"
	"net/http"
	"sync"
	"time"

	"github.com/klauspost/compress/gzhttp"

	"regear/advise/carfile"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/document"
)

// Book is all that the pages know of the log book.
type Book = app.Book

// Site is a log book as pages.
type Site struct {
	Book Book
	// BookPath is how errors name the book, "" if they don't: see shownBook.
	BookPath string

	Cars func() (*carfile.File, error) // reads the car file
	Now  func() time.Time
	// Random returns a text that no one else will choose, in letters and digits.
	Random  func() string
	Units   units.System // shown where the reader did not choose
	Version string

	held   held
	logged logged
	// importing is held while an import is read, which takes a lot of memory.
	importing sync.Mutex
}

// The paths of what stands beside the pages.
const (
	stylePath  = "/style.css"
	scriptPath = "/page.js"
	iconPath   = "/icon.svg"
	importPath = "/import"
)

//go:embed icon.svg page.js templates
var assets embed.FS

// Handler returns the handler of all pages.
func (s *Site) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET "+stylePath, asset("text/css; charset=utf-8", []byte(document.Style)))
	mux.HandleFunc("GET "+scriptPath, asset("text/javascript; charset=utf-8", embedded("page.js")))
	mux.HandleFunc("GET "+iconPath, asset("image/svg+xml", embedded("icon.svg")))
	mux.HandleFunc("POST /units", chooseUnits)

	mux.HandleFunc("GET /{$}", s.page(home))
	mux.HandleFunc("GET /advice", s.page(advice))
	mux.HandleFunc("GET /fit", s.page(fit))
	mux.HandleFunc("GET /hindsight", s.page(hindsight))
	mux.HandleFunc("GET /runs", s.page(runs))
	mux.HandleFunc("GET /log", s.page(logForm))
	mux.HandleFunc("POST /log", s.page(logRun))
	mux.HandleFunc("GET "+importPath, s.page(importForm))
	mux.HandleFunc("POST "+importPath, s.page(importLogs))
	mux.HandleFunc("GET "+importPath+"/{id}/{file}", s.page(rejects))
	mux.HandleFunc("GET /report", s.page(keepReport))
	mux.HandleFunc("GET /runs.csv", s.page(runsCSV))

	mux.HandleFunc("GET /api/advice", s.api(adviceJSON))
	mux.HandleFunc("GET /api/runs", s.api(runsJSON))
	mux.HandleFunc("/api/", s.api(noSuchData))

	mux.HandleFunc("/", s.page(nowhere))
	return gzhttp.GzipHandler(mux) // a page is mostly figures and shrinks to a fifth, which tells at the far end of a field
}

// asset serves one file of the program.
func asset(kind string, data []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", kind)
		w.Header().Set("Cache-Control", "max-age=600")
		_, _ = w.Write(data) // whoever asked is gone if this fails
	}
}

// logged remembers which forms were saved, so that one that is sent twice is saved
// once, and lets one run be saved at a time.
type logged struct {
	sync.Mutex
	saved map[string]savedForm
	order []string
}

// savedForm is what became of a form.
type savedForm struct {
	sent  string // a sum of what it said
	place string // where its run can be seen
}

// mostLogged is how many forms are remembered.
const mostLogged = 500

// remember keeps what became of a form. A form without a name was not made here, and can't be
// told from others like it.
func (l *logged) remember(form string, saved savedForm) {
	if form == "" {
		return
	}
	if l.saved == nil {
		l.saved = map[string]savedForm{}
	}
	if l.order = append(l.order, form); len(l.order) > mostLogged {
		delete(l.saved, l.order[0])
		l.order = l.order[1:]
	}
	l.saved[form] = saved
}
