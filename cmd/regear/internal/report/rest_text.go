package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"regear/advise"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// Rest says how long to run and how long to rest.
func Rest(a *advise.Advice, start run.Readings, u units.System) document.Document {
	t := restWords{adviceWords{a, u}, start, a.Stints(start)}
	return document.Document{
		document.Headline(t.headline()),
		section("run", "How long to run", t.lengths()),
		section("rest", "How long motor and ESC rest", t.rests()...),
		section("battery", "The battery that comes out", document.List(t.charging())),
		section("assumed", "Assumed", document.List(t.taken())),
	}
}

func writeRestText(w io.Writer, r Rested, s Style) error {
	return answerText(w, Rest(r.Advice, r.Start, s.Units), s)
}

type restWords struct {
	adviceWords
	start  run.Readings
	stints []advise.Stint
}

// taken says what the answer takes for granted.
func (t restWords) taken() []string {
	items := t.circumstances()
	if l := t.limitOrigins(); l != "" {
		items = append(items, l)
	}
	return items
}

// warm reports whether the parts' present temperatures were given.
func (t restWords) warm() bool {
	for _, part := range run.Parts {
		if ok := t.start.Has(part); ok {
			return true
		}
	}
	return false
}

func (t restWords) headline() string {
	s := t.stints[0]
	first := fmt.Sprintf("On the gearing now fitted, %s, %s from cold", t.gearing(s.Gearing), runLength(s.Cold))
	if t.warm() {
		first += fmt.Sprintf(", and %s as warm as it is now", runLength(s.Warm))
	}
	return first + "; " + t.afterwards(s) + "."
}

// afterwards says how long what goes out again rests.
func (t restWords) afterwards(s advise.Stint) string {
	var resting []string
	for _, part := range restingParts {
		if ok := s.Rest.Has(part); ok {
			resting = append(resting, part.Word())
		}
	}
	if len(resting) == 0 {
		return "how long motor and ESC rest can't be told, as the log has no reading of them"
	}
	return fmt.Sprintf("afterwards rest %s %s at least", list(resting), restLength(longestRest(s.Rest)))
}

// restingParts go out again; the battery comes out.
var restingParts = []run.Part{run.Motor, run.ESC}

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

func longestRest(rests run.ByPart[advise.Rest]) units.Minutes {
	var most units.Minutes
	for _, part := range restingParts {
		most = max(most, rests.At(part).Minutes)
	}
	return most
}

// restLength writes a rest in whole minutes, rounded up.
func restLength(m units.Minutes) string { return whole(math.Ceil(float64(m))) + " min" }

func (t restWords) lengths() document.Table {
	table := document.Table{
		Caption: "The longest runs, in minutes",
		Columns: []document.Column{{Head: "gearing"}, {Head: "from cold"}},
		Legend:  fmt.Sprintf("The longest run, in minutes, that stays under every limit with a chance of %s.", wanted(t.Confidence)),
	}
	if t.warm() {
		table.Columns = append(table.Columns, document.Column{Head: "as it is now"})
	}
	table.Columns = append(table.Columns, remarkColumn(""))
	for _, s := range t.stints {
		cells := []string{pair(s.Gearing), lengthCell(s.Cold)}
		if t.warm() {
			cells = append(cells, lengthCell(s.Warm))
		}
		table.Rows = append(table.Rows, document.Row{Cells: append(cells, t.role(s))})
	}
	return table
}

func (t restWords) role(s advise.Stint) string {
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

// rests is the table of how long motor and ESC take to cool.
func (t restWords) rests() document.Document {
	table := document.Table{
		Caption: "How long motor and ESC take to cool",
		Columns: []document.Column{
			{Full: "when", Kind: document.Label}, {Head: "part", Kind: document.Label}, {Head: "from"}, {Head: "rest, min"},
		},
		Legend: fmt.Sprintf("Until within %s of the air, from the middle of what is foreseen, if a part cools as fast as it warmed up. "+
			"A standing car has no wind and cools more slowly, so take it as the least, and read before you start; a fan shortens it.",
			t.Units.Rise(advise.CoolEnough)),
	}
	t.eachRest(func(what string, rests run.ByPart[advise.Rest]) {
		for _, part := range restingParts {
			if r, ok := rests.Of(part); ok {
				table.Rows = append(table.Rows, document.Row{Cells: []string{
					what, part.Word(), t.Units.Forecast(r.From), whole(math.Ceil(float64(r.Minutes))),
				}})
				what = ""
			}
		}
	})
	if len(table.Rows) == 0 {
		return document.Document{document.Paragraph("The log has no reading of motor or ESC to go by.")}
	}
	return document.Document{table}
}

// eachRest calls say for what the parts read now and for each run.
func (t restWords) eachRest(say func(what string, rests run.ByPart[advise.Rest])) {
	if t.warm() {
		say("now", t.RestFrom(t.start))
	}
	for _, s := range t.stints {
		say(fmt.Sprintf("after %s min on %s", longest(s.Run), pair(s.Gearing)), s.Rest)
	}
}

// charging says when the battery may be charged.
func (t restWords) charging() []string {
	below := t.Units.Reading(advise.ChargeBelow)
	rule := fmt.Sprintf("Let it cool below %s before you charge it (the usual LiPo cell specification), and read it first.", below)
	items := []string{rule}
	t.eachRest(func(what string, rests run.ByPart[advise.Rest]) {
		r, ok := rests.Of(run.Battery)
		if !ok {
			return
		}
		says := fmt.Sprintf("%s: about %s, ", capital(what), t.Units.Forecast(r.From))
		switch {
		case !r.Chargeable:
			says += fmt.Sprintf("and air of %s never cools it that far: take it somewhere cooler.", t.Units.Reading(t.Next.Ambient))
		case r.Charge > 0:
			says += fmt.Sprintf("%s at least to cool.", restLength(r.Charge))
		default:
			says += "cool enough to charge."
		}
		items = append(items, says)
	})
	if len(items) == 1 {
		items = append(items, "The log has no reading of it: measure it before you charge.")
	}
	return items
}
