package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"

	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// The data that programs read: the documents that the command writes with --format json,
// asked for by the names of its flags.

// api makes a handler of one that answers with a JSON document. An error is one too.
func (s *Site) api(answer func(*visit, *bytes.Buffer) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v := &visit{Request: r, site: s, units: units.Metric}
		var doc bytes.Buffer
		status := http.StatusOK
		if err := answer(v, &doc); err != nil {
			doc.Reset()
			status = statusOf(err)
			_ = json.NewEncoder(&doc).Encode(struct {
				Schema int    `json:"schema"`
				Error  string `json:"error"`
			}{report.Schema, s.wording(err)}) // a buffer does not fail
		}
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(status)
		_, _ = w.Write(doc.Bytes()) // whoever asked is gone if this fails
	}
}

// statusOf returns what HTTP calls an error.
func statusOf(err error) int {
	var p *problem
	if errors.As(err, &p) {
		return p.status
	}
	return http.StatusInternalServerError
}

// noSuchData answers for every other address and for attempts to write.
func noSuchData(v *visit, _ *bytes.Buffer) error {
	if v.Method != http.MethodGet {
		return &problem{http.StatusMethodNotAllowed, "Read only", errors.New("the data can only be read, with GET"), nil}
	}
	return &problem{http.StatusNotFound, "There is no such data", errors.New("the data are under /api/advice and /api/runs"), nil}
}

// badQuestion marks an error as one of what was asked.
func badQuestion(err error) error {
	return &problem{http.StatusUnprocessableEntity, "There is no answer", report.NoAnswer(err), nil}
}

func adviceJSON(v *visit, doc *bytes.Buffer) error {
	g, name, car, err := v.fitted()
	if err != nil {
		return err
	}
	next := new(ask.NextRun)
	if err := v.set(next.Values(), "car"); err != nil {
		return err
	}
	own, _, err := g.own(name)
	if err != nil {
		return err
	}
	answer, err := next.Answer(car, own)
	if err != nil {
		return badQuestion(err)
	}
	return report.AdviceJSON(doc, report.Advised{Advice: answer, Noticed: withDoubts(g.noticed(), next.Problems(own))}, report.Style{})
}

// withDoubts adds what is doubtful about what was asked to what was noticed in the book.
func withDoubts(n report.Noticed, doubts []run.Problem) report.Noticed {
	n.Doubtful = slices.Concat(n.Doubtful, doubts)
	return n
}

func runsJSON(v *visit, doc *bytes.Buffer) error {
	all, err := v.askedRuns()
	if err != nil {
		return err
	}
	return report.RunsJSON(doc, all, report.Style{})
}

// runsCSV is a download of runs as a run log.
func runsCSV(v *visit) (reply, error) {
	all, err := v.askedRuns()
	if err != nil {
		return nil, err
	}
	var text bytes.Buffer
	if err := report.RunsCSV(&text, all, report.Style{}); err != nil {
		return nil, err
	}
	return download{"runs.csv", "text/csv; charset=utf-8", text.Bytes()}, nil
}

// askedRuns returns the runs that the address asks for.
func (v *visit) askedRuns() ([]run.Run, error) {
	g, name, err := v.garageOfAny()
	if err != nil {
		return nil, err
	}
	var filter ask.RunFilter
	if err := v.set(filter.Values(), "car"); err != nil {
		return nil, err
	}
	return sortedRuns(g, name, &filter), nil
}

// set sets values from the address. A name that no value has is an error, as a
// misspelt flag is: what was asked for would silently not count.
func (v *visit) set(values []ask.Value, others ...string) error {
	query, err := url.ParseQuery(v.URL.RawQuery)
	if err != nil {
		return badQuestion(fmt.Errorf("what is asked can't be read: %w", err))
	}
	known := map[string]bool{}
	for _, name := range others {
		known[name] = true
	}
	for _, value := range values {
		known[value.Name] = true
		for _, text := range query[value.Name] {
			if text == "" {
				continue
			}
			if err := value.Set(text); err != nil {
				return badQuestion(&ask.ValueError{Name: value.Name, Text: text, Err: err})
			}
		}
	}
	for name := range query {
		if !known[name] {
			return badQuestion(errors.New("there is nothing called " + name + " to ask for"))
		}
	}
	return nil
}
