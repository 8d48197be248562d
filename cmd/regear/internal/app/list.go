package app

import (
	"slices"

	"regear/analyze/run"
	"regear/cmd/regear/internal/ask"
)

// Listed returns the runs that pass a filter, in the order of time.
func Listed(runs []run.Run, filter *ask.RunFilter) []run.Run {
	var wanted []run.Run
	for i := range runs {
		if filter.Wants(&runs[i]) {
			wanted = append(wanted, runs[i])
		}
	}
	slices.SortStableFunc(wanted, func(a, b run.Run) int { return a.When.Compare(b.When) })
	return wanted
}
