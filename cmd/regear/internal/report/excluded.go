package report

import (
	"fmt"
	"strings"

	"regear/advise"
	"regear/analyze/drivetrain"
)

var exclusions = map[advise.Reason]struct{ name, words string }{
	advise.OtherPitch:       {"other_pitch", "their teeth differ in pitch"},
	advise.TooSmallForMount: {"too_small_for_mount", "too small together for the mount: the motor can't come near enough"},
	advise.TooLargeForMount: {"too_large_for_mount", "too large together for the mount"},
	advise.NearlyEqual:      {"nearly_equal", "as good as"},
}

// why says why a combination is no candidate.
func why(x advise.Excluded) string {
	words := exclusions[x.Reason].words
	if x.Reason == advise.NearlyEqual {
		words += " " + pair(x.Like)
	}
	return words
}

// pair writes pinion and spur as drivers do.
func pair(g drivetrain.Gearing) string { return fmt.Sprintf("%d/%d", g.Pinion, g.Spur) }

// mostNamed is how many combinations are named for one reason before the rest is counted.
const mostNamed = 6

// excluded names the combinations that are no candidates, each reason once.
func excluded(out []advise.Excluded) string {
	var reasons []string
	byReason := map[string][]string{}
	for _, x := range out {
		reason := why(x)
		if byReason[reason] == nil {
			reasons = append(reasons, reason)
		}
		byReason[reason] = append(byReason[reason], pair(x.Gearing))
	}
	words := make([]string, len(reasons))
	for i, reason := range reasons {
		pairs := byReason[reason]
		if more := len(pairs) - mostNamed; more > 1 {
			pairs = append(pairs[:mostNamed:mostNamed], fmt.Sprintf("%d more", more))
		}
		words[i] = list(pairs) + " (" + reason + ")"
	}
	return strings.Join(words, "; ")
}

// NothingFits says that none of the gears at hand can be fitted, and why.
func NothingFits(out []advise.Excluded) error {
	return fmt.Errorf("no combination of the gears at hand fits: %s", excluded(out))
}
