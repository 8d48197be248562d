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

func writeCompareJSON(w io.Writer, c Compared, _ Style) error {
	doc := compareJSON{Schema: Schema}
	for _, r := range c.Runs {
		doc.Runs = append(doc.Runs, nextOneJSON{r.Different, toAdvice(r.Advice, c.Noticed)})
	}
	return writeJSON(w, doc)
}
