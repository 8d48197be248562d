package runlog

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Nearest returns the one of names that takes the fewest typing errors to become what was
// typed, where these are few enough to be typing errors; else "". It is for whatever
// people type by name: columns, flags, cars.
func Nearest(typed string, names []string) string {
	return closest(strings.ToLower(typed), names, strings.ToLower, 1+len(typed)/3)
}

// DidYouMean returns the hint at the nearest name, for the end of a message, or "".
func DidYouMean(typed string, names []string) string {
	if near := Nearest(typed, names); near != "" {
		return fmt.Sprintf(" (did you mean %s?)", near)
	}
	return ""
}

// closest returns the first of the names that, once folded, take the fewest typing errors,
// if they are no more than most, to become what was typed; else "".
func closest(typed string, names []string, folded func(string) string, most int) string {
	if len(typed) > maxExcerpt {
		return ""
	}
	best, fewest := "", most+1
	for _, name := range names {
		if d := typingErrors(typed, folded(name)); d < fewest {
			best, fewest = name, d
		}
	}
	return best
}

// typingErrors counts the letters inserted, left out, mistaken or swapped with their
// neighbour between a and b (optimal string alignment).
func typingErrors(a, b string) int {
	from, to := []rune(a), []rune(b)
	rows := make([][]int, len(from)+1)
	for i := range rows {
		rows[i] = make([]int, len(to)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(from); i++ {
		for j := 1; j <= len(to); j++ {
			mistaken := 1
			if from[i-1] == to[j-1] {
				mistaken = 0
			}
			rows[i][j] = min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+mistaken)
			if i > 1 && j > 1 && from[i-1] == to[j-2] && from[i-2] == to[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return rows[len(from)][len(to)]
}

// NearestFirst returns the names by the typing errors between them and what was typed.
func NearestFirst(typed string, names []string) []string {
	errorsIn := func(name string) int { return typingErrors(strings.ToLower(typed), strings.ToLower(name)) }
	return slices.SortedStableFunc(slices.Values(names), func(a, b string) int { return cmp.Compare(errorsIn(a), errorsIn(b)) })
}
