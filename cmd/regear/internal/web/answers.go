package web

import (
	"bytes"
	"errors"
	"fmt"
	"html/template"
	"maps"
	"net/http"
	"net/url"
	"slices"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/document"
	"regear/cmd/regear/internal/report"
)

type homePage struct {
	Cars            []homeCar
	Empty           string // what to do while there is no run
	Notes, Cautions template.HTML
}

type homeCar struct{ Name, Headline, Why, Total string }

func home(r *request) (reply, error) {
	logs, err := r.logs()
	if err != nil {
		return nil, err
	}
	body := homePage{Notes: report.Noted(logs.Notes).HTML()}
	for _, name := range logs.Names {
		body.Cars = append(body.Cars, r.homeCar(&app.Car{Name: name, Runs: logs.ByCar[name]}))
	}
	if len(body.Cars) > 0 {
		body.Cautions = report.CautionNotes(r.units).HTML()
	} else {
		body.Empty = capital(report.EmptyBook(report.OnPage)) + "."
	}
	return &page{title: "Your cars", template: "home.html", body: body}, nil
}

func (r *request) homeCar(car *app.Car) homeCar {
	shown := homeCar{Name: car.Name, Total: report.Total(car.Name, car.Runs)}
	fitted, err := r.Fit(car)
	var answer *advise.Advice
	if err == nil {
		answer, _, err = fitted.Answer(new(ask.NextRun))
	}
	switch {
	case err == nil:
		shown.Headline = report.Headline(answer, r.units)
	case errors.As(err, new(*app.CarFileError)):
		shown.Why = "The car file can't be read, so there is no answer: mend it on the computer."
	default:
		shown.Why = ofCar(car.Name, report.NoAnswer(err)).Error()
	}
	return shown
}

func answerPage(title, car string, answer document.Document) *page {
	return &page{title: car + ": " + title, car: car, template: "answer.html", body: struct {
		Title, Car string
		Answer     template.HTML
	}{title, car, answer.HTML()}}
}

// fit needs no car file, so a broken one does not keep it from being shown.
func fit(r *request) (reply, error) {
	_, car, err := r.car()
	if err != nil {
		return nil, err
	}
	fitted, err := analyze.FitCar(car.Runs)
	if err != nil {
		return nil, ofCar(car.Name, err)
	}
	answer := append(report.Fit(fitted, r.units), report.WarningNotes(fitted.Warnings(), r.units, report.OnPage)...)
	return answerPage("how its heat follows the gearing", car.Name, answer), nil
}

func hindsight(r *request) (reply, error) {
	_, car, err := r.car()
	if err != nil {
		return nil, err
	}
	replay, _, err := r.LookBack(car, new(ask.Limits))
	switch {
	case errors.Is(err, analyze.ErrTooFewRuns):
		return answerPage("hindsight", car.Name, document.Document{document.Headline("Too few runs to look back yet."),
			document.Paragraph("Hindsight foresees each run from the earlier ones alone, so it takes two usable runs of a part at least. Log more runs.")}), nil
	case err != nil:
		return nil, ofCar(car.Name, err)
	}
	figures, err := report.HindsightFigures(replay, r.units)
	return answerPage("hindsight", car.Name, append(report.Hindsight(replay, r.units), figures)), err
}

func keepReport(r *request) (reply, error) {
	fitted, err := r.fitted()
	if err != nil {
		return nil, err
	}
	var form whatIf
	next, err := form.read(r, fitted)
	if err != nil {
		return nil, noAnswer(err)
	}
	all, err := fitted.Report(next)
	if err != nil {
		return nil, noAnswer(err)
	}
	record := report.Record{Answer: all.Advice, Hindsight: all.Hindsight, Runs: fitted.Runs, Notes: withProblems(fitted.Notes, all.Problems),
		Units: r.units, Version: r.site.Version, Made: r.Now()}
	var text bytes.Buffer
	err = record.HTML(&text)
	return file{name: "regear-report.html", kind: "text/html; charset=utf-8", data: text.Bytes()}, err
}

// The data that programs read: the documents that the command writes with --format json,
// asked for by the names of its flags.

func adviceJSON(r *request) (reply, error) {
	fitted, err := r.fitted()
	if err != nil {
		return nil, err
	}
	next := new(ask.NextRun)
	if err := r.set(next.Values()); err != nil {
		return nil, err
	}
	advice, problems, err := fitted.Answer(next)
	if err != nil {
		return nil, noAnswer(err)
	}
	doc, err := written(report.AdviceFormats, "json", report.Advised{Advice: advice, Notes: withProblems(fitted.Notes, problems)})
	return file{kind: jsonKind, data: doc}, err
}

func runsJSON(r *request) (reply, error) {
	doc, err := r.writtenRuns("json")
	return file{kind: jsonKind, data: doc}, err
}

func runsCSV(r *request) (reply, error) {
	text, err := r.writtenRuns("csv")
	return file{name: "runs.csv", kind: csvKind, data: text}, err
}

func (r *request) writtenRuns(format string) ([]byte, error) {
	_, car, err := r.carOrAll()
	if err != nil {
		return nil, err
	}
	var filter ask.RunFilter
	if err := r.set(filter.Values()); err != nil {
		return nil, err
	}
	return written(report.RunsFormats, format, app.Listed(car.Runs, &filter))
}

func noSuchData(r *request) (reply, error) {
	if r.Method != http.MethodGet {
		return nil, &problem{http.StatusMethodNotAllowed, "Read only", errors.New("the data can only be read, with GET"), nil}
	}
	return nil, &problem{http.StatusNotFound, "There is no such data", errors.New("the data are under /api/advice and /api/runs"), nil}
}

func written[T any](formats []report.Format[T], name string, answer T) ([]byte, error) {
	at := slices.IndexFunc(formats, func(f report.Format[T]) bool { return f.Name == name })
	var text bytes.Buffer
	err := formats[at].Write(&text, answer, report.Style{})
	return text.Bytes(), err
}

func withProblems(n app.Notes, asked []run.Problem) app.Notes {
	n.Implausible = slices.Concat(n.Implausible, asked)
	return n
}

// set sets values from the address, which may name a car beside them. A name that no value
// has is an error, as a misspelt flag is: what was asked for would silently not count.
func (r *request) set(values []ask.Value) error {
	query, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		return noAnswer(fmt.Errorf("what is asked can't be read: %w", err))
	}
	query.Del("car")
	for _, name := range slices.Sorted(maps.Keys(query)) {
		value, known := ask.Named(values, name)
		if !known {
			return noAnswer(errors.New("there is nothing called " + name + " to ask for"))
		}
		for _, text := range query[name] {
			if text == "" {
				continue
			}
			if err := value.Set(text); err != nil {
				return noAnswer(&ask.ValueError{Name: name, Text: text, Err: err})
			}
		}
	}
	return nil
}

// mostListed is how many runs stand on one page, the latest ones: a book of many seasons
// would be more than a phone can show.
const mostListed = 200

type runsPage struct {
	Car            string
	Cars           []string
	Since, Pinions field
	Filtered       bool
	Done           *done
	Rows           []runRow // newest first
	Earlier        int      // runs that are not on the page
	Totals         []string
	Notes          template.HTML
	CSV            string
}

// runRow is one run in the list.
type runRow struct {
	Number       int
	Driven, Read string
}

func runs(r *request) (reply, error) {
	logs, car, err := r.carOrAll()
	if err != nil {
		return nil, err
	}
	body := runsPage{Car: car.Name, Cars: logs.Names, CSV: r.sameQuestion("/runs.csv", r.URL.Query()),
		Since:   field{ID: "since", Name: "since", Label: "Since", Kind: "date"},
		Pinions: field{ID: "pinion", Name: "pinion", Label: "Pinion", Hint: "as in 16 or 14-16"}}
	var filter ask.RunFilter
	isFine := true
	for _, f := range []*field{&body.Since, &body.Pinions} {
		if f.Value = r.URL.Query().Get(f.Name); f.Value == "" {
			continue
		}
		value, _ := ask.Named(filter.Values(), f.Name)
		if err := value.Set(f.Value); err != nil {
			f.Error, isFine = err.Error(), false
		}
	}
	body.Filtered = body.Since.Value != "" || body.Pinions.Value != ""
	if isFine {
		body.Done = r.doneTo(logs)
		cars := logs.Names
		if car.Name != "" {
			cars = []string{car.Name}
		}
		notes := body.list(r, logs, cars, app.Listed(car.Runs, &filter))
		if lines := report.Noted(logs.Notes); len(lines) > 0 {
			notes = append(notes, document.Section{ID: "noticed", Title: "Noticed in the log book", Body: lines})
		}
		body.Notes = notes.HTML()
	}
	return &page{status: formStatus(isFine), title: "Runs", car: car.Name, template: "runs.html", body: body}, nil
}

// list lists runs, and returns what is to be said of their cars' fits.
func (p *runsPage) list(r *request, logs *app.Logs, cars []string, wanted []run.Run) document.Document {
	flags := map[run.Position][]string{}
	var notes document.Document
	for _, name := range cars {
		fitted, err := analyze.FitCar(logs.ByCar[name])
		if err != nil {
			notes = append(notes, document.Paragraph(ofCar(name, err).Error()))
			continue
		}
		for at, words := range report.RunFlags(fitted) {
			flags[at] = words
		}
	}
	names, byCar := analyze.Cars(wanted)
	for _, name := range names {
		p.Totals = append(p.Totals, report.Total(name, byCar[name]))
	}
	p.Earlier = max(0, len(wanted)-mostListed)
	for _, of := range slices.Backward(wanted[p.Earlier:]) {
		driven, read := report.RunInTwoLines(&of, flags[of.Position], len(names) > 1, r.units)
		p.Rows = append(p.Rows, runRow{of.Number, driven, read})
	}
	return notes
}
