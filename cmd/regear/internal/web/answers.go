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
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/document"
	"regear/cmd/regear/internal/report"
)

type homePage struct {
	Cars            []homeCar
	Empty           string // what to do while there is no run
	Notes, Cautions template.HTML
	Copy            copyNote
}

type homeCar struct {
	Name, Headline, Why, Total string
	Picture                    template.HTML
	Logged                     bool // the book has runs of it
}

// mostPictures is how many cars are shown with a picture: a phone at the far end of a field takes
// a second for 40 kB.
const mostPictures = 4

func home(r *request) (reply, error) {
	logs, err := r.logs()
	if err != nil {
		return nil, err
	}
	body := homePage{Notes: report.Noted(logs.Notes).HTML()}
	if body.Copy, err = r.copyNote(logs); err != nil {
		return nil, err
	}
	for i, name := range slices.Concat(logs.Names, r.newCars(logs)) {
		car, err := r.homeCar(&app.Car{Name: name, Runs: logs.ByCar[name]}, i < mostPictures)
		if err != nil {
			return nil, err
		}
		body.Cars = append(body.Cars, car)
	}
	if len(logs.Names) > 0 {
		body.Cautions = report.CautionNotes(r.units).HTML()
	} else {
		body.Empty = capital(report.EmptyBook(report.OnPage)) + "."
	}
	return &page{title: "Your cars", template: "home.html", body: body}, nil
}

func (r *request) homeCar(car *app.Car, pictured bool) (homeCar, error) {
	shown := homeCar{Name: car.Name, Logged: len(car.Runs) > 0}
	if !shown.Logged {
		shown.Why = "No run is logged yet."
		return shown, nil
	}
	shown.Total = report.Total(car.Name, car.Runs)
	fitted, err := r.Fit(car)
	var answer *advise.Advice
	if err == nil {
		answer, _, err = fitted.Answer(new(ask.NextRun))
	}
	switch {
	case err == nil:
		shown.Headline = report.Headline(answer, r.units)
		if pictured {
			figure, err := report.SmallFigure(answer, r.units)
			shown.Picture = document.Document{document.Figures{figure}}.HTML()
			return shown, err
		}
	case errors.As(err, new(*app.CarFileError)):
		shown.Why = "The car file can't be read, so there is no answer: mend it on the computer."
	default:
		shown.Why = ofCar(car.Name, report.NoAnswer(err)).Error()
	}
	return shown, nil
}

// answerPage shows an answer: its pictures first, and what is long folded under some words.
func answerPage(title, car string, pictures document.Figures, answer document.Document, words string, folded document.Document) *page {
	body := struct {
		Title, Car, Words        string
		Pictures, Answer, Folded template.HTML
	}{Title: title, Car: car, Words: words, Answer: answer.HTML(), Folded: folded.HTML()}
	if len(pictures) > 0 {
		body.Pictures = document.Document{pictures}.HTML()
	}
	return &page{title: car + ": " + title, car: car, template: "answer.html", body: body}
}

// fit needs no car file, so a broken one does not keep it from being shown, but for its pictures.
func fit(r *request) (reply, error) {
	_, car, err := r.car()
	if err != nil {
		return nil, err
	}
	fitted, err := analyze.FitCar(car.Runs)
	if err != nil {
		return nil, ofCar(car.Name, err)
	}
	curves, err := r.curves(fitted)
	words := report.Fit(fitted, r.units)
	answer := append(words[:1:1], report.WarningNotes(fitted.Warnings(), r.units, report.OnPage, nil)...)
	return answerPage("how its heat follows the gearing", car.Name, curves, answer, "Part by part, in numbers", words[1:]), err
}

// curves draw each part's peak against the gearing; none where there is no answer for a next run.
func (r *request) curves(fit *analyze.Car) (document.Figures, error) {
	setup, err := r.Setup(fit.Name)
	if err != nil {
		return nil, nil
	}
	answer, err := new(ask.NextRun).Answer(fit, setup.Car)
	if err != nil {
		return nil, nil
	}
	return report.FitFigures(answer, r.units)
}

func hindsight(r *request) (reply, error) {
	_, car, err := r.car()
	if err != nil {
		return nil, err
	}
	replay, _, err := r.LookBack(car, new(ask.Limits))
	switch {
	case errors.Is(err, analyze.ErrTooFewRuns):
		return answerPage("hindsight", car.Name, nil, document.Document{document.Headline("Too few runs to look back yet."),
			document.Paragraph("Hindsight foresees each run from the earlier ones alone, so it takes two usable runs of a part at least. Log more runs.")}, "", nil), nil
	case err != nil:
		return nil, ofCar(car.Name, err)
	}
	figures, err := report.HindsightFigures(replay, r.units)
	words := report.Hindsight(replay, r.units)
	verdict, replays := words[:1], words[1:]
	return answerPage("hindsight", car.Name, figures, verdict, "Chances, and every run", replays), err
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
	return written(report.RunsFormats, format, filter.Of(car.Runs))
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
	Car      string
	Cars     []string
	Filters  []field
	Filtered bool
	Done     *done
	Rows     []runRow // newest first
	Earlier  int      // runs that are not on the page
	Totals   []string
	Notes    template.HTML
	CSV      string
}

// runRow is one run in the list.
type runRow struct {
	Number             int
	Driven, Read, More string
}

func runs(r *request) (reply, error) {
	logs, car, err := r.carOrAll()
	if err != nil {
		return nil, err
	}
	body := runsPage{Car: car.Name, Cars: logs.Names}
	var filter ask.RunFilter
	valueOf := func(f *field) ask.Value {
		value, _ := ask.Named(filter.Values(), f.Name)
		return value
	}
	body.Filters, err = r.read(func(u units.System) []field { return runFilters(car.Runs, u) }, valueOf)
	isFine := err == nil
	body.Filtered = slices.ContainsFunc(body.Filters, asked)
	chosen := url.Values{"car": {car.Name}}
	for _, f := range body.Filters {
		if f.Asked {
			chosen.Set(f.Name, valueOf(&f).Units.Behind(f.typed(f.Value), r.units))
		}
	}
	body.CSV = "/runs.csv?" + chosen.Encode()
	if isFine {
		body.Done = r.doneTo(logs)
		cars := logs.Names
		if car.Name != "" {
			cars = []string{car.Name}
		}
		notes := body.list(r, logs, cars, filter.Of(car.Runs))
		if lines := report.Noted(logs.Notes); len(lines) > 0 {
			notes = append(notes, document.Section{ID: "noticed", Title: "Noticed in the log book", Body: lines})
		}
		body.Notes = notes.HTML()
	}
	return &page{status: formStatus(isFine), title: "Runs", car: car.Name, template: "runs.html", body: body}, nil
}

// runFilters are the fields that choose runs of some.
func runFilters(runs []run.Run, u units.System) []field {
	surfaces := field{Name: "surface", Label: "Surface", label: surface}
	surfaces.listLabels(runs)
	fields := []field{
		{Name: "since", Label: "Since", Kind: "date"},
		{Name: "pinion", Label: "Pinion", Hint: "as in 16 or 14-16"},
		{Name: "tire", Label: "Tire", Unit: u.LengthUnit(), Keys: decimals},
		surfaces,
		{Name: "last", Label: "The latest", Keys: digits, Hint: "how many runs"},
	}
	for i := range fields {
		fields[i].ID = fields[i].Name
	}
	return fields
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
		driven, read, more := report.RunInTwoLines(&of, flags[of.Position], len(names) > 1, r.units)
		p.Rows = append(p.Rows, runRow{of.Number, driven, read, more})
	}
	return notes
}
