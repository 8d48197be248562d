package plotting

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"regear/analyze"
	"regear/analyze/units"
)

// ErrNothingReplayed reports that a hindsight holds no forecast to draw.
var ErrNothingReplayed = errors.New("plotting: no forecast to draw")

// Hindsight draws how a car's forecasts fared: for each replayed run, in the order of
// driving, the range in which 8 of 10 runs were expected and the reading. The parts stand
// side by side.
//
// It fails with [ErrNothingReplayed] if there is nothing to draw.
func Hindsight(h *analyze.Hindsight, system units.System) (*Figure, error) {
	const (
		betweenParts = 2 // places left free
		room         = 0.06
	)
	if len(h.Parts) == 0 {
		return nil, ErrNothingReplayed
	}
	held, missed := Points{Name: "reading inside it", Role: Measured}, Points{Name: "reading outside it", Role: Missed}
	f := &Figure{
		Subtitle:  "Each run foreseen from the earlier ones alone, in the order of driving.",
		MarksName: "part", ValuesName: "held",
	}
	var said []string
	at := 0.0
	for _, p := range h.Parts {
		first := at
		for _, r := range p.Replays {
			f.Curves = append(f.Curves, Curve{
				Name: "where 8 of 10 runs were expected", Role: Forecast,
				Points: []XY{{at, system.Temperature(r.Low)}, {at, system.Temperature(r.High)}},
			})
			reading := XY{at, system.Temperature(r.Peak)}
			if r.Held {
				held.At = append(held.At, reading)
			} else {
				missed.At = append(missed.At, reading)
			}
			at++
		}
		count := fmt.Sprintf("%d of %d", p.Held, len(p.Replays))
		f.Marks = append(f.Marks, Mark{X: (first + at - 1) / 2, Label: p.Part.Word(), Value: count})
		said = append(said, p.Part.Word()+" "+count)
		at += betweenParts
	}
	for _, p := range []Points{held, missed} {
		if len(p.At) > 0 {
			f.Points = append(f.Points, p)
		}
	}
	heights := slices.Concat(f.heights(), yOf(held.At), yOf(missed.At))
	low, high := slices.Min(heights), slices.Max(heights)
	margin := max(1, room*(high-low))
	f.X = Axis{Low: -1, High: at - betweenParts, Bare: true}
	f.Y = Axis{Label: "peak temperature", Unit: system.TemperatureUnit(), Low: low - margin, High: high + margin}
	f.Title = "Hindsight: the 8-of-10 range held " + strings.Join(said, ", ")
	f.Numbers = f.Title + "."
	return f, nil
}
