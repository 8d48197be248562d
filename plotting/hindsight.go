package plotting

import (
	"errors"
	"fmt"
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
// It fails with ErrNothingReplayed if there is nothing to draw.
func Hindsight(h *analyze.Hindsight, system units.System) (*Figure, error) {
	const betweenParts = 2 // places left free
	if len(h.Parts) == 0 {
		return nil, ErrNothingReplayed
	}
	held, missed := Points{Name: "reading inside it", Role: Measured}, Points{Name: "reading outside it", Role: Missed}
	f := &Figure{
		X:         Axis{Low: -1, Bare: true},
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
		f.Marks = append(f.Marks, Mark{
			X: (first + at - 1) / 2, Label: p.Part.Word(), Value: fmt.Sprintf("%d of %d", p.Held, len(p.Replays)),
		})
		said = append(said, fmt.Sprintf("%s %d of %d", p.Part.Word(), p.Held, len(p.Replays)))
		at += betweenParts
	}
	f.X.High = at - betweenParts
	for _, p := range []Points{held, missed} {
		if len(p.At) > 0 {
			f.Points = append(f.Points, p)
		}
	}
	f.Y = hindsightAxis(f, system)
	f.Title = fmt.Sprintf("Hindsight: the 8-of-10 range held %s", strings.Join(said, ", "))
	f.Subtitle = "Each run foreseen from the earlier ones alone, in the order of driving."
	f.Numbers = f.Title + "."
	return f, nil
}

// hindsightAxis spans all ranges and readings with some room.
func hindsightAxis(f *Figure, s units.System) Axis {
	const room = 0.06
	first := f.Curves[0].Points[0].Y
	low, high := first, first
	span := func(points []XY) {
		for _, p := range points {
			low, high = min(low, p.Y), max(high, p.Y)
		}
	}
	for _, c := range f.Curves {
		span(c.Points)
	}
	for _, p := range f.Points {
		span(p.At)
	}
	margin := max(1, room*(high-low))
	return Axis{Label: "peak temperature", Unit: s.TemperatureUnit(), Low: low - margin, High: high + margin}
}
