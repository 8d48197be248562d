// Package nearest compares what people type with the names that they may have meant: of
// columns, flags, cars, labels.
package nearest

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// To returns the one of names that takes the fewest typing errors to become what was
// typed, in any letter case, where these are few enough to be typing errors; else "".
func To(typed string, names []string) string {
	return By(strings.ToLower, typed, names, 1+len(typed)/3)
}

// By is [To] for texts that are compared as folded gives them, with most typing errors at
// most. The first of equals is returned.
func By(folded func(string) string, typed string, names []string, most int) string {
	const longest = 80 // nobody types a longer name
	if len(typed) > longest {
		return ""
	}
	best, fewest := "", most+1
	for _, name := range names {
		if n := typingErrors(folded(typed), folded(name)); n < fewest {
			best, fewest = name, n
		}
	}
	return best
}

// DidYouMean returns the hint at the nearest name, for the end of a message, or "".
func DidYouMean(typed string, names []string) string {
	if near := To(typed, names); near != "" {
		return fmt.Sprintf(" (did you mean %s?)", near)
	}
	return ""
}

// First returns the names by the typing errors between them and what was typed.
func First(typed string, names []string) []string {
	errorsIn := func(name string) int { return typingErrors(strings.ToLower(typed), strings.ToLower(name)) }
	return slices.SortedStableFunc(slices.Values(names), func(a, b string) int { return cmp.Compare(errorsIn(a), errorsIn(b)) })
}

// typingErrors counts the letters inserted, left out, mistaken or swapped with their
// neighbour between a and b: the edit distance with swaps of neighbours, where a swapped pair
// is not edited again (optimal string alignment). The recurrence over prefixes a[:i], b[:j] is
//
//	d(i, j) = min(d(i-1, j) + 1, d(i, j-1) + 1, d(i-1, j-1) + [a_i ≠ b_j], d(i-2, j-2) + 1 if swapped)
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
			same := rows[i-1][j-1]
			if from[i-1] != to[j-1] {
				same++
			}
			rows[i][j] = min(rows[i-1][j]+1, rows[i][j-1]+1, same)
			if i > 1 && j > 1 && from[i-1] == to[j-2] && from[i-2] == to[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return rows[len(from)][len(to)]
}
