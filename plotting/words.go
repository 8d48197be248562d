package plotting

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"regear/advise"
	"regear/analyze/drivetrain"
	"regear/analyze/units"
)

// answer is an advice in the units that it is shown in, with the words of its figures.
type answer struct {
	*advise.Advice
	units.System
}

// candidates returns the candidates in the order of the advice.
func (a answer) candidates() []*advise.Candidate {
	all := make([]*advise.Candidate, len(a.Candidates))
	for i := range a.Candidates {
		all[i] = &a.Candidates[i]
	}
	return all
}

// severalSpurs reports whether the candidates differ in more than the pinion.
func (a answer) severalSpurs() bool {
	return slices.ContainsFunc(a.Candidates, func(c advise.Candidate) bool {
		return c.Gearing.Spur != a.Next.Gearing.Spur
	})
}

// label names a gearing: by its pinion, or by both gears where the spur is open too.
func (a answer) label(g drivetrain.Gearing) string {
	if a.severalSpurs() {
		return fmt.Sprintf("%d/%d", g.Pinion, g.Spur)
	}
	return fmt.Sprint(g.Pinion)
}

// teeth is label with the word.
func (a answer) teeth(g drivetrain.Gearing) string {
	switch {
	case a.severalSpurs():
		return a.label(g)
	case g.Pinion == 1:
		return "1 tooth"
	default:
		return a.label(g) + " teeth"
	}
}

// mark returns a candidate's mark at x.
func (a answer) mark(c *advise.Candidate, x float64) Mark {
	return Mark{X: x, Label: a.label(c.Gearing), Pick: c == a.Pick, Present: c.Gearing == a.Next.Gearing}
}

// marksName heads the lane of candidates.
func (a answer) marksName() string {
	if a.severalSpurs() {
		return "pinion/spur"
	}
	return "pinion"
}

// list writes what tell says of each candidate.
func (a answer) list(candidates []*advise.Candidate, tell func(c *advise.Candidate) string) string {
	all := make([]string, len(candidates))
	for i, c := range candidates {
		all[i] = a.teeth(c.Gearing) + " " + tell(c)
	}
	return strings.Join(all, ", ") + "."
}

// longestName is how many letters of a name a figure shows.
const longestName = 30

// carName returns the car's name as a figure can show it: in one line, without characters
// that can't be seen (control characters, changes of the writing direction), and no longer
// than longestName.
func (a answer) carName() string {
	clean := strings.Map(func(r rune) rune {
		if !unicode.IsGraphic(r) {
			return ' '
		}
		return r
	}, a.Car.Name)
	letters := []rune(strings.Join(strings.Fields(clean), " "))
	if len(letters) > longestName {
		letters = append(letters[:longestName-1], '…')
	}
	return string(letters)
}

// heading names the car and its next run.
func (a answer) heading() string {
	name := a.carName()
	if name != "" {
		name += ", "
	}
	return fmt.Sprintf("%snext run: %s, air %s, tires %s.",
		name, a.Next.Minutes, a.Reading(a.Next.Ambient), a.Tire(a.Next.Tire))
}

// verdict opens a title: the pick, or that there is none and what comes closest.
func (a answer) verdict() string {
	pick := a.teeth(a.Pick.Gearing)
	switch {
	case a.Action != advise.NoneReachesConfidence:
		return pick + ":"
	case a.Pick.TooFarUp:
		return fmt.Sprintf("Every pinion here is a step of more than %d teeth up. %s:", a.MaxStepUp, pick)
	case len(a.Candidates) == 1:
		return fmt.Sprintf("%s, short of the wanted %s:", pick, a.wanted())
	default:
		return fmt.Sprintf("No pinion reaches %s. %s, the most probable:", a.wanted(), pick)
	}
}

// wanted writes the confidence that was asked for.
func (a answer) wanted() string { return units.Confidence(a.Confidence) }

// underLimits names what a candidate's chance is the chance of.
func (a answer) underLimits() string {
	if a.Limits.Len() == 1 {
		for part := range a.Limits.All() {
			return "under the " + part.Word() + "'s limit"
		}
	}
	if len(a.Unjudged) > 0 {
		return "under every judged limit"
	}
	return "under every limit"
}

// limitsSentence lists the limits, and what has one but was never measured.
func (a answer) limitsSentence() string {
	var limits, unjudged []string
	for part, limit := range a.Limits.All() {
		limits = append(limits, part.Word()+" "+a.Reading(limit.Temperature))
	}
	for _, part := range a.Unjudged {
		unjudged = append(unjudged, part.Word())
	}
	sentence := "Limits: " + strings.Join(limits, ", ") + "."
	if len(unjudged) > 0 {
		sentence += " Never measured, so not judged: " + strings.Join(unjudged, ", ") + "."
	}
	return sentence
}

// join writes sentences behind each other, leaving out the empty.
func join(sentences ...string) string {
	return strings.Join(slices.DeleteFunc(sentences, func(s string) bool { return s == "" }), " ")
}
