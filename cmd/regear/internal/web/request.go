package web

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"sync"

	"regear/analyze"
	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/report"
)

// request is one request, with what its handler may use. Its App reads the car file once.
type request struct {
	*http.Request
	app.App
	site  *Site
	units units.System
}

type handler func(*request) (reply, error)

// reply is what a handler answers with: a page, another address, a file or data.
type reply interface {
	send(w http.ResponseWriter, r *request)
}

type redirect string

func (to redirect) send(w http.ResponseWriter, r *request) {
	http.Redirect(w, r.Request, string(to), http.StatusSeeOther)
}

type file struct {
	name, kind string // a file without a name is shown, and not kept
	data       []byte
	status     int // 0 stands for 200
}

func (f file) send(w http.ResponseWriter, _ *request) {
	w.Header().Set("Content-Type", f.kind)
	if f.name != "" {
		w.Header().Set("Content-Disposition", `attachment; filename="`+f.name+`"`)
	}
	w.WriteHeader(cmp.Or(f.status, http.StatusOK))
	_, _ = w.Write(f.data) // the browser is gone if this fails
}

const (
	csvKind  = "text/csv; charset=utf-8"
	jsonKind = "application/json"
)

func (s *Site) page(answer handler) http.HandlerFunc { return s.serve(answer, problemPage) }

func (s *Site) api(answer handler) http.HandlerFunc { return s.serve(answer, problemData) }

func (s *Site) serve(answer handler, refuse func(error) reply) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		req := &request{Request: r, App: s.App, site: s, units: s.unitsOf(r)}
		req.Cars = sync.OnceValues(s.Cars)
		reply, err := answer(req)
		if err != nil {
			reply = refuse(err)
		}
		reply.send(w, req)
	}
}

// problem is an error with what the reader is told and may do next.
type problem struct {
	status int
	title  string
	err    error
	next   *link // nil where there is nothing to do next
}

type link struct{ Path, Words string }

func (p *problem) Error() string { return p.title + ": " + p.err.Error() }
func (p *problem) Unwrap() error { return p.err }

func problemOf(err error) *problem {
	var p *problem
	switch {
	case errors.As(err, &p):
		return p
	case isTooLarge(err):
		return &problem{http.StatusRequestEntityTooLarge, "Too large", errors.New("what was sent is larger than this page takes: use regear import on the computer"), nil}
	}
	return &problem{http.StatusInternalServerError, "That did not work", err, nil}
}

// isTooLarge reports whether a request was cut off because it is larger than [Guard] allows.
func isTooLarge(err error) bool { return errors.As(err, new(*http.MaxBytesError)) }

func problemPage(err error) reply {
	p := problemOf(err)
	return &page{status: p.status, title: p.title, template: "problem.html", body: struct {
		Title string
		Lines []string
		Next  *link
	}{p.title, reasons(p.err), p.next}}
}

func problemData(err error) reply {
	doc, _ := json.Marshal(struct { // two fields that can't fail
		Schema int    `json:"schema"`
		Error  string `json:"error"`
	}{report.Schema, err.Error()})
	return file{kind: jsonKind, data: append(doc, '\n'), status: problemOf(err).status}
}

// reasons returns what an error says, line by line, with the rows of the book that have to
// be mended.
func reasons(err error) []string {
	text := err.Error()
	if !errors.As(err, new(run.Problem)) && !errors.As(err, new(*runlog.HeaderError)) {
		text = capital(text) // what begins with the name of a file keeps it
	}
	lines := strings.Split(text, "\n")
	var rows *logbook.RowsError
	if errors.As(err, &rows) {
		for _, p := range rows.Problems {
			lines = append(lines, p.String())
		}
	}
	return lines
}

func noSuchPage(*request) (reply, error) {
	return nil, &problem{http.StatusNotFound, "There is no such page", errors.New("the address leads nowhere here"), &link{"/", "To the cars"}}
}

const unitsCookie = "regear_units"

func unitsNamed(name string, others units.System) units.System {
	if named, err := units.ParseSystem(name); err == nil {
		return named
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

// chooseUnits goes back to a page in other units. What was sent beside the choice was typed into
// the page's form, which shows it again.
func chooseUnits(w http.ResponseWriter, r *http.Request) {
	const year = 365 * 24 * 60 * 60
	chosen := unitsNamed(r.PostFormValue("show"), units.Metric)
	back, err := url.Parse(localPath(r.FormValue("back")))
	if err != nil {
		back = &url.URL{Path: "/"}
	}
	query := back.Query()
	for name, values := range r.PostForm {
		if name != "show" && name != "back" {
			query[name] = values
		}
	}
	back.RawQuery = query.Encode()
	http.SetCookie(w, &http.Cookie{Name: unitsCookie, Value: chosen.String(), Path: "/",
		MaxAge: year, HttpOnly: true, SameSite: http.SameSiteLaxMode})
	http.Redirect(w, r, back.String(), http.StatusSeeOther)
}

// localPath returns an address if it lies on this site, and the first page otherwise.
func localPath(address string) string {
	u, err := url.Parse(address)
	if err != nil || u.Scheme != "" || u.Host != "" || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(u.Path, "//") {
		return "/"
	}
	return u.RequestURI()
}

// in returns the request with other units.
func (r *request) in(u units.System) *request {
	other := *r
	other.units = u
	return &other
}

// address returns an address with values, given as name and value in turn.
func address(path string, pairs ...string) string {
	values := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		values.Set(pairs[i], pairs[i+1])
	}
	return path + "?" + values.Encode()
}

func (r *request) logs() (*app.Logs, error) { return r.ReadBook() }

// car returns the book and the car that the address asks about, or the only one.
func (r *request) car() (*app.Logs, *app.Car, error) {
	logs, err := r.logs()
	if err != nil {
		return nil, nil, err
	}
	query := r.URL.Query()
	car, err := logs.Choose(query.Get("car"), query.Has("car"))
	toCars := &link{"/", "To the cars"}
	switch {
	case errors.Is(err, app.ErrNoUsableRun):
		err = &problem{http.StatusNotFound, "The log book is empty", errors.New(report.EmptyBook(report.OnPage)), &link{"/log", "Log a run"}}
	case errors.Is(err, app.ErrNoSuchCar):
		err = &problem{http.StatusNotFound, "There is no such car", fmt.Errorf("the log book holds no run of a car called “%s”", query.Get("car")), toCars}
	case errors.Is(err, app.ErrWhichCar):
		err = &problem{http.StatusBadRequest, "Which car?", errors.New("the log book holds several cars: choose one"), toCars}
	}
	return logs, car, err
}

// carOrAll returns the book and the car that the address asks about, or the runs of all as
// those of a car without a name.
func (r *request) carOrAll() (*app.Logs, *app.Car, error) {
	if r.URL.Query().Get("car") != "" {
		return r.car()
	}
	logs, err := r.logs()
	if err != nil {
		return nil, nil, err
	}
	return logs, &app.Car{Runs: logs.Runs, Notes: logs.Notes}, nil
}

func (r *request) fitted() (*app.Fitted, error) {
	_, car, err := r.car()
	if err != nil {
		return nil, err
	}
	fitted, err := r.Fit(car)
	return fitted, ofCar(car.Name, err)
}

func ofCar(name string, err error) error {
	logOne := &link{address("/log", "car", name), "Log a run"}
	var file *app.CarFileError
	switch {
	case errors.Is(err, analyze.ErrNoRuns):
		return &problem{http.StatusUnprocessableEntity, "There is no answer yet", errors.New(report.NoUsableRun("no run of " + name)), logOne}
	case errors.As(err, &file):
		return &problem{http.StatusInternalServerError, "The car file can't be read",
			fmt.Errorf("%w\nMend it on the computer. Runs can be logged and imported meanwhile", file), logOne}
	}
	return err
}

func noAnswer(err error) error {
	return &problem{http.StatusUnprocessableEntity, "There is no answer", report.NoAnswer(err), nil}
}
