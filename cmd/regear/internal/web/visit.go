package web

import (
	"bytes"
	"errors"
	"html/template"
	"net/http"
	"net/url"
	"strings"
	"sync"

	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/report"
)

// visit is one request, with what its handler may use.
type visit struct {
	*http.Request
	site  *Site
	units units.System
}

// view is one page.
type view struct {
	status   int // 0 stands for 200
	title    string
	back     string // the page's address, "" for the one that was asked for
	car      string // that the page is about, "" if none
	template string // of the page's main part
	body     any
}

// reply is what a handler answers with: a view, another address, or a file.
type reply interface {
	send(w http.ResponseWriter, v *visit)
}

// elsewhere sends the reader on.
type elsewhere string

func (to elsewhere) send(w http.ResponseWriter, v *visit) {
	http.Redirect(w, v.Request, string(to), http.StatusSeeOther)
}

// download is a file to keep.
type download struct {
	name, kind string
	data       []byte
}

func (d download) send(w http.ResponseWriter, _ *visit) {
	w.Header().Set("Content-Type", d.kind)
	w.Header().Set("Content-Disposition", `attachment; filename="`+d.name+`"`)
	_, _ = w.Write(d.data) // whoever asked is gone if this fails
}

// page makes a handler of one that answers with a reply or an error.
func (s *Site) page(handle func(*visit) (reply, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v := &visit{Request: r, site: s, units: s.unitsOf(r)}
		answer, err := handle(v)
		if err != nil {
			answer = s.problemView(err)
		}
		answer.send(w, v)
	}
}

// problem is an error with what the reader is told and may do next.
type problem struct {
	status int
	title  string
	err    error
	next   *link
}

type link struct{ Path, Words string }

func (p *problem) Error() string { return p.title + ": " + p.err.Error() }
func (p *problem) Unwrap() error { return p.err }

// problemView shows an error.
func (s *Site) problemView(err error) *view {
	p := &problem{status: http.StatusInternalServerError, title: "That did not work", err: err}
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &p):
	case errors.As(err, &tooLarge):
		p.status, p.title = http.StatusRequestEntityTooLarge, "Too large"
		p.err = errors.New("what was sent is larger than this page takes: use regear import on the computer")
	}
	return &view{status: p.status, title: p.title, template: "problem.html", body: struct {
		Title string
		Lines []string
		Next  *link
	}{p.title, s.reasons(p.err), p.next}}
}

// reasons returns what an error says, line by line, with the rows of the book that are
// to be mended.
func (s *Site) reasons(err error) []string {
	text := s.wording(err)
	if !errors.As(err, new(run.Problem)) && !errors.As(err, new(*runlog.HeaderError)) {
		text = capital(text) // what begins with the name of a file keeps it
	}
	lines := strings.Split(text, "\n")
	var rows *logbook.RowsError
	if errors.As(err, &rows) {
		for _, p := range rows.Problems {
			p.File = shownBook
			lines = append(lines, p.String())
		}
	}
	return lines
}

// wording returns what an error says, without where the book lies.
func (s *Site) wording(err error) string {
	if s.BookPath == "" {
		return err.Error()
	}
	return strings.ReplaceAll(err.Error(), s.BookPath, shownBook)
}

// nowhere answers for every other path.
func nowhere(*visit) (reply, error) {
	return nil, &problem{http.StatusNotFound, "There is no such page", errors.New("the address leads nowhere here"), &link{"/", "To the cars"}}
}

// way is one entry of the navigation.
type way struct {
	Path, Name string
	Here       bool
}

func (v *visit) ways(car string) []way {
	ways := []way{{"/", "Cars", false}, {"/advice", "Advice", false}, {"/log", "Log a run", false},
		{"/runs", "Runs", false}, {importPath, "Import", false}}
	if car == "" {
		// Without a car, the advice of each stands on the first page.
		ways = append(ways[:1], ways[2:]...)
	}
	for i := range ways {
		w := &ways[i]
		w.Here = v.URL.Path == w.Path
		if car != "" && w.Path != "/" && w.Path != importPath {
			w.Path = forCar(w.Path, car)
		}
	}
	return ways
}

// forCar returns the address of a page about a car.
func forCar(path, car string) string { return path + "?" + url.Values{"car": {car}}.Encode() }

func (p *view) send(w http.ResponseWriter, v *visit) {
	other, words := units.US, "°F and inches"
	if v.units == units.US {
		other, words = units.Metric, "°C and mm"
	}
	back := p.back
	if back == "" {
		back = v.URL.Path
		if v.Method == http.MethodGet && v.URL.RawQuery != "" {
			back += "?" + v.URL.RawQuery
		}
	}
	status := p.status
	if status == 0 {
		status = http.StatusOK
	}
	render(w, status, p.template, struct {
		Title, Car, Back            string
		OtherUnits, OtherUnitsWords string
		Ways                        []way
		Body                        any
		Version                     string
	}{p.title, p.car, back, unitsName(other), words, v.ways(p.car), p.body, v.site.Version})
}

// pages are the templates by the name of their file, each with the layout and the
// parts that pages share. They are read with the first page: the other commands need none.
var pages = sync.OnceValue(func() map[string]*template.Template {
	entries, err := assets.ReadDir("templates")
	if err != nil {
		panic(err) // it is embedded
	}
	shared := template.Must(template.ParseFS(assets, "templates/layout.html", "templates/parts.html"))
	all := map[string]*template.Template{}
	for _, e := range entries {
		t := template.Must(template.Must(shared.Clone()).ParseFS(assets, "templates/"+e.Name()))
		all[e.Name()] = t
	}
	return all
})

// render writes a page whole or, if its template fails, not at all.
func render(w http.ResponseWriter, status int, name string, data any) {
	t := pages()[name]
	entry := "layout"
	if t.Lookup("main") == nil {
		entry = name // a page without the frame
	}
	var text bytes.Buffer
	if err := t.ExecuteTemplate(&text, entry, data); err != nil {
		http.Error(w, "This page could not be made: "+err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(text.Bytes()) // whoever asked is gone if this fails
}

func embedded(name string) []byte {
	data, err := assets.ReadFile(name)
	if err != nil {
		panic(err) // it is embedded
	}
	return data
}

// garage is the log book as one request finds it.
type garage struct {
	logbook.Snapshot
	names []string
	byCar map[string][]run.Run
	file  *carfile.File
	// fileErr is why the car file can't be read. A run can be logged without it; an answer
	// without the driver's own limits would be another.
	fileErr error
}

// app returns what the pages stand on.
func (v *visit) app() *app.App {
	return &app.App{Book: v.site.Book, Cars: v.site.Cars, Now: v.site.Now}
}

// logs returns the book's runs.
func (g *garage) logs() *app.Logs {
	return &app.Logs{Runs: g.Log.Runs, Notes: g.noticed(), Names: g.names, ByCar: g.byCar, Mark: g.Mark}
}

func (v *visit) garage() (*garage, error) {
	snapshot, err := v.site.Book.Snapshot()
	if err != nil {
		return nil, err
	}
	g := &garage{Snapshot: snapshot}
	if g.file, g.fileErr = v.site.Cars(); g.fileErr != nil {
		g.file = &carfile.File{}
	}
	g.rename()
	g.names, g.byCar = analyze.Cars(snapshot.Log.Runs)
	return g, nil
}

// shownBook is what places in the log book are shown in: where the file lies says nothing
// on a phone, and is nobody's business.
const shownBook = "log book"

// rename puts the places of all that was read into shownBook.
func (g *garage) rename() {
	for i := range g.Log.Runs {
		g.Log.Runs[i].File = shownBook
	}
	for _, found := range [][]run.Problem{g.Log.Problems, g.Log.Warnings} {
		for i := range found {
			found[i].File = shownBook
		}
	}
}

// noticed returns what was noticed while the book was read.
func (g *garage) noticed() report.Noticed {
	return report.Noticed{LeftOut: g.Log.Problems, Doubtful: g.Log.Warnings}
}

// car returns the car that a page is asked about, or the only one.
func (v *visit) car(g *garage) (string, error) {
	query := v.URL.Query()
	name, known := analyze.CarNamed(query.Get("car"), g.names)
	switch {
	case query.Has("car") && !known:
		return "", &problem{http.StatusNotFound, "There is no such car",
			errors.New("the log book holds no run of a car called “" + query.Get("car") + "”"), &link{"/", "To the cars"}}
	case query.Has("car"):
		return name, nil
	case len(g.names) == 1:
		return g.names[0], nil
	case len(g.names) == 0:
		return "", &problem{http.StatusNotFound, "The log book is empty",
			errors.New("log a run or import a log first"), &link{"/log", "Log a run"}}
	}
	return "", &problem{http.StatusBadRequest, "Which car?",
		errors.New("the log book holds several cars: choose one"), &link{"/", "To the cars"}}
}

// The reader's browser keeps the choice of units.
const unitsCookie = "regear_units"

func unitsName(u units.System) string {
	if u == units.US {
		return "us"
	}
	return "metric"
}

// unitsNamed returns the units of a name, or others where no units have it.
func unitsNamed(name string, others units.System) units.System {
	for _, u := range []units.System{units.Metric, units.US} {
		if name == unitsName(u) {
			return u
		}
	}
	return others
}

func (s *Site) unitsOf(r *http.Request) units.System {
	cookie, err := r.Cookie(unitsCookie)
	if err != nil {
		return s.Units
	}
	return unitsNamed(cookie.Value, s.Units)
}

// chooseUnits keeps a choice and goes back to the page it was made on.
func chooseUnits(w http.ResponseWriter, r *http.Request) {
	const year = 365 * 24 * 60 * 60
	chosen := unitsNamed(r.PostFormValue("units"), units.Metric)
	http.SetCookie(w, &http.Cookie{Name: unitsCookie, Value: unitsName(chosen), Path: "/",
		MaxAge: year, HttpOnly: true, SameSite: http.SameSiteLaxMode})
	http.Redirect(w, r, ownPath(r.PostFormValue("back")), http.StatusSeeOther)
}

// ownPath returns an address if it lies on this site, and the first page otherwise.
func ownPath(address string) string {
	u, err := url.Parse(address)
	if err != nil || u.Scheme != "" || u.Host != "" || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(u.Path, "//") {
		return "/"
	}
	return u.RequestURI()
}
