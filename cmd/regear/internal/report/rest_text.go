package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"

	"regear/advise"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// RestText says how long to run and how long to rest.
func RestText(w io.Writer, a *advise.Advice, start runlog.Readings, _ Noticed, s Style) error {
	t := restText{adviceText{a, s}, start, a.Stints(start)}
	return s.answer(w, t.headline(),
		t.lengths(),
		t.rests(),
		t.section("Assumed", t.taken()),
	)
}

type restText struct {
	adviceText
	start  runlog.Readings
	stints []advise.Stint
}

// taken says what the answer takes for granted.
func (t restText) taken() []string {
	items := t.circumstances()
	if l := t.limitOrigins(); l != "" {
		items = append(items, l)
	}
	return items
}

// warm reports whether the parts' present temperatures were given.
func (t restText) warm() bool {
	for _, part := range runlog.Parts {
		if _, ok := t.start.Of(part); ok {
			return true
		}
	}
	return false
}

func (t restText) headline() string {
	s := t.stints[0]
	first := fmt.Sprintf("On the gearing now fitted, %s, %s from cold", t.gearing(s.Gearing), runLength(s.Cold))
	if t.warm() {
		first += fmt.Sprintf(", and %s as warm as it is now", runLength(s.Warm))
	}
	return fmt.Sprintf("%s; afterwards rest %s at least.", first, restLength(longestRest(s.Rest)))
}

// runLength says how long a run may be.
func runLength(l advise.Longest) string {
	switch {
	case !l.Bounded:
		return "run as long as you like up to " + minutes(advise.MaxMinutes)
	case l.Minutes < 1:
		return "don't run"
	}
	return "run at most " + longest(l.Minutes) + " min"
}

func longestRest(rests map[runlog.Part]advise.Rest) units.Minutes {
	var most units.Minutes
	for _, r := range rests {
		most = max(most, r.Minutes)
	}
	return most
}

// restLength writes a rest in whole minutes, rounded up.
func restLength(m units.Minutes) string { return whole(math.Ceil(float64(m))) + " min" }

func (t restText) lengths() string {
	header := table.Row{"gearing", "from cold"}
	if t.warm() {
		header = append(header, "as it is now")
	}
	header = append(header, "")
	var rows []table.Row
	for _, s := range t.stints {
		row := table.Row{pair(s.Gearing), lengthCell(s.Cold)}
		if t.warm() {
			row = append(row, lengthCell(s.Warm))
		}
		rows = append(rows, append(row, t.role(s)))
	}
	legend := fmt.Sprintf("The longest run, in minutes, that stays under every limit with a chance of %s.", wanted(t.Confidence))
	return "How long to run:\n" + t.table(header, rows) + t.paragraph("  ", legend)
}

func (t restText) role(s advise.Stint) string {
	var roles []string
	if s.Gearing == t.Current.Gearing {
		roles = append(roles, markNow)
	}
	if s.Gearing == t.Pick.Gearing {
		roles = append(roles, t.marks(t.Pick)[0])
	}
	return strings.Join(roles, ", ")
}

func lengthCell(l advise.Longest) string {
	if !l.Bounded {
		return "over " + whole(float64(advise.MaxMinutes))
	}
	return longest(l.Minutes)
}

// rests is the table of how long each part takes to cool.
func (t restText) rests() string {
	header := table.Row{"", "part", "from", "rest, min", ""}
	var rows []table.Row
	add := func(what string, rests map[runlog.Part]advise.Rest) {
		for _, part := range runlog.Parts {
			if r, ok := rests[part]; ok {
				rows = append(rows, table.Row{what, part.Word(), t.Units.forecast(r.From), whole(math.Ceil(float64(r.Minutes))), ""})
				what = ""
			}
		}
	}
	if t.warm() {
		add("now", t.RestFrom(t.start))
	}
	for _, s := range t.stints {
		add(fmt.Sprintf("after %s min on %s", longest(s.Run), pair(s.Gearing)), s.Rest)
	}
	caveat := fmt.Sprintf("Until within %s of the air, from the middle of what is foreseen, if a part cools as fast as it warmed up. "+
		"A standing car has no wind and cools more slowly, so take it as the least, and read before you start; a fan shortens it. "+
		"Charge a battery only once it is cool.", t.Units.rise(advise.CoolEnough))
	return "How long to rest:\n" + t.table(header, rows) + t.paragraph("  ", caveat)
}
