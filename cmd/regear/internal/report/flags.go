package report

import (
	"slices"

	"regear/analyze"
	"regear/analyze/run"
)

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
		switch w := w.(type) {
		case analyze.OddRun:
			add(w.Run, w.Part.Word()+" odd")
		case analyze.InfluentialRun:
			add(w.Run, w.Part.Word()+" decides alone")
		case analyze.SeveralChanges:
			add(w.Run, "several changes at once")
		case analyze.NearAmbient:
			add(w.Run, w.Part.Word()+" close to the air")
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
