package nearest

import (
	"slices"
	"strings"
	"testing"
)

// Distances by R, package stringdist 0.9.10: stringdist(a, b, method = "osa").
func TestTypingErrors(t *testing.T) {
	for _, row := range []struct {
		a, b string
		want int
	}{
		{"kitten", "sitting", 3}, {"", "abc", 3}, {"abc", "abc", 0}, {"spur", "spru", 1}, {"ca", "abc", 3},
		{"ärger", "arger", 1}, {"pinion", "pinoin", 1}, {"ambient", "ambeint", 1}, {"battery", "battrey_peak", 6},
		{"motor", "rotom", 2}, {"heron", "ehrno", 2}, {"abcdef", "badcfe", 3}, {"surface", "sruafce", 2},
	} {
		if got := typingErrors(row.a, row.b); got != row.want {
			t.Errorf("%s to %s: got %d, want %d", row.a, row.b, got, row.want)
		}
		if got := typingErrors(row.b, row.a); got != row.want {
			t.Errorf("%s to %s: got %d, want %d", row.b, row.a, got, row.want)
		}
	}
}

func TestTo(t *testing.T) {
	names := []string{"heron", "gull", "crane"}
	for typed, want := range map[string]string{"Heron": "heron", "herno": "heron", "gul": "gull", "carne": "crane", "xyz": "", "": "", "pelican": "",
		strings.Repeat("heron", 100): ""} {
		if got := To(typed, names); got != want {
			t.Errorf("nearest to %q is %q, want %q", typed, got, want)
		}
	}
	if got := DidYouMean("gul", names); got != " (did you mean gull?)" {
		t.Errorf("hint %q", got)
	}
	if got := First("Tufr", []string{"clay", "grass", "turf"}); !slices.Equal(got, []string{"turf", "clay", "grass"}) {
		t.Errorf("nearest first to Tufr: %v", got)
	}
}
