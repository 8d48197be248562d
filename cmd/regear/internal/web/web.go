// Package web serves the log book as pages for the phone in the pit and the desk at
// home: the advice for each car, what else a command answers of it, logging a run, importing
// logs, the runs, hindsight.
//
// The pages are made on the server and work without a script. The handlers know the
// book, the car file and the clock through an [app.App], and touch no file and no network
// themselves, so that the same handlers can serve from within a browser as well.
//
// Handlers trust every request that reaches them. [Guard] keeps other sites out, and
// [Door] every browser that has not come in by a link.
package web

import (
	"embed"
	"net/http"
	"sync"

	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/document"
)

// Site is a log book as pages.
type Site struct {
	app.App
	// Random returns a text that can't be guessed, in letters and digits.
	Random  func() string
	Units   units.System // shown to a browser that has chosen none
	Version string
	Uploads Uploads // nil stands for memory
	Copied  Copied  // nil where the log book is a file, and the browser holds none of it

	// saving is held while a run is saved, and importing while an import is read, which
	// takes a lot of memory.
	saving, importing sync.Mutex
}

// The paths of what stands beside the pages.
const (
	stylePath  = "/style.css"
	importPath = "/import"
	carPath    = "/car"
)

//go:embed templates
var templateFiles embed.FS

//go:embed page.js
var script []byte

//go:embed icon.svg
var icon []byte

// Handler returns the handler of all pages.
func (s *Site) Handler() http.Handler {
	if s.Uploads == nil {
		s.Uploads = new(inMemory)
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET "+stylePath, asset("text/css; charset=utf-8", []byte(document.Style)))
	mux.HandleFunc("GET /page.js", asset("text/javascript; charset=utf-8", script))
	mux.HandleFunc("GET /icon.svg", asset("image/svg+xml", icon))
	mux.HandleFunc("POST /units", chooseUnits)

	mux.HandleFunc("GET /{$}", s.page(home))
	mux.HandleFunc("GET /advice", s.page(advice))
	mux.HandleFunc("GET /fit", s.page(fit))
	mux.HandleFunc("GET /hindsight", s.page(hindsight))
	mux.HandleFunc("GET /report", s.page(keepReport))
	mux.HandleFunc("GET /rest", s.page(rest))
	mux.HandleFunc("GET /compare", s.page(compare))
	mux.HandleFunc("GET /start", s.page(start))
	mux.HandleFunc("GET /table", s.page(table))
	mux.HandleFunc("GET /runs", s.page(runs))
	mux.HandleFunc("GET /runs.csv", s.page(runsCSV))
	mux.HandleFunc("GET /log", s.page(logForm))
	mux.HandleFunc("POST /log", s.page(logRun))
	mux.HandleFunc("GET "+carPath, s.page(showCar))
	mux.HandleFunc("POST "+carPath, s.page(saveCar))
	mux.HandleFunc("GET /run", s.page(editForm))
	mux.HandleFunc("POST /run", s.page(editRun))
	mux.HandleFunc("POST /run/delete", s.page(deleteRun))
	mux.HandleFunc("GET /copy.zip", s.page(saveCopy))
	mux.HandleFunc("GET /changes", s.page(changes))
	mux.HandleFunc("POST /undo", s.page(undo))
	mux.HandleFunc("GET "+importPath, s.page(importForm))
	mux.HandleFunc("POST "+importPath, s.page(importLogs))
	mux.HandleFunc("GET "+importPath+"/{id}/{file}", s.page(rejects))
	mux.HandleFunc("/", s.page(noSuchPage))

	mux.HandleFunc("GET /api/advice", s.api(adviceJSON))
	mux.HandleFunc("GET /api/runs", s.api(runsJSON))
	mux.HandleFunc("/api/", s.api(noSuchData))
	return mux
}

func asset(kind string, data []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", kind)
		w.Header().Set("Cache-Control", "max-age=600")
		_, _ = w.Write(data) // the browser is gone if this fails
	}
}
