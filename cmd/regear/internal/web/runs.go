package web

import (
	"bytes"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"slices"

	"regear/analyze"
	"regear/analyze/run"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/document"
	"regear/cmd/regear/internal/report"
)

// mostListed is how many runs stand on one page, the latest ones: a book of many seasons
// would be more than a phone can show.
const mostListed = 200

// runsPage lists runs, and what keeps runs out of the fits.
type runsPage struct {
	Title, Car     string
	Cars           []string
	Since, Pinions field
	Answer         template.HTML
	CSV            string
}

// runs lists the runs of one car, or of all.
func runs(r *request) (reply, error) {
	s, name, err := r.carOrAll()
	if err != nil {
		return nil, err
	}
	body := runsPage{Title: "Runs", Car: name, Cars: s.names, CSV: r.sameQuestion("/runs.csv", r.URL.Query()),
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
	if isFine {
		body.Answer = r.listing(s, name, s.wanted(name, &filter)).HTML()
	}
	return &page{status: formStatus(isFine), title: body.Title, car: name, template: "runs.html", body: body}, nil
}

// wanted returns the runs of a car, or of all, that pass a filter, in the order of time.
func (s *snapshot) wanted(name string, filter *ask.RunFilter) []run.Run {
	all := s.Log.Runs
	if name != "" {
		all = s.byCar[name]
	}
	var wanted []run.Run
	for i := range all {
		if filter.Wants(&all[i]) {
			wanted = append(wanted, all[i])
		}
	}
	slices.SortStableFunc(wanted, func(a, b run.Run) int { return a.When.Compare(b.When) })
	return wanted
}

// listing is the table of runs, and what was noticed.
func (r *request) listing(s *snapshot, name string, wanted []run.Run) document.Document {
	cars := s.names
	if name != "" {
		cars = []string{name}
	}
	flags := map[run.Position][]string{}
	var notes document.Document
	for _, of := range cars {
		car, err := analyze.FitCar(s.byCar[of])
		if err != nil {
			notes = append(notes, document.Paragraph(noFit(of, err).Error()))
			continue
		}
		for at, words := range report.RunFlags(car) {
			flags[at] = words
		}
	}
	var doc document.Document
	if more := len(wanted) - mostListed; more > 0 {
		doc = append(doc, document.Paragraph(fmt.Sprintf("The latest %d runs; %d earlier ones are in the CSV file.", mostListed, more)))
		wanted = wanted[more:]
	}
	doc = append(append(doc, report.FlaggedRuns(wanted, flags, r.units)...), notes...)
	if noted := report.Noted(s.noticed()); len(noted) > 0 {
		doc = append(doc, document.Section{ID: "noticed", Title: "Noticed in the log book", Body: noted})
	}
	return doc
}

// writeRuns writes the runs that the address of a document asks for.
func (r *request) writeRuns(write func(io.Writer, []run.Run, report.Style) error) ([]byte, error) {
	s, name, err := r.carOrAll()
	if err != nil {
		return nil, err
	}
	var filter ask.RunFilter
	if err := r.set(filter.Values()); err != nil {
		return nil, err
	}
	var doc bytes.Buffer
	err = write(&doc, s.wanted(name, &filter), report.Style{})
	return doc.Bytes(), err
}

func runsJSON(r *request) (reply, error) {
	doc, err := r.writeRuns(report.RunsJSON)
	return jsonReply{http.StatusOK, doc}, err
}

// runsCSV is a download of runs as a run log.
func runsCSV(r *request) (reply, error) {
	text, err := r.writeRuns(report.RunsCSV)
	return download{"runs.csv", "text/csv; charset=utf-8", text}, err
}
