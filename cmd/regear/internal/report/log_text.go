package report

import (
	"fmt"
	"io"
	"strings"

	"regear/analyze/run"
	"regear/analyze/units"
)

// Logged tells which run was added to the book, and how many it holds now.
func Logged(w io.Writer, book string, r *run.Run, runs int) error {
	_, err := fmt.Fprintf(w, "Logged: %s.\nLog book %s: holds %s now.\n", runLine(units.Metric, r), book, count(runs, "run"))
	return err
}

// Saved says the same in one line, where there is but one book.
func Saved(r *run.Run, runs int, u units.System) string {
	return fmt.Sprintf("Saved: %s. The log book holds %s now.", runLine(u, r), count(runs, "run"))
}

// run says what is known of a run.
func runLine(u units.System, r *run.Run) string {
	var peaks []string
	for _, p := range run.Parts {
		if c, taken := r.Peak.Of(p); taken {
			peaks = append(peaks, p.Word()+" "+u.Reading(c))
		}
	}
	return fmt.Sprintf("%s, %s, %s, internal ratio %s, tire %s, %s in %s, %s",
		r.Car, whenOf(r), pair(r.Gearing), significant(r.Gearing.Internal), u.Tire(r.Tire),
		minutes(r.Minutes), u.Reading(r.Ambient), strings.Join(peaks, ", "))
}
