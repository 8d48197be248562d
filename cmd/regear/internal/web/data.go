package web

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"

	"regear/analyze/run"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

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
	return jsonReply{http.StatusOK, doc}, err
}

func runsJSON(r *request) (reply, error) {
	doc, err := r.writtenRuns("json")
	return jsonReply{http.StatusOK, doc}, err
}

func runsCSV(r *request) (reply, error) {
	text, err := r.writtenRuns("csv")
	return file{"runs.csv", csvKind, text}, err
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
