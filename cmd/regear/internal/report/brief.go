package report

import (
	"cmp"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"

	"regear/analyze"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// firstTold are the codes of warnings from those that change most what to do to those that
// change least.
var firstTold = []analyze.Code{
	analyze.VeryHot, analyze.NotTheLever, analyze.RunsHotter, analyze.UnitsLookSwapped, analyze.AllTooFarUp, analyze.UnknownLabel,
	analyze.CellsUntested, analyze.CutShortMinutes, analyze.AirUntested, analyze.TireUntested, analyze.MinutesUntested,
	analyze.LimitAssumed, analyze.PartUnjudged, analyze.OneRunOnly, analyze.OneGearingOnly, analyze.WarmStartAssumed,
	analyze.OddRun, analyze.NearAmbient, analyze.SeveralChanges, analyze.OutsideTested, analyze.HeatStops, analyze.InfluentialRun,
	analyze.OtherMotorRuns,
}

// mostBrief is how many lines of warnings stand in a short answer, and mostOfName how many
// letters of a name.
const mostBrief, mostOfName = 3, 16

// BriefWarnings writes the warnings that change what to do, one line each, and how many
// more there are. What a headline says already is not said again. Rows that can't be used
// come first: what is missing may be the best of the log.
func BriefWarnings(w io.Writer, warnings []analyze.Warning, n Noticed, s Style) error {
	groups := slices.DeleteFunc(sameButForPart(warnings), func(group []analyze.Warning) bool {
		return group[0].Code.ChecksFirst()
	})
	slices.SortStableFunc(groups, func(a, b []analyze.Warning) int {
		return cmp.Compare(slices.Index(firstTold, a[0].Code), slices.Index(firstTold, b[0].Code))
	})
	lines := noticedBrief(n)
	for _, group := range groups {
		lines = append(lines, brief(s.Units, group))
	}
	if more := len(lines) - (mostBrief - 1); more > 1 {
		lines = append(lines[:mostBrief-1], fmt.Sprintf("and %d more: ask with --full", more))
	}
	if len(lines) == 0 {
		return nil
	}
	var told document.Document
	for _, line := range lines {
		told = append(told, document.Paragraph("warning: "+line))
	}
	return document.Document{section("", "", told...)}.Text(w, s.Layout)
}

// noticedBrief counts what was noticed in the rows, a line for each kind. What was asked about what
// was typed has been told.
func noticedBrief(n Noticed) []string {
	var lines []string
	for _, k := range kindsOf(n) {
		findings := slices.DeleteFunc(k.findings(), func(f finding) bool { return f.first.Ask && f.first.Line == 0 })
		if len(findings) == 0 {
			continue
		}
		at := findings[0].first.Position
		place := shortened(filepath.Base(at.File))
		if at.Line > 0 {
			place += fmt.Sprintf(" line %d", at.Line)
		}
		if len(findings) > 1 {
			place += " and more"
		}
		lines = append(lines, fmt.Sprintf("%s, %s: --full tells", place, k.inBrief))
	}
	return lines
}

// brief words warnings in less than a line.
func brief(u units.System, group []analyze.Warning) string {
	w, part := group[0], theParts(group)
	switch w.Code {
	case analyze.OneRunOnly:
		return "one run only: this is mostly the general rule"
	case analyze.OneGearingOnly:
		return "one gearing only: how heat follows gearing is the general rule"
	case analyze.OddRun:
		return fmt.Sprintf("%s: %s, odd beside the others: check that row", when(u, w), u.Forecast(w.Seen))
	case analyze.InfluentialRun:
		return "one run decides how heat follows the gearing: repeat its gearing"
	case analyze.RunsHotter:
		return fmt.Sprintf("%s runs %s hotter than it did: check the car first", part, share(w.Score))
	case analyze.SeveralChanges:
		return fmt.Sprintf("the gearing changed only together with %s", list(w.Names))
	case analyze.NearAmbient:
		return fmt.Sprintf("%s: %s read hardly above the air: read late?", when(u, w), part)
	case analyze.UnitsLookSwapped:
		return fmt.Sprintf("%s readings of %s: °C or °F? check the column", u.Forecast(w.Seen), part)
	case analyze.HeatStops:
		return fmt.Sprintf("%s stopped by heat: they count as at least so hot", count(int(w.Score), "run"))
	case analyze.OtherMotorRuns:
		return fmt.Sprintf("%s with another motor left out", count(int(w.Score), "run"))
	case analyze.NotTheLever:
		return fmt.Sprintf("the heat of %s hardly follows the gearing", part)
	case analyze.OutsideTested:
		return fmt.Sprintf("the answer lies %s %s what was run: read early", toothLengths(w.Score), choose(sign(w.Score), "above", "below"))
	case analyze.TireUntested:
		return fmt.Sprintf("no run on such a tire (%s): read early", tireSpan(u, w.Low, w.High))
	case analyze.MinutesUntested:
		return fmt.Sprintf("no run was near %s (longest %s): stop and read then", minutes(units.Minutes(w.Score)), minutes(units.Minutes(w.Threshold)))
	case analyze.AirUntested:
		return fmt.Sprintf("no run in air near %s (nearest %s): read early", u.Reading(w.Seen), u.Reading(w.Expected))
	case analyze.CellsUntested:
		if len(w.Names) == 0 {
			return fmt.Sprintf("the log says nothing of cells: %s change nothing here", count(int(w.Score), "cell"))
		}
		return fmt.Sprintf("no run on %s (log: %s): short first run", count(int(w.Score), "cell"), list(w.Names))
	case analyze.UnknownLabel:
		if len(w.Names) == 2 {
			return fmt.Sprintf("the log names no %s at all", w.Names[0])
		}
		return fmt.Sprintf("no run on %s %s; the log has %s", w.Names[0], shortened(w.Names[1]), shortened(w.Names[2]))
	case analyze.WarmStartAssumed:
		return fmt.Sprintf("%s may have begun warm: log motor_start_c", count(int(w.Score), "run"))
	case analyze.CutShortMinutes:
		return fmt.Sprintf("heat cut the last run at %s; %s is taken: say --minutes", minutes(units.Minutes(w.Score)), minutes(units.Minutes(w.Threshold)))
	case analyze.VeryHot:
		return "very hot: let it cool and check the car"
	case analyze.LimitAssumed:
		return fmt.Sprintf("limits assumed for %s: say --limit %s=%s", bare(group), w.Part, flagTemperature(u, w.Seen))
	case analyze.PartUnjudged:
		return fmt.Sprintf("%s not judged: never read", bare(group))
	case analyze.AllTooFarUp:
		return "every pinion is too far up: name smaller ones"
	}
	// Every code is worded above; a test asks for each.
	panic("report: no brief wording for warning " + w.Code.String())
}

// bare names the parts of a group without articles: "motor, ESC and battery".
func bare(group []analyze.Warning) string {
	words := make([]string, len(group))
	for i, w := range group {
		words[i] = w.Part.Word()
	}
	return list(words)
}

// when names the run of a warning by its line.
func when(u units.System, w analyze.Warning) string {
	if len(w.Runs) == 0 {
		return "a run"
	}
	return fmt.Sprintf("line %d, %s", w.Runs[0].Line, w.Part.Word())
}

// sign returns 1 for what lies above 0, and 2 for what lies below.
func sign(x float64) int {
	if x < 0 {
		return 2
	}
	return 1
}

// shortened quotes a name, and cuts one that would break a line.
func shortened(name string) string {
	if runes := []rune(name); len(runes) > mostOfName {
		name = string(runes[:mostOfName-1]) + "…"
	}
	return strconv.Quote(name)
}
