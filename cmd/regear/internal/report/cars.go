package report

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"regear/advise/carfile"
	"regear/analyze/run"
	"regear/analyze/units"
)

// CarLine says of one car in a log how many runs it has and when the last one was.
func CarLine(name string, runs []run.Run) string {
	if name == "" {
		name = "(no name; choose it with --car '')"
	}
	return fmt.Sprintf("%s: %s, last on %s", name, count(len(runs), "run"), totalOf(name, runs).Last)
}

// CarsText lists the cars of a car file, and what is odd about it.
func CarsText(w io.Writer, f *carfile.File) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s\n", f.Name, count(len(f.Cars), "car"))
	for _, name := range slices.Sorted(maps.Keys(f.Cars)) {
		fmt.Fprintf(&b, "  %s: %s\n", name, carWords(f.Cars[name]))
	}
	odd := f.Check()
	if len(odd) == 0 {
		b.WriteString("Nothing is odd.\n")
	}
	for _, p := range odd {
		b.WriteString(p.String() + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// carWords says in one line what a car file holds of a car.
func carWords(c *carfile.Car) string {
	pinions, spurs := 0, 0
	for _, b := range c.Boxes {
		pinions, spurs = pinions+len(b.Pinions), spurs+len(b.Spurs)
	}
	words := []string{
		count(pinions, "pinion"), count(spurs, "spur"), count(len(c.Tires), "tire"), count(c.Limits.Len(), "limit"),
	}
	if m := c.Mount; m != nil {
		words = append(words, fmt.Sprintf("a mount for %s to %s teeth in all", trimmed(m.Least, 1), trimmed(m.Most, 1)))
	}
	return list(words)
}

// Logged tells which run was added to the book, and how many it holds now.
func Logged(w io.Writer, book string, r *run.Run, runs int) error {
	_, err := fmt.Fprintf(w, "Logged: %s.\nLog book %s: holds %s now.\n", runLine(units.Metric, r), book, count(runs, "run"))
	return err
}

// Saved says the same in one line, where there is but one book.
func Saved(r *run.Run, runs int, u units.System) string {
	return fmt.Sprintf("Saved: %s. The log book holds %s now.", runLine(u, r), count(runs, "run"))
}

// runLine says what is known of a run.
func runLine(u units.System, r *run.Run) string {
	peaks := eachOf(r.Peak, func(part run.Part, c units.Celsius) string { return part.Word() + " " + u.Reading(c) })
	return fmt.Sprintf("%s, %s, %s, internal ratio %s, tire %s, %s in %s, %s",
		r.Car, whenOf(r), pair(r.Gearing), significant(r.Gearing.Internal), u.Tire(r.Tire),
		minutes(r.Minutes), u.Reading(r.Ambient), strings.Join(peaks, ", "))
}
