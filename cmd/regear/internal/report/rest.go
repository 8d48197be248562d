package report

import (
	"fmt"
	"math"
	"slices"

	"regear/advise"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// Rest is how long to run and how long to rest.
func Rest(r Rested, u units.System) document.Document {
	t := restWords{adviceWords{r.Advice, u}, r.Start, r.Stints(r.Start)}
	return document.Document{
		document.Headline(t.headline()),
		section("run", "How long to run", t.lengths()),
		section("rest", "How long motor and ESC rest", t.rests()...),
		section("battery", "The battery that comes out", document.List(t.charging())),
		section("assumed", "Assumed", document.List(append(t.circumstances(), t.limitOrigins()...))),
	}
}

type restWords struct {
	adviceWords
	start  run.Readings
	stints []advise.Stint
}

// warm reports whether the present temperatures of the parts were given.
func (t restWords) warm() bool { return t.start.Len() > 0 }

func (t restWords) headline() string {
	s := t.stints[0]
	prose := fmt.Sprintf("On the gearing now fitted, %s, %s from cold", t.gearing(s.Gearing), runLength(s.Cold))
	if t.warm() {
		prose += fmt.Sprintf(", and %s as warm as it is now", runLength(s.Warm))
	}
	rests := goingOut(s.Rest)
	if rests.Len() == 0 {
		return prose + "; how long motor and ESC rest can't be told, as the log has no reading of them."
	}
	var most units.Minutes
	parts := eachOf(rests, func(part run.Part, r advise.Rest) string {
		most = max(most, r.Minutes)
		return part.Word()
	})
	return fmt.Sprintf("%s; afterwards let %s rest for at least %s min.", prose, list(parts), roundedUp(most))
}

// goingOut are the rests of what goes out again. The battery comes out.
func goingOut(rests run.ByPart[advise.Rest]) run.ByPart[advise.Rest] {
	rests.Delete(run.Battery)
	return rests
}

func runLength(l advise.Longest) string {
	switch {
	case !l.Bounded:
		return "run as long as you like up to " + units.Minutes(advise.MaxMinutes).String()
	case l.Minutes < 1:
		return "don't run"
	}
	return "run at most " + longest(l.Minutes) + " min"
}

func roundedUp(m units.Minutes) string { return whole(math.Ceil(float64(m))) }

func (t restWords) lengths() document.Table {
	type stint = advise.Stint
	var columns columnsOf[stint]
	columns.add(document.Column{Head: "gearing"}, func(s *stint) string { return pair(s.Gearing) })
	columns.add(document.Column{Head: "from cold"}, func(s *stint) string { return lengthCell(s.Cold) })
	if t.warm() {
		columns.add(document.Column{Head: "as it is now"}, func(s *stint) string { return lengthCell(s.Warm) })
	}
	table := tableOf("The longest runs, in minutes", t.stints, append(columns, remarked(func(s *stint) []string {
		role := t.role(s.Gearing)
		slices.Reverse(role)
		return role
	})))
	table.OnPhone = document.Wraps
	table.Legend = fmt.Sprintf("The longest run, in minutes, that stays under every limit with a chance of %s.", wanted(t.Confidence))
	return table
}

func (t restWords) rests() document.Document {
	table := document.Table{
		Caption: "How long motor and ESC take to cool",
		OnPhone: document.Wraps,
		Columns: []document.Column{
			{Full: "when", Kind: document.Label}, {Head: "part", Kind: document.Label}, {Head: "from"}, {Head: "rest, min"},
		},
		Legend: fmt.Sprintf("Until within %s of the air, from the middle of what is foreseen, if a part cools as fast as it warmed up. "+
			"A standing car has no wind and cools more slowly, so take it as the least, and read before you start; a fan shortens it.",
			t.Units.Rise(advise.CoolEnough)),
	}
	t.eachRest(func(what string, rests run.ByPart[advise.Rest]) {
		for part, r := range goingOut(rests).All() {
			table.Rows = append(table.Rows, document.Row{Cells: []string{
				what, part.Word(), t.Units.Forecast(r.From), roundedUp(r.Minutes),
			}})
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

func (t restWords) charging() []string {
	items := []string{fmt.Sprintf("Let it cool below %s before you charge it (the usual LiPo cell specification), and read it first.",
		t.Units.Reading(advise.ChargeBelow))}
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
			says += roundedUp(r.Charge) + " min at least to cool."
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

type restJSON struct {
	Schema     int                `json:"schema"`
	Car        string             `json:"car"`
	NextRun    nextRunJSON        `json:"next_run"`
	Limits     byPart[hundredths] `json:"limits_c"`
	Confidence float64            `json:"confidence"`
	Start      byPart[hundredths] `json:"start_c"`
	RestNow    byPart[coolJSON]   `json:"rest_now"`
	Gearings   []stintJSON        `json:"gearings"`
	Warnings   []warningJSON      `json:"warnings"`
}

// stintJSON leaves a longest run out where no length up to 60 minutes breaks the
// confidence.
type stintJSON struct {
	gearsJSON
	Current bool             `json:"current"`
	Pick    bool             `json:"pick"`
	Cold    *hundredths      `json:"longest_from_cold_minutes,omitempty"`
	Warm    *hundredths      `json:"longest_from_start_minutes,omitempty"`
	Run     hundredths       `json:"run_minutes"`
	Rest    byPart[coolJSON] `json:"rest_after"`
}

// coolJSON leaves minutes_to_charge out for other parts than the battery, and where the air is
// too warm for it.
type coolJSON struct {
	From    hundredths  `json:"from_c"`
	Minutes hundredths  `json:"minutes"`
	Charge  *hundredths `json:"minutes_to_charge,omitempty"`
}

func toCool(r advise.Rest) coolJSON {
	return coolJSON{celsius(r.From), hundredths(r.Minutes), optional(hundredths(r.Charge), r.Chargeable)}
}

func toLongest(l advise.Longest) *hundredths { return optional(hundredths(l.Minutes), l.Bounded) }

func toRest(a Rested) restJSON {
	doc := restJSON{
		Schema: Schema, Car: a.Car.Name, NextRun: toNextRun(a.Next), Limits: limits(a.Limits), Confidence: a.Confidence,
		Start: eachPart(a.Start, celsius), RestNow: eachPart(a.RestFrom(a.Start), toCool), Warnings: toWarnings(a.Warnings, a.Notes),
	}
	for _, s := range a.Stints(a.Start) {
		doc.Gearings = append(doc.Gearings, stintJSON{
			gearsJSON: toGears(s.Gearing), Current: s.Gearing == a.Current.Gearing,
			Pick: adviceWords{Advice: a.Advice}.picks(s.Gearing),
			Cold: toLongest(s.Cold), Warm: toLongest(s.Warm), Run: hundredths(s.Run), Rest: eachPart(s.Rest, toCool),
		})
	}
	return doc
}
