package report

import (
	"fmt"

	"regear/analyze/run"
)

// CarLine says of one car in a log how many runs it has and when the last one was.
func CarLine(name string, runs []run.Run) string {
	if name == "" {
		name = "(no name; choose it with --car '')"
	}
	last := runs[0].When
	for _, r := range runs {
		if r.When.After(last) {
			last = r.When
		}
	}
	return fmt.Sprintf("%s: %s, last on %s", name, count(len(runs), "run"), last.Format(dateLayout))
}

// dateLayout is the ISO 8601 calendar date.
const dateLayout = "2006-01-02"
