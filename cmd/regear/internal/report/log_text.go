package report

import (
	"fmt"
	"io"
	"strings"

	"regear/analyze/runlog"
)

// Logged tells which run was added to the book, and how many it holds now.
func Logged(w io.Writer, book string, r *runlog.Run, runs int) error {
	_, err := fmt.Fprintf(w, "Logged: %s.\nLog book %s: holds %s now.\n", Metric.run(r), book, count(runs, "run"))
	return err
}

// Saved says the same in one line, where there is but one book.
func Saved(r *runlog.Run, runs int, u Units) string {
	return fmt.Sprintf("Saved: %s. The log book holds %s now.", u.run(r), count(runs, "run"))
}

// run says what is known of a run.
func (u Units) run(r *runlog.Run) string {
	var peaks []string
	for _, p := range runlog.Parts {
		if c, taken := r.Peak.Of(p); taken {
			peaks = append(peaks, p.Word()+" "+u.given(c))
		}
	}
	return fmt.Sprintf("%s, %s, %s, internal ratio %s, tire %s, %s in %s, %s",
		r.Car, whenOf(r), pair(r.Gearing), significant(r.Gearing.Internal), u.tire(r.Tire),
		minutes(r.Minutes), u.given(r.Ambient), strings.Join(peaks, ", "))
}
