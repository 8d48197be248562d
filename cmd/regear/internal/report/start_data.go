package report

import (
	"io"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
)

type startJSON struct {
	Schema   int                `json:"schema"`
	Car      string             `json:"car,omitempty"`
	Before   startSetupJSON     `json:"before"`
	After    startSetupJSON     `json:"after"`
	Keeps    string             `json:"keeps"`
	Target   thousandths        `json:"rollout_that_keeps_mm"`
	Exact    thousandths        `json:"exact_pinion_teeth"`
	Keep     *gearsJSON         `json:"keep,omitempty"`
	Careful  *gearsJSON         `json:"first_run,omitempty"`
	Options  []startOptionJSON  `json:"gearings"`
	Readings []readingJSON      `json:"early_readings"`
	Limits   byPart[hundredths] `json:"limits_c"`
	Informed string             `json:"heat_informed_by"`
	Warnings []warningJSON      `json:"warnings"`
}

type startSetupJSON struct {
	*gearsJSON             // where it is known
	Tire       thousandths `json:"tire_diameter_mm"`
	Cells      int         `json:"cells,omitempty"`
	KV         float64     `json:"motor_kv,omitempty"`
}

type startOptionJSON struct {
	gearsJSON
	Ratio       tenThousandths   `json:"final_drive_ratio"`
	Rollout     thousandths      `json:"rollout_mm"`
	Off         hundredths       `json:"rollout_off_percent"`
	SpeedChange hundredths       `json:"speed_change_percent"`
	AtHand      bool             `json:"at_hand"`
	Mount       string           `json:"mount,omitempty"`
	Travel      *thousandths     `json:"motor_moves_mm,omitempty"`
	RiseChange  *intervalJSON    `json:"motor_rise_change,omitempty"`
	Probability *probability     `json:"probability_under_limits,omitempty"`
	Parts       byPart[partJSON] `json:"parts"`
}

type readingJSON struct {
	Minutes float64             `json:"run_minutes"`
	Share   byPart[thousandths] `json:"share_of_the_way_to_limit"`
	Air     hundredths          `json:"ambient_c"`
	Stop    byPart[hundredths]  `json:"stop_above_c"`
}

var keptNames = map[advise.Kept]string{advise.KeptRollout: "rollout", advise.KeptSpeed: "speed"}

var reachNames = map[drivetrain.Reach]string{drivetrain.Inside: "fits", drivetrain.TooClose: "too_small", drivetrain.TooFar: "too_large"}

// writeStartJSON writes the first gearing after a change as a JSON document of schema 1.
// "mount" is absent where the mount's reach is not known.
func writeStartJSON(w io.Writer, answer Started, _ Style) error {
	s := answer.Start
	fitted := toGears(s.Fitted)
	doc := startJSON{
		Schema: Schema,
		Before: startSetupJSON{&fitted, thousandths(s.Before.Tire), s.Before.Cells, s.Before.KV},
		After:  startSetupJSON{nil, thousandths(s.After.Tire), s.After.Cells, s.After.KV},
		Keeps:  keptNames[s.Keeps], Target: thousandths(s.Target), Exact: thousandths(s.Exact),
		Keep: toStartGear(s.Keep), Careful: toStartGear(s.Careful),
		Readings: []readingJSON{}, Limits: limits(s.Limits), Informed: "prior",
	}
	var warnings []analyze.Warning
	if s.Car != nil {
		doc.Car, doc.Informed = s.Car.Name, "log and prior"
		warnings = s.Car.Warnings()
	}
	doc.Warnings = toWarnings(warnings, answer.Known.Noticed)
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
		one := readingJSON{Minutes: float64(r.Minutes), Air: celsius(s.Run.Ambient)}
		one.Share = eachPart(r.Share, func(share float64) thousandths { return thousandths(share) })
		var stop run.Readings
		for part := range r.Share.All() {
			stop.Set(part, s.StopAbove(r, part))
		}
		one.Stop = eachPart(stop, celsius)
		doc.Readings = append(doc.Readings, one)
	}
	return writeJSON(w, doc)
}

func toStartGear(o *advise.StartOption) *gearsJSON {
	if o == nil {
		return nil
	}
	return &gearsJSON{o.Gearing.Pinion, o.Gearing.Spur}
}

func toStartOption(o *advise.StartOption) startOptionJSON {
	return startOptionJSON{
		gearsJSON: toGears(o.Gearing), Ratio: tenThousandths(o.Ratio), Rollout: thousandths(o.Rollout),
		Off: hundredths(o.Off * 100), SpeedChange: hundredths(o.SpeedChange * 100), AtHand: o.Owned,
		Travel: optional(thousandths(o.Travel), o.HasTravel), RiseChange: optional(toInterval(o.RiseChange), o.HasRiseChange),
		Probability: optional(probability(o.Chance), o.Parts.Len() > 0), Parts: eachPart(o.Parts, toPart),
	}
}
