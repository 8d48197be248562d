package report

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"regear/advise"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
)

var originWords = map[advise.Origin]string{
	advise.Given:   "as you said",
	advise.CarFile: "from the car file",
	advise.LastRun: "as in the last run",
	advise.FullRun: "as in the longest full run",
	advise.Default: "by default",
}

// assumed says what the answer takes for granted about the next run, and where each item
// comes from.
func (t adviceWords) assumed() []string { return t.conditions(t.limitOrigins()) }

// conditions is assumed with what is to be said of the limits.
func (t adviceWords) conditions(limits []string) []string {
	items := append(t.circumstances(),
		"Every part starts at the temperature of the air: let the car cool first.",
		t.choice())
	if n, left := t.warmest(); n > 0 {
		items = append(items, fmt.Sprintf("%s of the log began soon after the one before, without a start reading: with up to %s of its heat. "+
			"Log motor_start_c and esc_start_c to settle that.", capital(count(n, "run")), share(left)))
	}
	if out := excluded(t.Excluded); out != "" {
		items = append(items, "Not among the candidates: "+out+".")
	}
	items = append(items, limits...)
	for _, part := range t.Unjudged {
		items = append(items, fmt.Sprintf("The %s is not judged: the log has no reading of it.", part.Word()))
	}
	return items
}

func (t adviceWords) circumstances() []string {
	return t.byOrigin(func(origin, words string) string { return capital(origin) + ": " + words + "." })
}

// Conditions says in one sentence what is assumed of the next run.
func Conditions(a *advise.Advice, u units.System) string { return capital(adviceWords{a, u}.inBrief()) }

// inBrief is what is assumed, in one sentence.
func (t adviceWords) inBrief() string {
	items := t.byOrigin(func(origin, words string) string { return words + " " + origin })
	if n, left := t.warmest(); n > 0 {
		items = append(items, fmt.Sprintf("%s began with %s of the heat of the one before", count(n, "run"), share(left)))
	}
	return strings.Join(append(items, "the next starts cool"), "; ") + "."
}

// warmest returns how many runs are taken to have begun warm and the share of the heat that was
// left, for the part that is taken to have kept most.
func (t adviceWords) warmest() (n int, left float64) {
	for _, f := range t.Car.Fits() {
		if runs, share := f.WarmStarts(); runs > 0 && share >= left {
			n, left = runs, share
		}
	}
	return n, left
}

// byOrigin words the circumstances of the next run together with where they came from.
func (t adviceWords) byOrigin(word func(origin, words string) string) []string {
	next, from := t.Next, map[advise.Origin][]string{}
	add := func(origin advise.Origin, words string) { from[origin] = append(from[origin], words) }
	add(t.From.Minutes, next.Minutes.String())
	add(t.From.Ambient, "air of "+t.Units.Reading(next.Ambient))
	add(t.From.Tire, "tire of "+t.Units.Tire(next.Tire))
	if next.Cells > 0 {
		add(t.From.Cells, count(next.Cells, "cell"))
	}
	if next.Surface != "" {
		add(t.From.Surface, fmt.Sprintf("surface %q", next.Surface))
	}
	if next.Cooling != "" {
		add(t.From.Cooling, fmt.Sprintf("cooling %q", next.Cooling))
	}
	var items []string
	for _, origin := range slices.Sorted(maps.Keys(from)) {
		items = append(items, word(originWords[origin], strings.Join(from[origin], ", ")))
	}
	return items
}

// choice says what is fitted now, and what there is to choose from.
func (t adviceWords) choice() string {
	last := t.Car.Last
	choice := "those around the one that keeps the rollout, as none were named"
	switch t.From.Pinions {
	case advise.Given:
		choice = "those you named"
	case advise.CarFile:
		choice = "those in the car file"
	}
	return fmt.Sprintf("Now fitted is %s, as in the last run on %s; the pinions to choose from are %s.",
		pair(last.Gearing), last.When.Format(dateLayout), choice)
}

// limitOrigins says where those limits come from that the driver did not just give, if any.
func (t adviceWords) limitOrigins() []string {
	limits := t.Limits
	for part, l := range limits.All() {
		if l.Origin == advise.Given || l.Origin == advise.Default {
			limits.Delete(part) // as asked, or a warning tells
		}
	}
	if limits.Len() == 0 {
		return nil
	}
	return limitsLine(limits, t.Units)
}

func limitsLine(limits run.ByPart[advise.Limit], u units.System) []string {
	return []string{"Limits: " + strings.Join(limitsWithOrigin(limits, u), ", ") + "."}
}

func limitsWithOrigin(limits run.ByPart[advise.Limit], u units.System) []string {
	return eachOf(limits, func(part run.Part, l advise.Limit) string {
		return fmt.Sprintf("%s %s (%s)", part.Word(), u.Reading(l.Temperature), limitStatus(part, l))
	})
}

func limitStatus(part run.Part, l advise.Limit) string {
	switch {
	case l.Origin == advise.Default:
		return "not given, so " + defaultLimitStatus(part)
	case l.Whose != "":
		return originWords[l.Origin] + ", " + l.Whose
	}
	return originWords[l.Origin]
}

// exclusions name the reasons in JSON and in words.
var exclusions = map[advise.Reason]struct{ name, words string }{
	advise.OtherPitch:       {"other_pitch", "their teeth differ in pitch"},
	advise.TooSmallForMount: {"too_small_for_mount", "too small together for the mount: the motor can't come near enough"},
	advise.TooLargeForMount: {"too_large_for_mount", "too large together for the mount"},
	advise.NearlyEqual:      {"nearly_equal", "as good as"},
}

func why(x advise.Excluded) string {
	words := exclusions[x.Reason].words
	if x.Reason == advise.NearlyEqual {
		words += " " + pair(x.Like)
	}
	return words
}

// excluded names the combinations that are no candidates, each reason once.
func excluded(out []advise.Excluded) string {
	const mostNamed = 6 // for one reason, before the rest is counted
	var reasons []string
	byReason := map[string][]string{}
	for _, x := range out {
		reason := why(x)
		if byReason[reason] == nil {
			reasons = append(reasons, reason)
		}
		byReason[reason] = append(byReason[reason], pair(x.Gearing))
	}
	return strings.Join(worded(reasons, func(reason string) string {
		pairs := byReason[reason]
		if more := len(pairs) - mostNamed; more > 1 {
			pairs = append(pairs[:mostNamed], fmt.Sprintf("%d more", more))
		}
		return list(pairs) + " (" + reason + ")"
	}), "; ")
}

// NoAnswer adds to an error why none of the gears at hand can be fitted, if it tells of that.
func NoAnswer(err error) error {
	if none := new(ask.NoPairError); errors.As(err, &none) {
		return fmt.Errorf("%w: %s", err, excluded(none.Excluded))
	}
	return err
}
