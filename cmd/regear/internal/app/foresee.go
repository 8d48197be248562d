package app

import (
	"slices"

	"regear/analyze"
	"regear/analyze/run"
)

// Foreseen returns how the earlier runs of its car foresee a run of the book; none where none of
// them can.
func (l *Logs) Foreseen(r *run.Run) []analyze.Foreseen {
	earlier := slices.DeleteFunc(slices.Clone(l.ByCar[r.Car]), func(other run.Run) bool {
		return other.Number == r.Number || other.When.After(r.When)
	})
	foreseen, _ := analyze.Foresee(earlier, r)
	return foreseen
}
