package report

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"regear/advise"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

var originWords = map[advise.Origin]string{
	advise.Given:   "as you said",
	advise.CarFile: "from the car file",
	advise.LastRun: "as in the last run",
	advise.FullRun: "as in the longest full run",
	advise.Default: "by default",
}

// assumed says what the answer takes for granted of the next run, each with where
// it came from.
func (t adviceWords) assumed() []string {
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
	if l := t.limitOrigins(); l != "" {
		items = append(items, l)
	}
	for _, part := range t.Unjudged {
		items = append(items, fmt.Sprintf("The %s is not judged: the log has no reading of it.", part.Word()))
	}
	return items
}

// circumstances names those of the next run, an item for each place they came from.
func (t adviceWords) circumstances() []string {
	var items []string
	from := t.byOrigin()
	for _, origin := range slices.Sorted(maps.Keys(from)) {
		items = append(items, capital(originWords[origin])+": "+strings.Join(from[origin], ", ")+".")
	}
	return items
}

// inBrief says the same in one sentence.
func (t adviceWords) inBrief() string {
	var items []string
	from := t.byOrigin()
	for _, origin := range slices.Sorted(maps.Keys(from)) {
		items = append(items, strings.Join(from[origin], ", ")+" "+originWords[origin])
	}
	if n, left := t.warmest(); n > 0 {
		items = append(items, fmt.Sprintf("%s began with %s of the heat of the one before", count(n, "run"), share(left)))
	}
	return strings.Join(append(items, "the next starts cool"), "; ") + "."
}

// warmest returns how many runs are taken to have begun warm, and with which share of the
// heat, for the part that is taken to have kept most.
func (t adviceWords) warmest() (n int, left float64) {
	for _, f := range t.Car.Fits() {
		if runs, share := f.WarmStarts(); runs > 0 && share >= left {
			n, left = runs, share
		}
	}
	return n, left
}

// byOrigin returns the circumstances of the next run by where they came from.
func (t adviceWords) byOrigin() map[advise.Origin][]string {
	next, from := t.Next, map[advise.Origin][]string{}
	add := func(origin advise.Origin, words string) { from[origin] = append(from[origin], words) }
	add(t.From.Minutes, minutes(next.Minutes))
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
	return from
}

// choice says from which gearing the answer goes on, and what there is to choose from.
func (t adviceWords) choice() string {
	last := t.Car.Last
	choice := "those around the one that keeps the rollout, as none were named"
	switch t.From.Pinions {
	case advise.Given:
		choice = "those you named"
	case advise.CarFile:
		choice = "those in the car file"
	}
	return fmt.Sprintf("Now fitted is %d/%d, as in the last run on %s; the pinions to choose from are %s.",
		last.Gearing.Pinion, last.Gearing.Spur, last.When.Format(dateLayout), choice)
}

// limitOrigins says where those limits come from that the driver did not just give.
func (t adviceWords) limitOrigins() string {
	var words []string
	for _, part := range run.Parts {
		l, ok := t.Limits.Of(part)
		if !ok || l.Origin == advise.Given || l.Origin == advise.Default {
			continue // as asked, or a warning tells
		}
		words = append(words, fmt.Sprintf("%s %s (%s)", part.Word(), t.Units.Reading(l.Temperature), limitStatus(part, l)))
	}
	if len(words) == 0 {
		return ""
	}
	return "Limits: " + strings.Join(words, ", ") + "."
}

// limitStatus says where a limit comes from.
func limitStatus(part run.Part, l advise.Limit) string {
	switch {
	case l.Origin == advise.Default:
		return "not given, so " + defaultLimitStatus(part)
	case l.Whose != "":
		return originWords[l.Origin] + ", " + l.Whose
	}
	return originWords[l.Origin]
}

// BriefCaution is the shortest of it.
func BriefCaution() document.Document {
	return document.Document{document.Notes{{Kind: document.Caution, Text: "makers' limits and local rules come first. Metal burns: unplug before you touch " +
		"gears. Hot or swollen LiPo: outside; never charge it warm"}}}
}

// CautionNotes are what belongs beside every answer about heat and drive trains.
func CautionNotes(u units.System) document.Document {
	const (
		burns    = 65 // °C at which metal burns skin in about a second of contact
		chargeTo = 45 // °C, the usual LiPo cell specification's highest charging temperature
	)
	return document.Document{document.Notes{{Kind: document.Caution, Text: fmt.Sprintf("the limits of the makers of car, motor, ESC and battery and the track's and local rules "+
		"come before this answer. Metal at %s burns within about a second. Unplug the battery before touching pinion, spur or mesh, "+
		"and keep fingers, hair and cloth off turning gears. A hot, swollen or damaged LiPo: stop, let it cool outside; "+
		"charge it between %s and %s only, and never unattended",
		u.Reading(burns), u.Reading(0), u.Reading(chargeTo))}}}
}
