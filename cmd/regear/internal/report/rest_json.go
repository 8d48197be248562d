package report

import (
	"io"

	"regear/advise"
	"regear/analyze/run"
)

type restJSON struct {
	Schema     int              `json:"schema"`
	Car        string           `json:"car"`
	NextRun    nextRunJSON      `json:"next_run"`
	Limits     byPart[float64]  `json:"limits_c"`
	Confidence float64          `json:"confidence"`
	Start      byPart[float64]  `json:"start_c"`
	RestNow    byPart[coolJSON] `json:"rest_now"`
	Gearings   []stintJSON      `json:"gearings"`
	Warnings   []warningJSON    `json:"warnings"`
}

// stintJSON leaves a longest run out where no length up to 60 minutes breaks the
// confidence.
type stintJSON struct {
	Pinion  int              `json:"pinion_teeth"`
	Spur    int              `json:"spur_teeth"`
	Current bool             `json:"current"`
	Pick    bool             `json:"pick"`
	Cold    *float64         `json:"longest_from_cold_minutes,omitempty"`
	Warm    *float64         `json:"longest_from_start_minutes,omitempty"`
	Run     float64          `json:"run_minutes"`
	Rest    byPart[coolJSON] `json:"rest_after"`
}

// coolJSON leaves the time out in which a battery cools enough to be charged where the part
// is none, or where the air is too warm for it.
type coolJSON struct {
	From    float64  `json:"from_c"`
	Minutes float64  `json:"minutes"`
	Charge  *float64 `json:"minutes_to_charge,omitempty"`
}

func writeRestJSON(w io.Writer, answer Rested, _ Style) error {
	a, start := answer.Advice, answer.Start
	doc := restJSON{
		Schema: Schema, Car: a.Car.Name, NextRun: toNextRun(a.Next), Confidence: a.Confidence,
		RestNow: toCooling(a.RestFrom(start)), Warnings: toWarnings(a.Warnings, answer.Noticed),
	}
	for part, l := range a.Limits.All() {
		doc.Limits.set(part, decimals(float64(l.Temperature), 2))
	}
	for _, part := range run.Parts {
		if c, ok := start.Of(part); ok {
			doc.Start.set(part, decimals(float64(c), 2))
		}
	}
	for _, s := range a.Stints(start) {
		doc.Gearings = append(doc.Gearings, stintJSON{
			Pinion: s.Gearing.Pinion, Spur: s.Gearing.Spur,
			Current: s.Gearing == a.Current.Gearing, Pick: s.Gearing == a.Pick.Gearing && a.Action != advise.NoneReachesConfidence,
			Cold: toLongest(s.Cold), Warm: toLongest(s.Warm), Run: decimals(float64(s.Run), 2), Rest: toCooling(s.Rest),
		})
	}
	return writeJSON(w, doc)
}

func toLongest(l advise.Longest) *float64 {
	if !l.Bounded {
		return nil
	}
	m := decimals(float64(l.Minutes), 2)
	return &m
}

func toCooling(rests run.ByPart[advise.Rest]) byPart[coolJSON] {
	var all byPart[coolJSON]
	for part, r := range rests.All() {
		cool := coolJSON{From: decimals(float64(r.From), 2), Minutes: decimals(float64(r.Minutes), 2)}
		if r.Chargeable {
			charge := decimals(float64(r.Charge), 2)
			cool.Charge = &charge
		}
		all.set(part, cool)
	}
	return all
}
