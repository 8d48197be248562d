package report

import (
	"slices"

	"regear/analyze"
	"regear/analyze/run"
)

// flagWords are what the warnings that name runs say of them in a few words.
var flagWords = map[analyze.Code]string{
	analyze.OddRun:         "odd",
	analyze.InfluentialRun: "decides alone",
	analyze.SeveralChanges: "several changes at once",
	analyze.NearAmbient:    "close to the air",
}

// RunFlags says of the runs of a car, by their place, what makes them doubtful and what
// keeps them out of a fit, in a few words each.
func RunFlags(car *analyze.Car) map[run.Position][]string {
	flags := map[run.Position][]string{}
	add := func(at run.Position, words string) {
		if !slices.Contains(flags[at], words) {
			flags[at] = append(flags[at], words)
		}
	}
	for _, w := range car.Warnings() {
		for _, at := range w.Runs {
			if words := flagWords[w.Code]; w.OfPart {
				add(at, w.Part.Word()+" "+words)
			} else if words != "" {
				add(at, words)
			}
		}
	}
	for _, f := range car.Fits() {
		for _, left := range f.LeftOut {
			switch left.Reason {
			case analyze.OtherMotor:
				add(left.Position, "another motor, left out")
			case analyze.NoRise:
				add(left.Position, f.Part.Word()+" not hotter than at the start, left out")
			}
			// Skipped runs say so themselves, and a blank cell does for what was not measured.
		}
	}
	return flags
}
