package report

import (
	"cmp"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"

	"regear/analyze"
	"regear/analyze/nearest"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// firstTold has a warning of each kind, from those that change most what to do to those that
// change least.
var firstTold = []analyze.Warning{
	analyze.VeryHot{}, analyze.NotTheLever{}, analyze.RunsHotter{}, analyze.UnitsLookSwapped{},
	analyze.AllTooFarUp{}, analyze.UnknownLabel{}, analyze.CellsUntested{}, analyze.CutShortMinutes{},
	analyze.AirUntested{}, analyze.TireUntested{}, analyze.MinutesUntested{}, analyze.LimitAssumed{},
	analyze.PartUnjudged{}, analyze.OneRunOnly{}, analyze.OneGearingOnly{}, analyze.WarmStartAssumed{},
	analyze.OddRun{}, analyze.NearAmbient{}, analyze.SeveralChanges{}, analyze.OutsideTested{},
	analyze.HeatStops{}, analyze.InfluentialRun{}, analyze.OtherMotorRuns{},
}

// mostBrief is how many lines of warnings stand in a short answer, and mostOfName how many
// letters of a name.
const mostBrief, mostOfName = 3, 16

// BriefWarnings writes the warnings that change what to do, one line each, and how many
// more there are. What a headline says already is not said again. Rows that can't be used
// come first: what is missing may be the best of the log.
func BriefWarnings(w io.Writer, warnings []analyze.Warning, n Noticed, s Style) error {
	groups := sameButForPart(slices.DeleteFunc(slices.Clone(warnings), analyze.ChecksFirst))
	rank := func(group []analyze.Warning) int {
		return slices.IndexFunc(firstTold, func(kind analyze.Warning) bool { return kind.Code() == group[0].Code() })
	}
	slices.SortStableFunc(groups, func(a, b []analyze.Warning) int { return cmp.Compare(rank(a), rank(b)) })
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
	part := theParts(group)
	switch w := group[0].(type) {
	case analyze.OneRunOnly:
		return "one run only: this is mostly the general rule"
	case analyze.OneGearingOnly:
		return "one gearing only: how heat follows gearing is the general rule"
	case analyze.OddRun:
		return fmt.Sprintf("%s: %s, odd beside the others: check that row", place(w.Run, w.Part), u.Forecast(w.Peak))
	case analyze.InfluentialRun:
		return "one run decides how heat follows the gearing: repeat its gearing"
	case analyze.RunsHotter:
		return fmt.Sprintf("%s runs %s hotter than it did: check the car first", part, share(w.Growth))
	case analyze.SeveralChanges:
		return fmt.Sprintf("the gearing changed only together with %s", list(w.With))
	case analyze.NearAmbient:
		return fmt.Sprintf("%s: %s read hardly above the air: read late?", place(w.Run, w.Part), part)
	case analyze.UnitsLookSwapped:
		return fmt.Sprintf("%s readings of %s: °C or °F? check the column", u.Forecast(w.Middle), part)
	case analyze.HeatStops:
		return fmt.Sprintf("%s stopped by heat: they count as at least that hot", count(w.Runs, "run"))
	case analyze.OtherMotorRuns:
		return fmt.Sprintf("%s with another motor left out", count(w.Runs, "run"))
	case analyze.NotTheLever:
		return fmt.Sprintf("the heat of %s hardly follows the gearing", part)
	case analyze.OutsideTested:
		side := "above"
		if w.Teeth < 0 {
			side = "below"
		}
		return fmt.Sprintf("the answer lies %s %s what was run: read early", toothLengths(w.Teeth), side)
	case analyze.TireUntested:
		return fmt.Sprintf("no run on such a tire (%s): read early", tireSpan(u, w.Tested))
	case analyze.MinutesUntested:
		return fmt.Sprintf("no run was near %s (longest %s): stop and read then", minutes(w.Minutes), minutes(w.Longest))
	case analyze.AirUntested:
		return fmt.Sprintf("no run in air near %s (nearest %s): read early", u.Reading(w.Air), u.Reading(w.Nearest))
	case analyze.CellsUntested:
		if len(w.Logged) == 0 {
			return fmt.Sprintf("the log says nothing of cells: %s change nothing here", count(w.Cells, "cell"))
		}
		return fmt.Sprintf("no run on %s (log: %s): short first run", count(w.Cells, "cell"), numbers(w.Logged))
	case analyze.UnknownLabel:
		if len(w.Logged) == 0 {
			return fmt.Sprintf("the log names no %s at all", w.Kind)
		}
		return fmt.Sprintf("no run on %s %s; the log has %s", w.Kind, shortened(w.Label), shortened(nearest.First(w.Label, w.Logged)[0]))
	case analyze.WarmStartAssumed:
		return fmt.Sprintf("%s may have begun warm: log motor_start_c", count(w.Runs, "run"))
	case analyze.CutShortMinutes:
		return fmt.Sprintf("heat cut the last run at %s; %s is taken: say --minutes", minutes(w.Last), minutes(w.Taken))
	case analyze.VeryHot:
		return "very hot: let it cool and check the car"
	case analyze.LimitAssumed:
		return fmt.Sprintf("limits assumed for %s: say --limit %s=%s", bareParts(group), w.Part, flagTemperature(u, w.Limit))
	case analyze.PartUnjudged:
		return fmt.Sprintf("%s not judged: never read", bareParts(group))
	case analyze.AllTooFarUp:
		return "every pinion is too far up: name smaller ones"
	default:
		panic("report: no brief wording for warning " + string(w.Code())) // a test asks for each kind
	}
}

// place names a part in a run, which it names by its line.
func place(at run.Position, p run.Part) string { return fmt.Sprintf("line %d, %s", at.Line, p.Word()) }

// shortened quotes a name, and cuts one that would break a line.
func shortened(name string) string {
	if runes := []rune(name); len(runes) > mostOfName {
		name = string(runes[:mostOfName-1]) + "…"
	}
	return strconv.Quote(name)
}
