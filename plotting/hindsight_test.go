package plotting

import (
	"errors"
	"testing"

	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
)

// TestHindsight checks that every replayed reading shows, on the right side of its range,
// and that the counts below the frame are those of the readings.
func TestHindsight(t *testing.T) {
	log := scenario{many: 20}.log()
	log[8].Peak.Set(run.Motor, 150) // one that no forecast holds
	h, err := analyze.LookBack(log, analyze.Limits{}.With(run.Motor, 80))
	if err != nil {
		t.Fatal(err)
	}
	for _, system := range []units.System{units.Metric, units.US} {
		f, err := Hindsight(h, system)
		if err != nil {
			t.Fatal(err)
		}
		ranges := map[float64]Curve{}
		for _, c := range f.Curves {
			ranges[c.Points[0].X] = c
		}
		seen := map[Role]int{}
		for _, p := range f.Points {
			for _, q := range p.At {
				seen[p.Role]++
				r := ranges[q.X].Points
				if inside := r[0].Y <= q.Y && q.Y <= r[1].Y; inside != (p.Role == Measured) {
					t.Errorf("%s: %g, expected from %g to %g", p.Name, q.Y, r[0].Y, r[1].Y)
				}
			}
		}
		held, replays := 0, 0
		for _, p := range h.Parts {
			held += p.Held
			replays += len(p.Replays)
		}
		if seen[Measured] != held || seen[Missed] != replays-held || seen[Missed] == 0 || len(f.Curves) != replays {
			t.Errorf("%v and %d ranges are drawn, of %d replays %d held", seen, len(f.Curves), replays, held)
		}
		if len(f.Marks) != len(h.Parts) {
			t.Errorf("%d marks for %d parts", len(f.Marks), len(h.Parts))
		}
		for _, format := range []Format{PNG, SVG, PDF} {
			picture(t, f, format, Size{600, 400})
		}
	}
	if _, err := Hindsight(&analyze.Hindsight{}, units.Metric); !errors.Is(err, ErrNothingReplayed) {
		t.Errorf("an empty hindsight: %v", err)
	}
}
