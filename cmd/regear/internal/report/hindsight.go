package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// Hindsight says how a car's forecasts would have fared: the verdict of each part first,
// then the stated chances, then every forecast beside its reading.
func Hindsight(h *analyze.Hindsight, u units.System) document.Document {
	t := hindsightWords{h, u}
	doc := document.Document{t.verdicts(), t.chances()}
	for _, p := range h.Parts {
		doc = append(doc, t.replays(p))
	}
	return append(doc, document.Paragraph(t.remarks()))
}

func replayed(h Replayed, u units.System) document.Document { return Hindsight(h.Hindsight, u) }

type hindsightWords struct {
	*analyze.Hindsight
	Units units.System
}

func (t hindsightWords) verdicts() document.Section {
	var verdicts document.Section
	for _, p := range t.Parts {
		verdicts.Body = append(verdicts.Body, document.Paragraph(t.verdict(p)))
	}
	return verdicts
}

// trusts are how far forecasts can be trusted, in JSON and in words.
var trusts = map[analyze.Trust]struct{ name, words string }{
	analyze.TooFewReplays: {"too_few_runs", "too few to tell whether the forecasts can be trusted on this car yet; go on logging"},
	analyze.Doubtful: {"doubtful", "so few are hardly bad luck: don't trust the forecasts on this car yet, keep a margin, " +
		"and look at the misses below for what they have in common"},
	analyze.Earned: {"earned", "as often as promised or more: the forecasts have earned trust on this car"},
}

// verdict says whether a part's forecasts have earned trust, and where its readings lay
// against the middle of the forecasts.
func (t hindsightWords) verdict(p analyze.PartHindsight) string {
	size, lay := t.Units.Difference(p.MeanMiss), "on the forecast"
	if math.Abs(size) >= 0.5 {
		side := "above"
		if size < 0 {
			side = "below"
		}
		lay = fmt.Sprintf("%s %s %s the forecast", fixed(math.Abs(size), 1), t.Units.TemperatureUnit(), side)
	}
	return fmt.Sprintf("%s: the %s range held %d of %s; %s. Typically %s off; on average the reading lay %s.",
		capital(p.Part.Word()), share(analyze.HindsightLevel), p.Held, count(len(p.Replays), "time"), trusts[p.Trust].words,
		t.Units.Rise(p.TypicalMiss), lay)
}

// chances sets what was stated beside what happened.
func (t hindsightWords) chances() document.Block {
	if len(t.Reliability) == 0 {
		return document.Paragraph("Stated chances: no part has a limit to be judged by.")
	}
	type band = analyze.Reliability
	table := tableOf("How often runs stayed under the limits, by the chance that was stated before", t.Reliability, columnsOf[band]{
		{document.Column{Head: "stated chance\nto stay under"}, func(r *band) string { return share(r.Low) + " to " + share(r.High) }},
		{document.Column{Head: "forecasts\n"}, func(r *band) string { return strconv.Itoa(r.N) }},
		{document.Column{Head: "stated\non average"}, func(r *band) string { return chance(r.Stated) }},
		{document.Column{Head: "stayed\nunder", Kind: document.Label}, func(r *band) string { return share(r.Happened) }},
	})
	return section("stated-chances", "Stated chances, all parts together", table)
}

func (t hindsightWords) replays(p analyze.PartHindsight) document.Section {
	type replay = analyze.Replay
	unit := t.Units.TemperatureUnit()
	degrees := func(c units.Celsius) string { return whole(t.Units.Temperature(c)) }
	table := tableOf("Every forecast of the "+p.Part.Word()+" beside its reading", p.Replays, columnsOf[replay]{
		{document.Column{Head: "run\n", Kind: document.Label}, func(r *replay) string { return moment(r.When, r.HasTime) }},
		{document.Column{Head: "pinion\n/spur"}, func(r *replay) string { return pair(r.Gearing) }},
		{document.Column{Head: "known\nruns"}, func(r *replay) string { return strconv.Itoa(r.Before) }},
		{document.Column{Head: "forecast\n80 %, " + unit}, func(r *replay) string { return degrees(r.Low) + "–" + degrees(r.High) }},
		{document.Column{Head: "middle\n" + unit}, func(r *replay) string { return degrees(r.Middle) }},
		{document.Column{Head: "read\n" + unit}, func(r *replay) string { return t.Units.ReadingNumber(r.Peak) }},
		{document.Column{Head: "off\n" + unit}, func(r *replay) string { return signed(t.Units.Difference(r.Miss()), 0) }},
		remarked(func(r *replay) []string {
			if r.Held {
				return nil
			}
			return []string{"missed"}
		}),
	})
	return section("replays-"+p.Part.String(), capital(p.Part.Word()), table)
}

// sideBySide is one table of every forecast and reading, with a row for each run.
func (t hindsightWords) sideBySide() document.Table {
	type replayed struct {
		analyze.Replay // of any part
		parts          run.ByPart[analyze.Replay]
	}
	var all []replayed
	at := map[run.Position]int{}
	for _, p := range t.Parts {
		for _, r := range p.Replays {
			if _, known := at[r.Position]; !known {
				at[r.Position] = len(all)
				all = append(all, replayed{Replay: r})
			}
			all[at[r.Position]].parts.Set(p.Part, r)
		}
	}
	slices.SortStableFunc(all, func(a, b replayed) int { return a.When.Compare(b.When) })
	columns := columnsOf[replayed]{
		{document.Column{Head: "run", Kind: document.Label}, func(r *replayed) string { return moment(r.When, r.HasTime) }},
		{document.Column{Head: "pinion/spur"}, func(r *replayed) string { return pair(r.Gearing) }},
	}
	for _, p := range t.Parts {
		ofPart := func(say func(r analyze.Replay) string) func(*replayed) string {
			return func(r *replayed) string {
				if one, ok := r.parts.Of(p.Part); ok {
					return say(one)
				}
				return ""
			}
		}
		columns.add(document.Column{Head: p.Part.Word() + " forecast, " + t.Units.TemperatureUnit()}, ofPart(func(r analyze.Replay) string {
			return t.Units.Peak(r.Low) + "–" + t.Units.Peak(r.Middle) + "–" + t.Units.Peak(r.High)
		}))
		columns.add(document.Column{Head: p.Part.Word() + " read"}, ofPart(func(r analyze.Replay) string { return t.Units.ReadingNumber(r.Peak) }))
	}
	return tableOf("Each forecast from the earlier runs alone, and what was read", all, append(columns, remarked(func(r *replayed) []string {
		var missed []string
		for part, one := range r.parts.All() {
			if !one.Held {
				missed = append(missed, part.Word())
			}
		}
		if len(missed) > 0 {
			missed[0] = "missed: " + missed[0]
		}
		return missed
	})))
}

func (t hindsightWords) remarks() string {
	prose := "Each run is foreseen from the earlier ones alone, under the conditions in which it was driven and the limits of today."
	if t.HeatStops > 0 {
		prose += fmt.Sprintf(" %s cut short by heat can't be judged and %s not counted.",
			count(t.HeatStops, "reading"), choose(t.HeatStops, "is", "are"))
	}
	if t.Unreplayed > 0 {
		prose += fmt.Sprintf(" Only the latest %d runs are replayed; %s before them only inform.",
			analyze.MostReplayed, count(t.Unreplayed, "run"))
	}
	return prose
}

type hindsightJSON struct {
	Schema      int                       `json:"schema"`
	Car         string                    `json:"car"`
	Parts       byPart[partHindsightJSON] `json:"parts"`
	Reliability []reliabilityJSON         `json:"reliability"`
	HeatStops   int                       `json:"heat_stops_not_judged"`
	Unreplayed  int                       `json:"runs_not_replayed"`
	Warnings    []warningJSON             `json:"warnings"`
}

type partHindsightJSON struct {
	Trust       string       `json:"trust"`
	Forecasts   int          `json:"forecasts"`
	Held        int          `json:"held"`
	Level       float64      `json:"level"`
	MeanMiss    hundredths   `json:"mean_miss_k"`
	TypicalMiss hundredths   `json:"typical_miss_k"`
	Runs        []replayJSON `json:"runs"`
}

type replayJSON struct {
	Run  string `json:"run"` // file:line
	Date string `json:"date"`
	gearsJSON
	Before int          `json:"runs_before"`
	Low    hundredths   `json:"low_c"`
	Middle hundredths   `json:"middle_c"`
	High   hundredths   `json:"high_c"`
	Peak   hundredths   `json:"peak_c"`
	Held   bool         `json:"held"`
	Chance *probability `json:"probability_under_limit,omitempty"`
	Under  *bool        `json:"stayed_under,omitempty"`
}

type reliabilityJSON struct {
	Low      float64        `json:"stated_from"`
	High     float64        `json:"stated_to"`
	N        int            `json:"forecasts"`
	Stated   tenThousandths `json:"stated_mean"`
	Happened tenThousandths `json:"happened"`
}

func toHindsight(h Replayed) hindsightJSON {
	doc := hindsightJSON{
		Schema: Schema, Car: h.Car, Reliability: []reliabilityJSON{},
		HeatStops: h.HeatStops, Unreplayed: h.Unreplayed, Warnings: toWarnings(nil, h.Notes),
	}
	var parts run.ByPart[analyze.PartHindsight]
	for _, p := range h.Parts {
		parts.Set(p.Part, p)
	}
	doc.Parts = eachPart(parts, toPartHindsight)
	for _, r := range h.Reliability {
		doc.Reliability = append(doc.Reliability, reliabilityJSON{r.Low, r.High, r.N, tenThousandths(r.Stated), tenThousandths(r.Happened)})
	}
	return doc
}

func toPartHindsight(p analyze.PartHindsight) partHindsightJSON {
	out := partHindsightJSON{
		Trust: trusts[p.Trust].name, Forecasts: len(p.Replays), Held: p.Held, Level: analyze.HindsightLevel,
		MeanMiss: hundredths(p.MeanMiss), TypicalMiss: hundredths(p.TypicalMiss),
	}
	for _, r := range p.Replays {
		out.Runs = append(out.Runs, replayJSON{
			r.Position.String(), run.Run{When: r.When, HasTime: r.HasTime}.Date(), toGears(r.Gearing), r.Before,
			celsius(r.Low), celsius(r.Middle), celsius(r.High), celsius(r.Peak), r.Held,
			optional(probability(r.Chance), r.HasLimit), optional(r.Under, r.HasLimit),
		})
	}
	return out
}
