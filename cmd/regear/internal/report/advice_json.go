package report

import (
	"io"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

type adviceJSON struct {
	Schema         int                 `json:"schema"`
	Car            string              `json:"car"`
	Current        currentJSON         `json:"current"`
	NextRun        nextRunJSON         `json:"next_run"`
	Limits         byPart[float64]     `json:"limits_c"`
	UnjudgedParts  []string            `json:"unjudged_parts,omitempty"`
	Confidence     float64             `json:"confidence"`
	Recommendation recommendationJSON  `json:"recommendation"`
	Help           *helpJSON           `json:"help,omitempty"`
	Candidates     []candidateJSON     `json:"candidates"`
	Excluded       []excludedJSON      `json:"excluded,omitempty"`
	Scaling        byPart[scalingJSON] `json:"scaling"`
	EarlyReading   *earlyJSON          `json:"early_reading,omitempty"`
	NextTest       *nextTestJSON       `json:"next_test,omitempty"`
	CheckFirst     []string            `json:"check_first,omitempty"`
	Warnings       []warningJSON       `json:"warnings"`
}

type currentJSON struct {
	Pinion   int     `json:"pinion_teeth"`
	Spur     int     `json:"spur_teeth"`
	Internal float64 `json:"internal_ratio"`
	Tire     float64 `json:"tire_diameter_mm"`
	Ratio    float64 `json:"final_drive_ratio"`
	Rollout  float64 `json:"rollout_mm"`
}

type nextRunJSON struct {
	Ambient float64 `json:"ambient_c"`
	Minutes float64 `json:"run_minutes"`
	Tire    float64 `json:"tire_diameter_mm"`
	Cells   int     `json:"cells,omitempty"`
	Surface string  `json:"surface,omitempty"`
	Cooling string  `json:"cooling,omitempty"`
}

type recommendationJSON struct {
	Action      string  `json:"action"`
	Pinion      int     `json:"pinion_teeth"`
	Spur        int     `json:"spur_teeth"`
	TeethChange int     `json:"teeth_change"`
	Probability float64 `json:"probability_under_limits"`
	BindingPart string  `json:"binding_part"`
}

// helpJSON is what else would reach the confidence where no candidate does, each by
// itself with the named pinion.
type helpJSON struct {
	Minutes float64 `json:"run_minutes,omitempty"`
	Tire    float64 `json:"tire_diameter_mm,omitempty"`
	Spur    int     `json:"spur_teeth,omitempty"`
}

type candidateJSON struct {
	Pinion         int              `json:"pinion_teeth"`
	Spur           int              `json:"spur_teeth"`
	Ratio          float64          `json:"final_drive_ratio"`
	Rollout        float64          `json:"rollout_mm"`
	SpeedChange    float64          `json:"speed_change_percent"`
	Probability    float64          `json:"probability_under_limits"`
	Outside        bool             `json:"outside_tested_range"`
	TooFarUp       bool             `json:"too_far_up"`
	MinutesToLimit *float64         `json:"minutes_to_limit,omitempty"`
	TopSpeed       float64          `json:"unloaded_top_speed_kmh,omitempty"`
	Parts          byPart[partJSON] `json:"parts"`
}

type partJSON struct {
	Peak        peakJSON `json:"peak_c"`
	Probability *float64 `json:"probability_under_limit,omitempty"`
}

type peakJSON struct {
	P10 float64 `json:"p10"`
	P50 float64 `json:"p50"`
	P90 float64 `json:"p90"`
}

// earlyJSON is what the part that decides should read part-way through a run with the
// pick, the later of the readings.
type earlyJSON struct {
	Part      string   `json:"part"`
	Minutes   float64  `json:"minutes"`
	Expected  peakJSON `json:"expected_c"`
	StopAbove float64  `json:"stop_above_c"`
}

type nextTestJSON struct {
	Pinion      int     `json:"pinion_teeth"`
	Spur        int     `json:"spur_teeth"`
	Minutes     float64 `json:"run_minutes"`
	Probability float64 `json:"probability_under_limits"`
	Part        string  `json:"part"`
	ForPinion   int     `json:"for_pinion_teeth"`
	Narrower    float64 `json:"narrower_percent"`
}

var actionNames = map[advise.Action]string{
	advise.GearDown:              "gear_down",
	advise.Keep:                  "keep",
	advise.GearUp:                "gear_up",
	advise.NoneReachesConfidence: "none_reaches_confidence",
}

// writeAdviceJSON writes an answer as the JSON document of schema 1: temperatures in °C,
// lengths in mm, and what can't be given left out.
func writeAdviceJSON(w io.Writer, a Advised, _ Style) error {
	return writeJSON(w, toAdvice(a.Advice, a.Noticed))
}

func toAdvice(a *advise.Advice, n Noticed) adviceJSON {
	doc := adviceJSON{
		Schema:         Schema,
		Car:            a.Car.Name,
		Current:        toCurrent(a.Current),
		NextRun:        toNextRun(a.Next),
		Confidence:     a.Confidence,
		Recommendation: toRecommendation(a),
		Excluded:       toExcluded(a.Excluded),
		Scaling:        scalingOf(a.Car, a.Next),
		EarlyReading:   toEarly(a.Early),
		NextTest:       toNextTest(a.NextTest),
		CheckFirst:     adviceWords{Advice: a}.trouble(),
		Warnings:       toWarnings(a.Warnings, n),
	}
	for part, l := range a.Limits.All() {
		doc.Limits.set(part, decimals(float64(l.Temperature), 2))
	}
	for _, part := range a.Unjudged {
		doc.UnjudgedParts = append(doc.UnjudgedParts, part.String())
	}
	if a.Help != (advise.Help{}) {
		doc.Help = &helpJSON{decimals(float64(a.Help.Minutes), 2), decimals(float64(a.Help.Tire), 2), a.Help.Spur}
	}
	for i := range a.Candidates {
		doc.Candidates = append(doc.Candidates, toCandidate(&a.Candidates[i]))
	}
	return doc
}

func toCurrent(c analyze.Conditions) currentJSON {
	return currentJSON{
		Pinion: c.Gearing.Pinion, Spur: c.Gearing.Spur, Internal: decimals(c.Gearing.Internal, 6),
		Tire: decimals(float64(c.Tire), 3), Ratio: toRatio(c.Gearing), Rollout: decimals(float64(c.Rollout()), 3),
	}
}

func toRatio(g drivetrain.Gearing) float64 { return decimals(g.FinalDriveRatio(), 4) }

func toNextRun(c analyze.Conditions) nextRunJSON {
	return nextRunJSON{
		Ambient: decimals(float64(c.Ambient), 2), Minutes: decimals(float64(c.Minutes), 3), Tire: decimals(float64(c.Tire), 3),
		Cells: c.Cells, Surface: c.Surface, Cooling: c.Cooling,
	}
}

func toRecommendation(a *advise.Advice) recommendationJSON {
	g := a.Pick.Gearing
	return recommendationJSON{
		Action: actionNames[a.Action], Pinion: g.Pinion, Spur: g.Spur, TeethChange: g.Pinion - a.Current.Gearing.Pinion,
		Probability: probability(a.Pick.Chance), BindingPart: a.Binding.String(),
	}
}

func toCandidate(c *advise.Candidate) candidateJSON {
	out := candidateJSON{
		Pinion: c.Gearing.Pinion, Spur: c.Gearing.Spur, Ratio: toRatio(c.Gearing), Rollout: decimals(float64(c.Rollout), 3),
		SpeedChange: decimals(c.SpeedChange*100, 2), Probability: probability(c.Chance),
		Outside: c.Outside, TooFarUp: c.TooFarUp, TopSpeed: decimals(c.TopSpeed, 1),
	}
	if c.HasMinutesToLimit {
		m := decimals(float64(c.MinutesToLimit), 2)
		out.MinutesToLimit = &m
	}
	for _, part := range run.Parts {
		if f, ok := c.Parts.Of(part); ok {
			out.Parts.set(part, toPart(f))
		}
	}
	return out
}

func toPart(f advise.PartForecast) partJSON {
	out := partJSON{Peak: toPeak(f.P10, f.P50, f.P90)}
	if f.HasLimit {
		p := probability(f.Chance)
		out.Probability = &p
	}
	return out
}

func toEarly(readings []advise.EarlyReading) *earlyJSON {
	if len(readings) == 0 {
		return nil
	}
	r := readings[len(readings)-1]
	return &earlyJSON{
		Part: r.Part.String(), Minutes: decimals(float64(r.Minutes), 3),
		Expected: toPeak(r.P10, r.P50, r.P90), StopAbove: decimals(float64(r.StopAbove), 2),
	}
}

func toPeak(p10, p50, p90 units.Celsius) peakJSON {
	return peakJSON{decimals(float64(p10), 2), decimals(float64(p50), 2), decimals(float64(p90), 2)}
}

func toNextTest(n *advise.NextTest) *nextTestJSON {
	if n == nil {
		return nil
	}
	return &nextTestJSON{
		Pinion: n.Gearing.Pinion, Spur: n.Gearing.Spur, Minutes: decimals(float64(n.Minutes), 3), Probability: probability(n.Chance),
		Part: n.Part.String(), ForPinion: n.For.Pinion, Narrower: decimals(n.Narrower*100, 2),
	}
}
