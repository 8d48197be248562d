package plotting

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"regear/analyze"
	"regear/analyze/units"
)

// ErrNothingReplayed reports that a hindsight holds no forecast to draw.
var ErrNothingReplayed = errors.New("plotting: no forecast to draw")

// Hindsight draws how a car's forecasts fared: for each replayed run, in the order of
// driving, the range in which 8 of 10 runs were expected and the reading. The parts stand
// side by side, each with its limit.
//
// It fails with [ErrNothingReplayed] if there is nothing to draw.
func Hindsight(h *analyze.Hindsight, system units.System) (*Figure, error) {
	const (
		betweenParts = 2 // places left free
		room         = 0.06
		reach        = 0.5 // of the extent of the readings, for limits
	)
	if len(h.Parts) == 0 {
		return nil, ErrNothingReplayed
	}
	held, missed := Points{Name: "reading inside it", Role: Measured}, Points{Name: "reading outside it", Role: Missed}
	f := &Figure{
		Subtitle: fmt.Sprintf("Hindsight on the runs %s, in the order of driving: each foreseen from the earlier ones alone.", replayedDays(h)),
		Numbers:  limitsOf(h.Limits, system),
		Rows:     []string{"part", "held", "limit"},
	}
	var said []string
	var limits []Curve
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
		texts := []string{p.Part.Word(), count, "none"}
		if limit, ok := h.Limits.Of(p.Part); ok {
			texts[2] = system.Reading(limit)
			y := system.Temperature(limit)
			limits = append(limits, Curve{Name: "limit", Role: Limit, Points: []XY{{first - 0.5, y}, {at - 0.5, y}}})
		}
		f.Marks = append(f.Marks, Mark{X: (first + at - 1) / 2, Texts: texts})
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
	lowest, highest := low-reach*(high-low), high+reach*(high-low)
	for _, l := range limits {
		// A limit far from every reading would squash them, and the lane names it.
		if y := l.Points[0].Y; y >= lowest && y <= highest {
			f.Curves = append(f.Curves, l)
			low, high = min(low, y), max(high, y)
		}
	}
	margin := max(1, room*(high-low))
	f.X = Axis{Low: -1, High: at - betweenParts, Bare: true}
	f.Y = Axis{Label: "peak temperature", Unit: system.TemperatureUnit(), Low: low - margin, High: high + margin}
	f.Title = fmt.Sprintf("%s: the 8-of-10 range held %s", cmp.Or(carName(h.Car), "Hindsight"), strings.Join(said, ", "))
	return f, nil
}

// replayedDays says when the replayed runs were driven: "of DAY" or "from DAY to DAY".
func replayedDays(h *analyze.Hindsight) string {
	var days []string
	for _, p := range h.Parts {
		for _, r := range p.Replays {
			days = append(days, r.When.Format(time.DateOnly))
		}
	}
	first, last := slices.Min(days), slices.Max(days)
	if first == last {
		return "of " + first
	}
	return fmt.Sprintf("from %s to %s", first, last)
}
