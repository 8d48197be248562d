package plotting

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// ErrNotMeasured reports that no run of the log measured the part that was to be drawn.
var ErrNotMeasured = errors.New("plotting: no run measured this part")

// view is one part of an advice, as the figures of that part see it.
type view struct {
	*advise.Advice
	units.System
	part run.Part
	fit  *analyze.Fit
}

func newView(a *advise.Advice, part run.Part, system units.System) (view, error) {
	fit := a.Car.Fit(part)
	if fit == nil {
		return view{}, fmt.Errorf("%w: %s", ErrNotMeasured, part)
	}
	return view{a, system, part, fit}, nil
}

// forecast is where the next run's peak is expected: in 8 of 10 runs between low and
// high, and above and below middle equally often.
type forecast struct{ low, middle, high units.Celsius }

// under returns the forecast for a run under c.
func (v view) under(c analyze.Conditions) forecast {
	p := v.fit.Predict(c)
	return forecast{p.Quantile(0.1), p.Quantile(0.5), p.Quantile(0.9)}
}

// at returns the next run's conditions at a rollout, as if there were a pinion for it.
func (v view) at(rollout units.Millimeters) analyze.Conditions {
	c := v.Next
	c.Gearing = drivetrain.Gearing{Pinion: 1, Spur: 1, Internal: ratioFor(rollout, c.Tire)}
	return c
}

// ratioFor returns the final drive ratio that gives a rollout on a tire.
func ratioFor(rollout, tire units.Millimeters) float64 {
	return math.Pi * float64(tire) / float64(rollout)
}

// limit returns the part's limit, if it has one.
func (v view) limit() (units.Celsius, bool) {
	l, ok := v.Limits.Of(v.part)
	return l.Temperature, ok
}

// limitLevel returns the line of the part's limit, if it has one.
func (v view) limitLevel() []Level {
	limit, ok := v.limit()
	if !ok {
		return nil
	}
	return []Level{{Label: "limit " + v.Reading(limit), Role: Limit, At: v.Temperature(limit)}}
}

// tell writes a forecast with what it is for.
func (v view) tell(f forecast, of string) string {
	return fmt.Sprintf("%s %s", of, degreeSpan(v.System, f.low, f.high))
}

// callout sets one gearing's forecast apart at x.
func (v view) callout(x float64, f forecast, role Role, lines ...string) Callout {
	return Callout{
		Range:  Range{x, v.Temperature(f.low), v.Temperature(f.high)},
		Middle: v.Temperature(f.middle), Lines: lines, Role: role,
	}
}

// of returns what an advice expects of the part in a candidate.
func (v view) of(c *advise.Candidate) forecast {
	p := c.Parts.At(v.part)
	return forecast{p.P10, p.P50, p.P90}
}

// teeth names a gearing: by its pinion, or by both gears where the spur is open too.
func teeth(a *advise.Advice, g drivetrain.Gearing) string {
	if severalSpurs(a) {
		return fmt.Sprintf("%d/%d", g.Pinion, g.Spur)
	}
	if g.Pinion == 1 {
		return "1 tooth"
	}
	return fmt.Sprintf("%d teeth", g.Pinion)
}

// markLabel is teeth without the word.
func markLabel(a *advise.Advice, g drivetrain.Gearing) string {
	if severalSpurs(a) {
		return fmt.Sprintf("%d/%d", g.Pinion, g.Spur)
	}
	return fmt.Sprint(g.Pinion)
}

// marksName heads the lane of candidates.
func marksName(a *advise.Advice) string {
	if severalSpurs(a) {
		return "pinion/spur"
	}
	return "pinion"
}

// severalSpurs reports whether gearings of an advice differ in more than the pinion.
func severalSpurs(a *advise.Advice) bool {
	return slices.ContainsFunc(a.Candidates, func(c advise.Candidate) bool {
		return c.Gearing.Spur != a.Next.Gearing.Spur
	})
}

// longestName is how many letters of a name a figure shows.
const longestName = 30

// carName returns the car's name as a figure can show it: one line, nothing that draws
// nothing (control characters, turns of the writing direction), and no longer than
// longestName.
func carName(a *advise.Advice) string {
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
func heading(a *advise.Advice, s units.System) string {
	name := carName(a)
	if name != "" {
		name += ", "
	}
	return fmt.Sprintf("%snext run: %s, air %s, tires %s.",
		name, minutes(a.Next.Minutes), s.Reading(a.Next.Ambient), s.Tire(a.Next.Tire))
}

// verdict opens a title: the pick, or that there is none and what comes closest.
func verdict(a *advise.Advice) string {
	pick := teeth(a, a.Pick.Gearing)
	switch {
	case a.Action != advise.NoneReachesConfidence:
		return pick + ":"
	case a.Pick.TooFarUp:
		return fmt.Sprintf("Every pinion here is a step of more than %d teeth up. %s:", a.MaxStepUp, pick)
	case len(a.Candidates) == 1:
		return fmt.Sprintf("%s, short of the wanted %s:", pick, wanted(a.Confidence))
	default:
		return fmt.Sprintf("No pinion reaches %s. %s, the most probable:", wanted(a.Confidence), pick)
	}
}

// allLimits names what a candidate's chance is the chance of staying under.
func allLimits(a *advise.Advice) string {
	if a.Limits.Len() == 1 {
		for part := range a.Limits.All() {
			return "the " + part.Word() + "'s limit"
		}
	}
	if len(a.Unjudged) > 0 {
		return "every judged limit"
	}
	return "every limit"
}

// join writes sentences behind each other, leaving out the empty.
func join(sentences ...string) string {
	return strings.Join(slices.DeleteFunc(sentences, func(s string) bool { return s == "" }), " ")
}
