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

// Chance draws the chance of staying under the limits for each candidate: a bar for all
// limits together, and where there are several a dot for each part.
func Chance(a *advise.Advice, system units.System) *Figure {
	last := float64(len(a.Candidates) - 1)
	f := &Figure{
		Title: chanceTitle(a),
		// The bars' own room at the ends, and the dots' at top and bottom.
		X: Axis{Low: -0.6, High: last + 0.6, Bare: true},
		Y: Axis{Label: "chance to stay under " + allLimits(a), Unit: "%", Low: -3, High: 104},
		Levels: []Level{{
			Label: "wanted " + wanted(a.Confidence), Role: Wanted, At: 100 * a.Confidence,
		}},
		MarksName: marksName(a), ValuesName: "chance",
	}
	candidates := byRollout(a)
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
		f.Bars = append(f.Bars, bar)
		f.Marks = append(f.Marks, Mark{
			X: float64(i), Label: markLabel(a, c.Gearing), Value: shortChance(c.Chance),
			Pick: c == a.Pick, Present: c.Gearing == a.Next.Gearing,
		})
	}
	all := make([]string, len(candidates))
	for i, c := range candidates {
		all[i] = teeth(a, c.Gearing) + " " + chance(c.Chance)
	}
	f.Numbers = "Chances: " + strings.Join(all, ", ") + "."
	f.Points = partChances(a, candidates)
	f.Subtitle = join(heading(a, system), limitsSentence(a, system))
	return f
}

// byRollout returns the candidates from the shortest gearing to the tallest, which for
// one spur is from the smallest pinion to the biggest.
func byRollout(a *advise.Advice) []*advise.Candidate {
	all := make([]*advise.Candidate, len(a.Candidates))
	for i := range a.Candidates {
		all[i] = &a.Candidates[i]
	}
	slices.SortStableFunc(all, func(c, d *advise.Candidate) int { return cmp.Compare(c.Rollout, d.Rollout) })
	return all
}

// partRoles are the roles of the parts' dots.
var partRoles = [...]Role{run.Motor: MotorPart, run.ESC: ESCPart, run.Battery: BatteryPart}

// partChances returns the parts' dots, side by side over each bar. A lone part needs
// none, since the bars are its own.
func partChances(a *advise.Advice, candidates []*advise.Candidate) []Points {
	if a.Limits.Len() < 2 {
		return nil
	}
	const apart = 0.17 // of the step from bar to bar
	var all []Points
	for _, part := range run.Parts {
		if limited := a.Limits.Has(part); !limited {
			continue
		}
		p := Points{Name: part.Word() + " alone", Role: partRoles[part]}
		beside := apart * (float64(len(all)) - float64(a.Limits.Len()-1)/2)
		for i, c := range candidates {
			p.At = append(p.At, XY{float64(i) + beside, 100 * c.Parts.At(part).Chance})
		}
		all = append(all, p)
	}
	return all
}

// limitsSentence lists the limits, and what has one but was never measured.
func limitsSentence(a *advise.Advice, s units.System) string {
	var all []string
	for _, part := range run.Parts {
		if limit, ok := a.Limits.Of(part); ok {
			all = append(all, part.Word()+" "+s.Reading(limit.Temperature))
		}
	}
	sentence := "Limits: " + strings.Join(all, ", ") + "."
	if len(a.Unjudged) > 0 {
		sentence += " Never measured, so not judged: " + unjudged(a) + "."
	}
	return sentence
}

func chanceTitle(a *advise.Advice) string {
	return fmt.Sprintf("%s a chance of %s to stay under %s", verdict(a), chance(a.Pick.Chance), allLimits(a))
}

// unjudged lists the parts that have a limit but were never measured.
func unjudged(a *advise.Advice) string {
	names := make([]string, len(a.Unjudged))
	for i, part := range a.Unjudged {
		names[i] = part.Word()
	}
	return strings.Join(names, ", ")
}
