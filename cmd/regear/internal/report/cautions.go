package report

import (
	"fmt"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// BriefCaution is what must not be left out of a short answer.
func BriefCaution() document.Document {
	return document.Document{document.Notes{{Kind: document.Caution, Label: "Take care", Text: "makers' limits and local rules come first. Metal burns: unplug before you touch " +
		"gears. Hot or swollen LiPo: outside; never charge it warm"}}}
}

// CautionNotes belong beside every answer about heat and drive trains.
func CautionNotes(u units.System) document.Document {
	const burns = 65 // °C at which metal burns skin in about a second of contact
	return document.Document{document.Notes{{Kind: document.Caution, Label: "Take care", Text: fmt.Sprintf("the limits of the makers of car, motor, ESC and battery and the track's and local rules "+
		"come before this answer. Metal at %s burns within about a second. Unplug the battery before touching pinion, spur or mesh, "+
		"and keep fingers, hair and cloth off turning gears. A hot, swollen or damaged LiPo: stop, let it cool outside; "+
		"charge it between %s and %s only, and never unattended",
		u.Reading(burns), u.Reading(0), u.Reading(advise.ChargeBelow))}}}
}

// checksFirst says what to check where gearing may not be the lever, the cheapest first. It
// names what could be, never what is: a log can't know a cause. The places to look are common
// practice, no source.
func (t adviceWords) checksFirst() []string {
	if part, reason := t.hotAtAnyGearing(); reason != "" {
		return []string{
			reason,
			"Costs nothing: read again within a minute, on a taped or painted patch, at several spots. Then unplug the battery and lift the car: " +
				"do all wheels turn freely, and does the spur with the pinion out of mesh? Is there a little play between pinion and spur? Does a brake drag?",
			fmt.Sprintf("Costs little: clean what cools the %s and let air to it, and look for a worn bearing, a bent shaft or thick grease.", part),
			fmt.Sprintf("Costs most: a %s that was once far too hot could stay hot at any gearing; try another before you buy pinions.", part),
		}
	}
	switch t.limitedBesideMotor() {
	case run.ESC:
		return []string{
			"The ESC limits, while the motor is likely to stay under its limit. A smaller pinion usually helps both, but other things could help the ESC more.",
			"Costs nothing: look whether its fan turns and air reaches its heat sink, and read its settings (punch, timing, drag brake); softer ones usually make less heat.",
			"Costs little: look at plugs and solder joints for dark or soft spots, and add a fan.",
			"Costs most: look whether it is rated for this motor and this many cells.",
		}
	case run.Battery:
		return []string{
			"The battery limits, while the motor is likely to stay under its limit. A smaller pinion usually helps both, but other things could help the battery more.",
			"Costs nothing: let the pack start as cool as the air, and look whether it is swollen, which ends its use.",
			"Costs little: look at plugs and solder joints for dark or soft spots, and let air to the pack.",
			"Costs most: an old or small pack could be the reason; compare with a fresh one of a higher current rating.",
		}
	}
	return nil
}

// hotAtAnyGearing names the part that is hot at any gearing, and says why; or nothing.
func (t adviceWords) hotAtAnyGearing() (part, reason string) {
	for _, w := range t.Warnings {
		switch w := w.(type) {
		case analyze.RunsHotter:
			part = w.Part.Word()
			return part, fmt.Sprintf("At equal gearing the %s runs hotter than it did earlier in the log, which a pinion does not explain.", part)
		case analyze.NotTheLever:
			part = w.Part.Word()
			return part, fmt.Sprintf("The %s is too hot, and its heat hardly follows the gearing in this log.", part)
		}
	}
	return "", ""
}

// limitedBesideMotor returns the ESC or the battery if it is too hot as the car is geared
// now and the motor is likely to stay under its limit; else the motor.
func (t adviceWords) limitedBesideMotor() run.Part {
	const likely = 0.95
	now := t.candidate(t.Current.Gearing)
	if now == nil {
		now = t.Pick
	}
	motor, measured := now.Parts.Of(run.Motor)
	if !measured || !motor.HasLimit || motor.Chance < likely {
		return run.Motor
	}
	part, lowest := run.Motor, t.Confidence
	for _, other := range []run.Part{run.ESC, run.Battery} {
		if f, ok := now.Parts.Of(other); ok && f.HasLimit && f.Chance < lowest {
			part, lowest = other, f.Chance
		}
	}
	return part
}
