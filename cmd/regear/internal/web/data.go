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
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// The data that programs read: the documents that the command writes with --format json,
// asked for by the names of its flags.

func adviceJSON(r *request) (reply, error) {
	s, name, car, err := r.fitted()
	if err != nil {
		return nil, err
	}
	next := new(ask.NextRun)
	if err := r.set(next.Values()); err != nil {
		return nil, err
	}
	setup, _, err := s.setup(name)
	if err != nil {
		return nil, err
	}
	answer, err := next.Answer(car, setup)
	if err != nil {
		return nil, noAnswer(err)
	}
	var doc bytes.Buffer
	err = report.AdviceJSON(&doc, answer, withWarnings(s.noticed(), next.Doubts(setup)))
	return jsonReply{http.StatusOK, doc.Bytes()}, err
}

// noSuchData answers for every other address and for attempts to write.
func noSuchData(r *request) (reply, error) {
	if r.Method != http.MethodGet {
		return nil, &problem{http.StatusMethodNotAllowed, "Read only", errors.New("the data can only be read, with GET"), nil}
	}
	return nil, &problem{http.StatusNotFound, "There is no such data", errors.New("the data are under /api/advice and /api/runs"), nil}
}

// noAnswer says that what was asked has no answer, and why.
func noAnswer(err error) error {
	return &problem{http.StatusUnprocessableEntity, "There is no answer", err, nil}
}

// withWarnings adds what looks implausible about what was asked to what was noticed in the book.
func withWarnings(n report.Noticed, warnings []run.Problem) report.Noticed {
	n.Doubtful = slices.Concat(n.Doubtful, warnings)
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
