package report

import (
	"io"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
)

type startJSON struct {
	Schema   int               `json:"schema"`
	Car      string            `json:"car,omitempty"`
	Before   startSetupJSON    `json:"before"`
	After    startSetupJSON    `json:"after"`
	Keeps    string            `json:"keeps"`
	Target   float64           `json:"rollout_that_keeps_mm"`
	Exact    float64           `json:"exact_pinion_teeth"`
	Keep     *gearsJSON        `json:"keep,omitempty"`
	Careful  *gearsJSON        `json:"first_run,omitempty"`
	Options  []startOptionJSON `json:"gearings"`
	Readings []readingJSON     `json:"early_readings"`
	Limits   byPart[float64]   `json:"limits_c"`
	Informed string            `json:"heat_informed_by"`
	Warnings []warningJSON     `json:"warnings"`
}

type startSetupJSON struct {
	Pinion int     `json:"pinion_teeth,omitempty"`
	Spur   int     `json:"spur_teeth,omitempty"`
	Tire   float64 `json:"tire_diameter_mm"`
	Cells  int     `json:"cells,omitempty"`
	KV     float64 `json:"motor_kv,omitempty"`
}

// gearsJSON is a pair of gears.
type gearsJSON struct {
	Pinion int `json:"pinion_teeth"`
	Spur   int `json:"spur_teeth"`
}

type startOptionJSON struct {
	gearsJSON
	Ratio       float64          `json:"final_drive_ratio"`
	Rollout     float64          `json:"rollout_mm"`
	Off         float64          `json:"rollout_off_percent"`
	SpeedChange float64          `json:"speed_change_percent"`
	AtHand      bool             `json:"at_hand"`
	Mount       string           `json:"mount,omitempty"`
	Travel      *float64         `json:"motor_moves_mm,omitempty"`
	RiseChange  *intervalJSON    `json:"motor_rise_change,omitempty"`
	Probability *float64         `json:"probability_under_limits,omitempty"`
	Parts       byPart[partJSON] `json:"parts"`
}

type readingJSON struct {
	Minutes float64         `json:"run_minutes"`
	Share   byPart[float64] `json:"share_of_the_way_to_limit"`
	Air     float64         `json:"ambient_c"`
	Stop    byPart[float64] `json:"stop_above_c"`
}

var keptNames = map[advise.Kept]string{advise.KeptRollout: "rollout", advise.KeptSpeed: "speed"}

var reachNames = map[drivetrain.Reach]string{drivetrain.Inside: "fits", drivetrain.TooClose: "too_small", drivetrain.TooFar: "too_large"}

// StartJSON writes the first gearing after a change as a JSON document of schema 1.
// "mount" is absent where the mount's reach is not known.
func StartJSON(w io.Writer, s *advise.Start, known StartKnown, _ Style) error {
	doc := startJSON{
		Schema: Schema,
		Before: toSetup(s.Before), After: toSetup(s.After),
		Keeps: keptNames[s.Keeps], Target: decimals(float64(s.Target), 3), Exact: decimals(s.Exact, 3),
		Keep: toStartGear(s.Keep), Careful: toStartGear(s.Careful),
		Readings: []readingJSON{}, Informed: "prior",
	}
	doc.Before.Pinion, doc.Before.Spur = s.Fitted.Pinion, s.Fitted.Spur
	var warnings []analyze.Warning
	if s.Car != nil {
		doc.Car, doc.Informed = s.Car.Name, "log and prior"
		warnings = s.Car.Warnings()
	}
	doc.Warnings = toWarnings(warnings, known.Noticed)
	if s.Before.KV != s.After.KV {
		doc.Informed = "nothing"
	}
	for _, option := range s.Options {
		o := toStartOption(option)
		if s.Gears.Mount != nil {
			o.Mount = reachNames[option.Reach]
		}
		doc.Options = append(doc.Options, o)
	}
	for _, r := range s.Readings {
		one := readingJSON{Minutes: float64(r.Minutes), Air: decimals(float64(s.Run.Ambient), 2)}
		for part, share := range r.Share.All() {
			one.Share.set(part, decimals(share, 3))
			one.Stop.set(part, decimals(float64(s.StopAbove(r, part)), 2))
		}
		doc.Readings = append(doc.Readings, one)
	}
	for part, l := range s.Limits.All() {
		doc.Limits.set(part, decimals(float64(l.Temperature), 2))
	}
	return writeJSON(w, doc)
}

func toSetup(s advise.Setup) startSetupJSON {
	return startSetupJSON{Tire: decimals(float64(s.Tire), 3), Cells: s.Cells, KV: s.KV}
}

func toStartGear(o *advise.StartOption) *gearsJSON {
	if o == nil {
		return nil
	}
	return &gearsJSON{o.Gearing.Pinion, o.Gearing.Spur}
}

func toStartOption(o *advise.StartOption) startOptionJSON {
	out := startOptionJSON{
		gearsJSON: *toStartGear(o), Ratio: toRatio(o.Gearing), Rollout: decimals(float64(o.Rollout), 3),
		Off: decimals(o.Off*100, 2), SpeedChange: decimals(o.SpeedChange*100, 2),
		AtHand: o.Owned,
	}
	if o.HasTravel {
		travel := decimals(float64(o.Travel), 3)
		out.Travel = &travel
	}
	if o.HasRiseChange {
		change := toInterval(o.RiseChange)
		out.RiseChange = &change
	}
	if o.Parts.Len() == 0 {
		return out
	}
	p := probability(o.Chance)
	out.Probability = &p
	for _, part := range run.Parts {
		if f, ok := o.Parts.Of(part); ok {
			out.Parts.set(part, toPart(f))
		}
	}
	return out
}
