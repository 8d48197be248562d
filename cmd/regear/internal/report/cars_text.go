package report

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"regear/advise/carfile"
	"regear/analyze/drivetrain"
)

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
		words = append(words, mountWords(*m))
	}
	return list(words)
}

// mountWords says which pairs a mount takes.
func mountWords(m drivetrain.Mount) string {
	return fmt.Sprintf("a mount for %s to %s teeth in all", trimmed(m.Least, 1), trimmed(m.Most, 1))
}
