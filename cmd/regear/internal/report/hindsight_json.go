package report

import (
	"io"

	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
)

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
	MeanMiss    float64      `json:"mean_miss_k"`
	TypicalMiss float64      `json:"typical_miss_k"`
	Runs        []replayJSON `json:"runs"`
}

type replayJSON struct {
	Run    string   `json:"run"` // file:line
	Date   string   `json:"date"`
	Pinion int      `json:"pinion_teeth"`
	Spur   int      `json:"spur_teeth"`
	Before int      `json:"runs_before"`
	Low    float64  `json:"low_c"`
	Middle float64  `json:"middle_c"`
	High   float64  `json:"high_c"`
	Peak   float64  `json:"peak_c"`
	Held   bool     `json:"held"`
	Chance *float64 `json:"probability_under_limit,omitempty"`
	Under  *bool    `json:"stayed_under,omitempty"`
}

type reliabilityJSON struct {
	Low      float64 `json:"stated_from"`
	High     float64 `json:"stated_to"`
	N        int     `json:"forecasts"`
	Stated   float64 `json:"stated_mean"`
	Happened float64 `json:"happened"`
}

var trustNames = map[analyze.Trust]string{
	analyze.TooFewReplays: "too_few_runs",
	analyze.Doubtful:      "doubtful",
	analyze.Earned:        "earned",
}

// HindsightJSON writes the replay of a car's log as a JSON document of schema 1.
func HindsightJSON(w io.Writer, h *analyze.Hindsight, n Noticed) error {
	doc := hindsightJSON{
		Schema: Schema, Car: h.Car, Reliability: []reliabilityJSON{},
		HeatStops: h.HeatStops, Unreplayed: h.Unreplayed, Warnings: toWarnings(nil, n),
	}
	for _, p := range h.Parts {
		doc.Parts.set(p.Part, toPartHindsight(p))
	}
	for _, r := range h.Reliability {
		doc.Reliability = append(doc.Reliability,
			reliabilityJSON{r.Low, r.High, r.N, decimals(r.Stated, 4), decimals(r.Happened, 4)})
	}
	return writeJSON(w, doc)
}

func toPartHindsight(p analyze.PartHindsight) partHindsightJSON {
	out := partHindsightJSON{
		Trust: trustNames[p.Trust], Forecasts: len(p.Replays), Held: p.Held, Level: analyze.HindsightLevel,
		MeanMiss: decimals(float64(p.MeanMiss), 2), TypicalMiss: decimals(float64(p.TypicalMiss), 2),
	}
	celsius := func(c units.Celsius) float64 { return decimals(float64(c), 2) }
	for _, r := range p.Replays {
		one := replayJSON{
			Run: r.Position.String(), Date: run.Run{When: r.When, HasTime: r.HasTime}.Date(), Pinion: r.Gearing.Pinion, Spur: r.Gearing.Spur,
			Before: r.Before, Held: r.Held,
			Low: celsius(r.Low), Middle: celsius(r.Middle), High: celsius(r.High), Peak: celsius(r.Peak),
		}
		if r.HasLimit {
			p := probability(r.Chance)
			one.Chance, one.Under = &p, &r.Under
		}
		out.Runs = append(out.Runs, one)
	}
	return out
}
