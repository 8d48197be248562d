package report

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/nearest"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/document"
)

// Reader says where an answer is read, and so how its reader can ask again.
type Reader int

// Readers.
const (
	AtCommandLine Reader = iota
	OnPage               // with a form for what if
	InReport             // on paper, or far from the program
)

// Links lead from warnings, by their code, to where their reader can settle them.
type Links map[analyze.Code]document.Link

// WarningNotes are warnings for people, each with what to do about it. Warnings of several parts
// in the same words are one.
func WarningNotes(warnings []analyze.Warning, u units.System, to Reader, links Links) document.Document {
	if len(warnings) == 0 {
		return nil
	}
	var notes document.Notes
	for _, group := range sameButForPart(warnings) {
		message, action, _ := wording(u, group, to)
		n := document.Note{Kind: document.Warning, Label: "Warning", Text: message, Action: action}
		if link, ok := links[group[0].Code()]; ok {
			n.Link = &link
		}
		notes = append(notes, n)
	}
	return document.Document{notes}
}

// byUrgency has a warning of each kind, those that change most what to do first.
var byUrgency = []analyze.Warning{
	analyze.VeryHot{}, analyze.NotTheLever{}, analyze.RunsHotter{}, analyze.UnitsLookSwapped{},
	analyze.AllTooFarUp{}, analyze.UnknownLabel{}, analyze.CellsUntested{}, analyze.CutShortMinutes{},
	analyze.AirUntested{}, analyze.TireUntested{}, analyze.MinutesUntested{}, analyze.LimitAssumed{},
	analyze.PartUnjudged{}, analyze.OneRunOnly{}, analyze.OneGearingOnly{}, analyze.WarmStartAssumed{},
	analyze.OddRun{}, analyze.NearAmbient{}, analyze.SeveralChanges{}, analyze.OutsideTested{},
	analyze.HeatStops{}, analyze.InfluentialRun{}, analyze.OtherMotorRuns{},
}

// BriefWarnings writes the warnings that change most what to do, one line each, and how many
// more there are. It leaves out what a headline has said. Rows that can't be used come first:
// what is missing may be the best of the log.
func BriefWarnings(w io.Writer, warnings []analyze.Warning, n app.Notes, s Style) error {
	const most = 3 // lines
	groups := sameButForPart(slices.DeleteFunc(slices.Clone(warnings), analyze.ChecksFirst))
	urgency := func(group []analyze.Warning) int {
		return slices.IndexFunc(byUrgency, func(kind analyze.Warning) bool { return kind.Code() == group[0].Code() })
	}
	slices.SortStableFunc(groups, func(a, b []analyze.Warning) int { return cmp.Compare(urgency(a), urgency(b)) })
	lines := notesInBrief(n)
	for _, group := range groups {
		_, _, brief := wording(s.Units, group, AtCommandLine)
		lines = append(lines, brief)
	}
	if more := len(lines) - (most - 1); more > 1 {
		lines = append(lines[:most-1], fmt.Sprintf("and %d more: ask with --full", more))
	}
	if len(lines) == 0 {
		return nil
	}
	told := worded(lines, func(line string) document.Block { return document.Paragraph("warning: " + line) })
	return document.Document{section("", "", told...)}.Text(w, s.Layout)
}

// notesInBrief counts the notes of the rows, a line for each kind. A note that only asks about
// typed values has been told.
func notesInBrief(n app.Notes) []string {
	var lines []string
	for _, k := range kindsOf(n) {
		notes := slices.DeleteFunc(k.notes(), func(n note) bool { return n.first.Ask && n.first.Line == 0 })
		if len(notes) == 0 {
			continue
		}
		at := notes[0].first.Position
		place := shortened(filepath.Base(at.File))
		if at.Line > 0 {
			place += fmt.Sprintf(" line %d", at.Line)
		}
		if len(notes) > 1 {
			place += " and more"
		}
		lines = append(lines, fmt.Sprintf("%s, %s: --full tells", place, k.inBrief))
	}
	return lines
}

// WarningsOfAll returns the warnings of several answers, each kind once for a part or
// a run of the log.
func WarningsOfAll(all []NextRun) []analyze.Warning {
	var out []analyze.Warning
	told := map[string]bool{}
	for _, r := range all {
		for _, w := range r.Warnings {
			key := fmt.Sprint(w.Code(), w.About())
			if !told[key] {
				told[key] = true
				out = append(out, w)
			}
		}
	}
	return out
}

// sameButForPart groups neighbouring warnings that differ in nothing but the part.
func sameButForPart(warnings []analyze.Warning) [][]analyze.Warning {
	var groups [][]analyze.Warning
	for _, w := range warnings {
		n, key := len(groups), saidOnce(w)
		if n > 0 && key != nil && key == saidOnce(groups[n-1][0]) {
			groups[n-1] = append(groups[n-1], w)
		} else {
			groups = append(groups, []analyze.Warning{w})
		}
	}
	return groups
}

// saidOnce returns what neighbouring warnings must have in common to be one, or nil for a
// warning that stays alone. What differs between the parts is then told part by part, or not at
// all.
func saidOnce(w analyze.Warning) any {
	switch w := w.(type) {
	case analyze.LimitAssumed, analyze.PartUnjudged, analyze.WarmStartAssumed:
		return w.Code()
	case analyze.InfluentialRun:
		return w.Run
	case analyze.HeatStops:
		return analyze.HeatStops{Runs: w.Runs}
	case analyze.OneRunOnly:
		if !w.EveryPart {
			return w.Code()
		}
	case analyze.OneGearingOnly:
		if !w.EveryPart {
			return analyze.OneGearingOnly{Runs: w.Runs}
		}
	}
	return nil
}

// wording is the one place where warnings are worded: what was seen with its number and what
// it could be, what to do, and both in less than a line. The warnings of a group differ in
// their part alone. Nothing here asserts a cause: a log can't know one.
func wording(u units.System, group []analyze.Warning, to Reader) (message, action, brief string) {
	part := theParts(group)
	switch w := group[0].(type) {
	case analyze.OneRunOnly:
		return fmt.Sprintf("the forecast of %s rests on one run", part),
			"log two or three more, one of them with another pinion; the range narrows at once",
			"one run only: this is mostly the general rule"
	case analyze.OneGearingOnly:
		return fmt.Sprintf("each of the %d runs that measured %s has the same gearing, so how heat follows gearing is the general rule, not this car yet",
				w.Runs, part),
			"make one run with another pinion and log it",
			"one gearing only: how heat follows gearing is the general rule"
	case analyze.OddRun:
		return fmt.Sprintf("%s: %s peaked at %s, and the other runs let you expect %s; "+
				"a missed spot, a late reading, wind, traffic or a tight gear mesh could be behind it",
				w.Run, part, u.Forecast(w.Peak), u.Forecast(w.Expected)),
			"look at that row and its note; if the reading can't be trusted, put yes in its skip column and ask again",
			fmt.Sprintf("line %d, %s: %s, odd beside the others: check that row", w.Run.Line, w.Part.Word(), u.Forecast(w.Peak))
	case analyze.InfluentialRun:
		return fmt.Sprintf("%s alone holds most of what the log tells about gearing and the heat of %s; "+
				"if that reading was off, so is the answer",
				w.Run, part),
			"repeat that gearing once and log it",
			"one run decides how heat follows the gearing: repeat its gearing"
	case analyze.RunsHotter:
		return fmt.Sprintf("at equal gearing the rise of %s over the air has grown by about %s over the log; "+
				"a tight mesh, worn bearings, a dragging brake, dirt in the cooling or a tired motor could be behind it",
				part, share(w.Growth)),
			"check the car before the pinion: mesh, bearings, brake, cooling, then the motor",
			fmt.Sprintf("%s runs %s hotter than it did: check the car first", part, share(w.Growth))
	case analyze.SeveralChanges:
		return fmt.Sprintf("from %s on the gearing changed together with %s and never alone, so its effect can't be told from theirs",
				w.Run, list(w.With)),
			"make one run that changes nothing but the pinion",
			fmt.Sprintf("the gearing changed only together with %s", list(w.With))
	case analyze.NearAmbient:
		return fmt.Sprintf("%s: %s read %s at the end, only %s above the air; "+
				"a late reading, a missed spot or bare shiny metal under an infrared gun could be behind it",
				w.Run, part, u.Reading(w.Peak), u.Rise(w.Peak.Above(w.Air))),
			"read within 30 to 60 s, on a taped or painted patch, at several spots, and keep the highest",
			fmt.Sprintf("line %d, %s: %s read hardly above the air: read late?", w.Run.Line, w.Part.Word(), part)
	case analyze.UnitsLookSwapped:
		return fmt.Sprintf("the readings of %s could be in the other scale than the column says: the middle peak is %s as read, "+
				"and would be %s otherwise", part, u.Forecast(w.Middle), u.Forecast(w.Otherwise)),
			"compare a row with the thermometer's display, and end the column's name in _c or _f accordingly; nothing was changed",
			fmt.Sprintf("%s readings of %s: °C or °F? check the column", u.Forecast(w.Middle), part)
	case analyze.HeatStops:
		runs := count(w.Runs, "run")
		return fmt.Sprintf("%s cut short by heat; %s would have gone higher in a full run, so %s as at least that hot",
				runs+choose(w.Runs, " was", " were"), part, choose(w.Runs, "it counts", "they count")),
			"plan shorter runs until a cooler gearing is fitted; an ESC that cuts off does not protect the motor",
			runs + " stopped by heat: they count as at least that hot"
	case analyze.OtherMotorRuns:
		motor, runs := "", count(w.Runs, "run")
		if w.Motor != "" {
			motor = fmt.Sprintf(" (%q)", w.Motor)
		}
		return fmt.Sprintf("%s with another motor than the last run's%s %s left out", runs, motor, choose(w.Runs, "was", "were")),
			"that is right if the motor was changed; if it was not, write the same name in every row's motor column",
			runs + " with another motor left out"
	case analyze.NotTheLever:
		return fmt.Sprintf("the heat of %s hardly follows the gearing in this log: %s chance that 10 %% less rollout takes less than %s from its rise",
				part, chance(w.Chance), share(w.Takes)),
			"check airflow, fan, mesh, bearings, brake and the motor's timing before you buy pinions; gearing far too short heats a motor too",
			fmt.Sprintf("the heat of %s hardly follows the gearing", part)
	case analyze.OutsideTested:
		side, action := "above", "make the first run short, read at 2 and at 5 minutes, and stop at the limit"
		if w.Teeth < 0 {
			side, action = "below", "down is the careful direction; read and log the first run"
		}
		off := "less than one tooth"
		if n := int(math.Round(math.Abs(w.Teeth))); n > 0 {
			off = "about " + teeth(n)
		}
		return fmt.Sprintf("the gearing in the answer lies %s %s every gearing already run, so its forecast reaches beyond the log", off, side), action,
			fmt.Sprintf("the answer lies %s %s what was run: read early", off, side)
	case analyze.TireUntested:
		tires := fromTo(u.Tire(w.Tested.Low), u.Tire(w.Tested.High))
		return fmt.Sprintf("the next run's tire is not one that the log has seen (%s); what a tire does beyond its rollout is the general rule here", tires),
			"read early on the first run with it",
			fmt.Sprintf("no run on such a tire (%s): read early", tires)
	case analyze.MinutesUntested:
		return fmt.Sprintf("the next run of %s is much longer than any in the log (longest %s), so how the heat goes on is mostly the general rule",
				w.Minutes, w.Longest),
			fmt.Sprintf("stop and read after %s the first time", w.Longest),
			fmt.Sprintf("no run was near %s (longest %s): stop and read then", w.Minutes, w.Longest)
	case analyze.AirUntested:
		air, logged := u.Reading(w.Air), u.Reading(w.Nearest)
		return fmt.Sprintf("the next run's air of %s lies outside what the log has seen (%s at the nearest)", air, logged),
			"read early on the first run: hot air makes a motor's own rise larger too",
			fmt.Sprintf("no run in air near %s (nearest %s): read early", air, logged)
	case analyze.CellsUntested:
		cells, logged := count(w.Cells, "cell"), list(worded(w.Logged, strconv.Itoa))
		if logged == "" {
			return fmt.Sprintf("the log says nothing of cells, so %s change nothing in this forecast", cells),
				"fill in the cells column, and keep the first run with other cells short",
				fmt.Sprintf("the log says nothing of cells: %s change nothing here", cells)
		}
		return fmt.Sprintf("the log holds no run on %s (it holds %s); what cells change is the general rule here", cells, logged),
			"keep the first run short and read it early",
			fmt.Sprintf("no run on %s (log: %s): short first run", cells, logged)
	case analyze.UnknownLabel:
		if len(w.Logged) == 0 {
			return fmt.Sprintf("the log names no %s, so %q is foreseen like any other", w.Kind, w.Label),
				"fill in the " + w.Kind + " column to let the log tell",
				fmt.Sprintf("the log names no %s at all", w.Kind)
		}
		alike := nearest.First(w.Label, w.Logged)
		return fmt.Sprintf("the log holds no %s %q; it holds %s", w.Kind, w.Label, quotedList(alike)),
			"ask again with one of those, or keep the first run short and read it early",
			fmt.Sprintf("no run on %s %s; the log has %s", w.Kind, shortened(w.Label), shortened(alike[0]))
	case analyze.WarmStartAssumed:
		var kept, columns []string
		for _, of := range ofKind[analyze.WarmStartAssumed](group) {
			kept = append(kept, fmt.Sprintf("the %s %s", of.Part.Word(), share(of.HeatLeft)))
			columns = append(columns, of.Part.String()+"_start_c")
		}
		runs := count(w.Runs, "run")
		return fmt.Sprintf("%s began soon after the one before, without a start reading; as far as the log tells, %s of the heat was still there", runs, list(kept)),
			fmt.Sprintf("read the parts before you set off and log %s (or _f)", list(columns)),
			runs + " may have begun warm: log motor_start_c"
	case analyze.CutShortMinutes:
		return fmt.Sprintf("heat ended the last run after %s, so the next is taken to last %s", w.Last, w.Taken),
			"say how long you will drive" + to.choose(" with --minutes", " in what if", ", and ask again"),
			fmt.Sprintf("heat cut the last run at %s; %s is taken: say --minutes", w.Last, w.Taken)
	case analyze.VeryHot:
		message = "no gearing to choose from is likely to stay under the limits"
		if !w.NoGearing {
			message = fmt.Sprintf("%s read %s", part, u.Reading(w.Peak))
		}
		return message, "let it cool, then check mesh, bearings, brake and motor before you drive again", "very hot: let it cool and check the car"
	case analyze.LimitAssumed:
		var limits []string
		for _, of := range ofKind[analyze.LimitAssumed](group) {
			limits = append(limits, fmt.Sprintf("the %s %s (%s)", of.Part.Word(), u.Reading(of.Limit), defaultLimitStatus(of.Part)))
		}
		flag := fmt.Sprintf("--limit %s=%s%s", w.Part, u.ReadingNumber(w.Limit), strings.TrimPrefix(u.TemperatureUnit(), "°"))
		return fmt.Sprintf("no limit was given for %s; taken for now: %s", part, list(limits)),
			"give the maker's limits" + to.choose(", as in "+flag, " in what if, under limits, or once for all in the car file", ", and ask again"),
			fmt.Sprintf("limits assumed for %s: say %s", parts(group, run.Part.Word), flag)
	case analyze.PartUnjudged:
		columns := parts(group, func(p run.Part) string { return p.String() + "_peak_c" })
		return fmt.Sprintf("the log has no reading of %s, so no chance here counts %s", part, choose(len(group), "it", "them")),
			fmt.Sprintf("log %s (or _f) after the next run", columns),
			parts(group, run.Part.Word) + " not judged: never read"
	case analyze.AllTooFarUp:
		return fmt.Sprintf("every candidate lies more than %s above what is fitted, or above the tallest gearing that a run has proven", teeth(w.MaxStepUp)),
			"ask for smaller pinions, or allow more" + to.choose(" with --max-step-up", " with most teeth up in what if", " teeth up at once") + " and make the first run short",
			"every pinion is too far up: name smaller ones"
	default:
		panic("report: no wording for warning " + string(w.Code())) // a test asks for each kind
	}
}

// orAbove returns the words for the command line, or for those who have a form above an answer.
func (r Reader) orAbove(flag, field string) string { return r.choose(flag, field, field) }

// choose returns the words for the reader's command line, form or paper.
func (r Reader) choose(flag, field, paper string) string {
	return [...]string{AtCommandLine: flag, OnPage: field, InReport: paper}[r]
}

// AssumedLimit is the limit of a part that is taken where none is given, with what it rests on.
func AssumedLimit(part run.Part, u units.System) string {
	return fmt.Sprintf("%s (%s)", u.Reading(advise.DefaultLimits().At(part).Temperature), defaultLimitStatus(part))
}

// defaultLimitStatus says what a documented default limit rests on.
func defaultLimitStatus(part run.Part) string {
	if part == run.Battery {
		return "the usual LiPo cell specification's discharge maximum"
	}
	return "common practice, no source"
}

// theParts names the parts of a group: "the motor and the ESC".
func theParts[W analyze.Warning](group []W) string {
	return parts(group, func(p run.Part) string { return "the " + p.Word() })
}

func parts[W analyze.Warning](group []W, word func(run.Part) string) string {
	return list(worded(group, func(w W) string { return word(w.About().Part) }))
}

// ofKind returns the warnings of one kind.
func ofKind[W analyze.Warning](warnings []analyze.Warning) []W {
	var all []W
	for _, w := range warnings {
		if one, ok := w.(W); ok {
			all = append(all, one)
		}
	}
	return all
}

// shortened quotes a name, and cuts one that would break a line.
func shortened(name string) string {
	const most = 16 // letters
	if runes := []rune(name); len(runes) > most {
		name = string(runes[:most-1]) + "…"
	}
	return strconv.Quote(name)
}
