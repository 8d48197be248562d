package report

import (
	"fmt"

	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// BriefCaution is the shortest of it.
func BriefCaution() document.Document {
	return document.Document{document.Notes{{Kind: document.Caution, Label: "Take care", Text: "makers' limits and local rules come first. Metal burns: unplug before you touch " +
		"gears. Hot or swollen LiPo: outside; never charge it warm"}}}
}

// CautionNotes are what belongs beside every answer about heat and drive trains.
func CautionNotes(u units.System) document.Document {
	const (
		burns    = 65 // °C at which metal burns skin in about a second of contact
		chargeTo = 45 // °C, the usual LiPo cell specification's highest charging temperature
	)
	return document.Document{document.Notes{{Kind: document.Caution, Label: "Take care", Text: fmt.Sprintf("the limits of the makers of car, motor, ESC and battery and the track's and local rules "+
		"come before this answer. Metal at %s burns within about a second. Unplug the battery before touching pinion, spur or mesh, "+
		"and keep fingers, hair and cloth off turning gears. A hot, swollen or damaged LiPo: stop, let it cool outside; "+
		"charge it between %s and %s only, and never unattended",
		u.Reading(burns), u.Reading(0), u.Reading(chargeTo))}}}
}
