package report

import "io"

type compareJSON struct {
	Schema int           `json:"schema"`
	Runs   []nextOneJSON `json:"next_runs"`
}

// nextOneJSON is what `regear advise` would answer for one next run.
type nextOneJSON struct {
	Different string     `json:"different,omitempty"`
	Advice    adviceJSON `json:"advice"`
}

// CompareJSON writes several answers as one JSON document of schema 1.
func CompareJSON(w io.Writer, all []NextRun, n Noticed, _ Style) error {
	doc := compareJSON{Schema: Schema}
	for _, r := range all {
		doc.Runs = append(doc.Runs, nextOneJSON{r.Different, toAdvice(r.Advice, n)})
	}
	return writeJSON(w, doc)
}
