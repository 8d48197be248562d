package plotting

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"regear/advise"
	"regear/analyze/run"
	"regear/analyze/units"
)

// Chance draws the chance of staying under the limits for each candidate, from the shortest
// gearing to the tallest: a bar for all limits together, and where there are several a dot
// for each part.
func Chance(advice *advise.Advice, system units.System) *Figure {
	a := answer{advice, system}
	candidates := a.candidates()
	slices.SortStableFunc(candidates, func(c, d *advise.Candidate) int { return cmp.Compare(c.Rollout, d.Rollout) })
	chance := func(c *advise.Candidate) string { return units.Chance(c.Chance) }
	f := &Figure{
		Title:    fmt.Sprintf("%s a chance of %s to stay %s", a.verdict(), chance(a.Pick), a.underLimits()),
		Subtitle: join(a.heading(), a.limitsSentence()),
		Numbers:  "Chances: " + a.list(candidates, chance),
		// The bars' own room at the ends, and the dots' at top and bottom.
		X:      Axis{Low: -0.6, High: float64(len(candidates)) - 0.4, Bare: true},
		Y:      Axis{Label: "chance to stay " + a.underLimits(), Unit: "%", Low: -3, High: 104},
		Levels: []Level{{Label: "wanted " + a.wanted(), Role: Wanted, At: 100 * a.Confidence}},
		Points: a.partChances(candidates),
		Rows:   append(a.gears(), "chance, %"),
	}
	short := strings.NewReplacer("over ", ">", "under ", "<", " %", "")
	for i, c := range candidates {
		bar := Bar{Name: "other pinion", X: float64(i), Height: 100 * c.Chance}
		switch {
		case c == a.Pick:
			bar.Name, bar.Kind = "picked", PickBar
			if a.Action == advise.NoneReachesConfidence {
				bar.Name = "most probable"
			}
		case c.TooFarUp:
			bar.Name, bar.Kind = fmt.Sprintf("more than %d teeth up at once", a.MaxStepUp), BarredBar
		}
		f.Bars, f.Marks = append(f.Bars, bar), append(f.Marks, a.mark(c, float64(i), short.Replace(chance(c))))
	}
	return f
}

var partRoles = [...]Role{run.Motor: MotorPart, run.ESC: ESCPart, run.Battery: BatteryPart}

// The parts' dots as shares of the step from bar to bar: how far apart they stand, and the
// largest radius at which none hides another.
const partsApart, mostPartDot = 0.3, 0.12

// leastPartDot is the radius below which a dot could not be seen. Dots hide one another only
// where so many candidates stand side by side that no larger ones would fit.
const leastPartDot = 1.5

// partChances returns the parts' dots, side by side over each bar. A lone part needs
// none, since the bars are its own.
func (a answer) partChances(candidates []*advise.Candidate) []Points {
	if a.Limits.Len() < 2 {
		return nil
	}
	var all []Points
	for part := range a.Limits.All() {
		p := Points{Name: part.Word() + " alone", Role: partRoles[part]}
		beside := partsApart * (float64(len(all)) - float64(a.Limits.Len()-1)/2)
		for i, c := range candidates {
			p.At = append(p.At, XY{float64(i) + beside, 100 * c.Parts.At(part).Chance})
		}
		all = append(all, p)
	}
	return all
}
