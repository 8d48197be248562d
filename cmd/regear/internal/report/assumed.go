package report

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"regear/advise"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/document"
)

var originWords = map[advise.Origin]string{
	advise.Given:   "as you said",
	advise.CarFile: "from the car file",
	advise.LastRun: "as in the last run",
	advise.Default: "by default",
}

// assumed says what the answer takes for granted of the next run, each with where
// it came from.
func (t adviceWords) assumed() []string {
	items := append(t.circumstances(),
		"Every part starts at the temperature of the air: let the car cool first.",
		t.choice())
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
	next, from := t.Next, map[advise.Origin][]string{}
	add := func(origin advise.Origin, words string) { from[origin] = append(from[origin], words) }
	add(t.From.Ambient, "air of "+t.Units.given(next.Ambient))
	add(t.From.Minutes, minutes(next.Minutes)+" of driving")
	add(t.From.Tire, "a tire of "+t.Units.tire(next.Tire))
	if next.Cells > 0 {
		add(t.From.Cells, count(next.Cells, "cell")+" in series")
	}
	if next.Surface != "" {
		add(t.From.Surface, fmt.Sprintf("surface %q", next.Surface))
	}
	if next.Cooling != "" {
		add(t.From.Cooling, fmt.Sprintf("cooling %q", next.Cooling))
	}
	var items []string
	for _, origin := range slices.Sorted(maps.Keys(from)) {
		items = append(items, capital(originWords[origin])+": "+strings.Join(from[origin], ", ")+".")
	}
	return items
}

// choice says from which gearing the answer goes on, and what there is to choose from.
func (t adviceWords) choice() string {
	last := t.Car.Last
	choice := fmt.Sprintf("up to %s from it, as none were named", teeth(advise.DefaultReach))
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
	for _, part := range runlog.Parts {
		l, ok := t.Limits[part]
		if !ok || l.Origin == advise.Given {
			continue
		}
		words = append(words, fmt.Sprintf("%s %s (%s)", part.Word(), t.Units.given(l.Temperature), limitStatus(part, l)))
	}
	if len(words) == 0 {
		return ""
	}
	return "Limits: " + strings.Join(words, ", ") + "."
}

// limitStatus says where a limit comes from.
func limitStatus(part runlog.Part, l advise.Limit) string {
	switch {
	case l.Origin == advise.Default:
		return "not given, so " + defaultLimitStatus(part)
	case l.Whose != "":
		return originWords[l.Origin] + ", " + l.Whose
	}
	return originWords[l.Origin]
}

// CautionNotes are what belongs beside every answer about heat and drive trains.
func CautionNotes(u Units) document.Document {
	const (
		burns    = 65 // °C at which metal burns skin in about a second of contact
		chargeTo = 45 // °C, the usual LiPo cell specification's highest charging temperature
	)
	return document.Document{document.Notes{{Kind: document.Caution, Text: fmt.Sprintf("the limits of the makers of car, motor, ESC and battery and the track's and local rules "+
		"come before this answer. Metal at %s burns within about a second. Unplug the battery before touching pinion, spur or mesh, "+
		"and keep fingers, hair and cloth off turning gears. A hot, swollen or damaged LiPo: stop, let it cool outside; "+
		"charge it between %s and %s only, and never unattended",
		u.given(burns), u.given(0), u.given(chargeTo))}}}
}
