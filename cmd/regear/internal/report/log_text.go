package report

import (
	"fmt"
	"io"
	"strings"

	"regear/analyze/runlog"
)

// Logged tells which run was added to the book, and how many it holds now.
func Logged(w io.Writer, book string, r *runlog.Run, runs int) error {
	var peaks []string
	for _, p := range runlog.Parts {
		if c, taken := r.Peak.Of(p); taken {
			peaks = append(peaks, p.Word()+" "+Metric.given(c))
		}
	}
	_, err := fmt.Fprintf(w, "Logged: %s, %s, %d/%d, internal ratio %s, tire %s, %s in %s, %s.\nLog book %s: holds %s now.\n",
		r.Car, whenOf(r), r.Gearing.Pinion, r.Gearing.Spur, significant(r.Gearing.Internal), Metric.tire(r.Tire),
		minutes(r.Minutes), Metric.given(r.Ambient), strings.Join(peaks, ", "), book, count(runs, "run"))
	return err
}
