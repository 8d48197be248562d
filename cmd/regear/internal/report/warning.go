package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// Reader is how whoever reads an answer can ask again.
type Reader int

// Readers.
const (
	AtCommandLine Reader = iota
	OnPage               // of what if
)

// WarningNotes are warnings for people, each with what to do about it. What is said of
// several parts in the same words is said once.
func WarningNotes(warnings []analyze.Warning, u units.System, to Reader) document.Document {
	if len(warnings) == 0 {
		return nil
	}
	var notes document.Notes
	for _, group := range sameButForPart(warnings) {
		message, action := wording(u, group, to)
		notes = append(notes, document.Note{Kind: document.Warning, Text: message, Action: action})
	}
	return document.Document{notes}
}

// sameButForPart groups neighbouring warnings that differ in nothing but the part.
func sameButForPart(warnings []analyze.Warning) [][]analyze.Warning {
	var groups [][]analyze.Warning
	for _, w := range warnings {
		if n := len(groups); n > 0 && tellsTheSame(groups[n-1][0], w) {
			groups[n-1] = append(groups[n-1], w)
			continue
		}
		groups = append(groups, []analyze.Warning{w})
	}
	return groups
}

// tellsTheSame reports whether two warnings are said as one. What differs between their
// parts is then said part by part, or not at all.
func tellsTheSame(v, w analyze.Warning) bool {
	if v.Code != w.Code || !v.OfPart || !w.OfPart || !slices.Equal(v.Runs, w.Runs) {
		return false
	}
	switch v.Code {
	case analyze.LimitAssumed, analyze.PartUnjudged, analyze.InfluentialRun, analyze.WarmStartAssumed:
		return true
	case analyze.HeatStops, analyze.OneRunOnly, analyze.OneGearingOnly:
		return v.Score == w.Score
	}
	return false
}

// Wording returns what a warning says: what was seen with its number and what it
// could be, and what to do.
func Wording(u units.System, w analyze.Warning, to Reader) (message, action string) {
	return wording(u, []analyze.Warning{w}, to)
}

// wording is the one place where warnings are worded; the warnings of a group differ
// in their part alone. Nothing here asserts a cause: a log can't know one.
func wording(u units.System, group []analyze.Warning, to Reader) (message, action string) {
	w, part := group[0], theParts(group)
	switch w.Code {
	case analyze.OneRunOnly:
		return fmt.Sprintf("the forecast of %s rests on one run", part),
			"log two or three more, one of them with another pinion; the range narrows at once"
	case analyze.OneGearingOnly:
		return fmt.Sprintf("%s has the same gearing, so how heat follows gearing is the general rule, not this car yet",
				everyRun(part, int(w.Score))),
			"make one run with another pinion and log it"
	case analyze.OddRun:
		return fmt.Sprintf("%s: %s peaked at %s, and the other runs let you expect %s; "+
				"a missed spot, a late reading, wind, traffic or a tight gear mesh could be behind it",
				positions(w.Runs), part, u.Forecast(w.Seen), u.Forecast(w.Expected)),
			"look at that row and its note; if the reading can't be trusted, put yes in its skip column and ask again"
	case analyze.InfluentialRun:
		return fmt.Sprintf("%s alone holds most of what the log tells about gearing and the heat of %s; "+
				"if that reading was off, so is the answer",
				positions(w.Runs), part),
			"repeat that gearing once and log it"
	case analyze.RunsHotter:
		return fmt.Sprintf("at equal gearing the rise of %s over the air has grown by about %s over the log; "+
				"a tight mesh, worn bearings, a dragging brake, dirt in the cooling or a tired motor could be behind it",
				part, share(w.Score)),
			"check the car before the pinion: mesh, bearings, brake, cooling, then the motor"
	case analyze.SeveralChanges:
		return fmt.Sprintf("from %s on the gearing changed together with %s and never alone, so its effect can't be told from theirs",
				positions(w.Runs), list(w.Names)),
			"make one run that changes nothing but the pinion"
	case analyze.NearAmbient:
		return fmt.Sprintf("%s: %s read %s at the end, only %s above the air; "+
				"a late reading, a missed spot or bare shiny metal under an infrared gun could be behind it",
				positions(w.Runs), part, u.Reading(w.Seen), u.Rise(w.Seen.Above(w.Expected))),
			"read within 30 to 60 s, on a taped or painted patch, at several spots, and keep the highest"
	case analyze.UnitsLookSwapped:
		return fmt.Sprintf("the readings of %s could be in the other scale than the column says: the middle peak is %s as read, "+
				"and would be %s otherwise", part, u.Forecast(w.Seen), u.Forecast(w.Expected)),
			"compare a row with the thermometer's display, and end the column's name in _c or _f accordingly; nothing was changed"
	case analyze.HeatStops:
		n := int(w.Score)
		return fmt.Sprintf("%s cut short by heat; %s would have gone higher in a full run, so %s as at least that hot",
				count(n, "run")+choose(n, " was", " were"), part, choose(n, "it counts", "they count")),
			"plan shorter runs until a cooler gearing is fitted; an ESC that cuts off does not protect the motor"
	case analyze.OtherMotorRuns:
		n := int(w.Score)
		return fmt.Sprintf("%s with another motor than the last run's%s %s left out", count(n, "run"), quotedIn(w.Names), choose(n, "was", "were")),
			"that is right if the motor was changed; if it was not, write the same name in every row's motor column"
	case analyze.NotTheLever:
		return fmt.Sprintf("the heat of %s hardly follows the gearing in this log: %s chance that 10 %% less rollout takes less than %s from its rise",
				part, chance(w.Score), share(w.Threshold)),
			"check airflow, fan, mesh, bearings, brake and the motor's timing before you buy pinions; gearing far too short heats a motor too"
	case analyze.OutsideTested:
		if w.Score < 0 {
			return fmt.Sprintf("the gearing in the answer lies %s below every gearing already run, so its forecast reaches beyond the log", toothLengths(w.Score)),
				"down is the careful direction; read and log the first run"
		}
		return fmt.Sprintf("the gearing in the answer lies %s above every gearing already run, so its forecast reaches beyond the log", toothLengths(w.Score)),
			"make the first run short, read at 2 and at 5 minutes, and stop at the limit"
	case analyze.TireUntested:
		return fmt.Sprintf("the next run's tire is not one that the log has seen (%s); what a tire does beyond its rollout is the general rule here",
				tireSpan(u, w.Low, w.High)),
			"read early on the first run with it"
	case analyze.MinutesUntested:
		return fmt.Sprintf("the next run of %s is much longer than any in the log (longest %s), so how the heat goes on is mostly the general rule",
				minutes(units.Minutes(w.Score)), minutes(units.Minutes(w.Threshold))),
			fmt.Sprintf("stop and read after %s the first time", minutes(units.Minutes(w.Threshold)))
	case analyze.AirUntested:
		return fmt.Sprintf("the next run's air of %s lies outside what the log has seen (%s at the nearest)", u.Reading(w.Seen), u.Reading(w.Expected)),
			"read early on the first run: hot air makes a motor's own rise larger too"
	case analyze.CellsUntested:
		if len(w.Names) == 0 {
			return fmt.Sprintf("the log says nothing of cells, so %s change nothing in this forecast", count(int(w.Score), "cell")),
				"fill in the cells column, and keep the first run with other cells short"
		}
		return fmt.Sprintf("the log holds no run on %s (it holds %s); what cells change is the general rule here", count(int(w.Score), "cell"), list(w.Names)),
			"keep the first run short and read it early"
	case analyze.UnknownLabel:
		kind, label, known := w.Names[0], w.Names[1], w.Names[2:]
		if len(known) == 0 {
			return fmt.Sprintf("the log names no %s, so %q is foreseen like any other", kind, label),
				"fill in the " + kind + " column to let the log tell"
		}
		return fmt.Sprintf("the log holds no %s %q; it holds %s", kind, label, quotedList(known)),
			"ask again with one of those, or keep the first run short and read it early"
	case analyze.WarmStartAssumed:
		kept, columns := make([]string, len(group)), make([]string, len(group))
		for i, of := range group {
			kept[i] = fmt.Sprintf("the %s %s", of.Part.Word(), share(of.Threshold))
			columns[i] = of.Part.String() + "_start_c"
		}
		return fmt.Sprintf("%s began soon after the one before, without a start reading; as far as the log tells, %s of the heat was still there",
				count(int(w.Score), "run"), list(kept)),
			fmt.Sprintf("read the parts before you set off and log %s (or _f)", list(columns))
	case analyze.CutShortMinutes:
		return fmt.Sprintf("heat ended the last run after %s, so the next is taken to last %s",
				minutes(units.Minutes(w.Score)), minutes(units.Minutes(w.Threshold))),
			"say how long you will drive" + to.choose(" with --minutes", " in what if")
	case analyze.VeryHot:
		if w.OfPart {
			return fmt.Sprintf("%s read %s", part, u.Reading(w.Seen)),
				"let it cool, then check mesh, bearings, brake and motor before you drive again"
		}
		return "no gearing to choose from is likely to stay under the limits",
			"let it cool, then check mesh, bearings, brake and motor before you drive again"
	case analyze.LimitAssumed:
		limits := make([]string, len(group))
		for i, of := range group {
			limits[i] = fmt.Sprintf("the %s %s (%s)", of.Part.Word(), u.Reading(of.Seen), defaultLimitStatus(of.Part))
		}
		return fmt.Sprintf("no limit was given for %s; taken for now: %s", part, list(limits)),
			"give the maker's limits" + to.choose(fmt.Sprintf(", as in --limit %s=%s", w.Part, flagTemperature(u, w.Seen)),
				" in what if, under limits, or once for all in the car file")
	case analyze.PartUnjudged:
		return fmt.Sprintf("the log has no reading of %s, so no chance here counts %s", part, choose(len(group), "it", "them")),
			fmt.Sprintf("log %s after the next run", peakColumns(group))
	case analyze.AllTooFarUp:
		return fmt.Sprintf("every candidate lies more than %s above what is fitted, or above the tallest gearing that a run has proven", teeth(int(w.Threshold))),
			"ask for smaller pinions, or allow more with " + to.choose("--max-step-up", "most teeth up in what if") + " and make the first run short"
	}
	// Every code is worded above; a test asks for each.
	panic("report: no wording for warning " + w.Code.String())
}

// choose returns what can be done at a command line, or on a page.
func (r Reader) choose(flag, field string) string {
	if r == OnPage {
		return field
	}
	return flag
}

// defaultLimitStatus says what a documented default limit rests on.
func defaultLimitStatus(part run.Part) string {
	if part == run.Battery {
		return "the usual LiPo cell specification's discharge maximum"
	}
	return "common practice, no source"
}

// theParts names the parts of a group: "the motor and the ESC".
func theParts(group []analyze.Warning) string {
	words := make([]string, len(group))
	for i, w := range group {
		words[i] = "the " + w.Part.Word()
	}
	return list(words)
}

// peakColumns names the columns in which a group's parts are logged.
func peakColumns(group []analyze.Warning) string {
	words := make([]string, len(group))
	for i, w := range group {
		words[i] = w.Part.String() + "_peak_c"
	}
	return list(words) + " (or _f)"
}

func everyRun(part string, n int) string {
	if n == 1 {
		return "the one run that measured " + part
	}
	return fmt.Sprintf("each of the %d runs that measured %s", n, part)
}

func positions(runs []run.Position) string {
	words := make([]string, len(runs))
	for i, p := range runs {
		words[i] = p.String()
	}
	return list(words)
}

func choose(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

func quotedIn(names []string) string {
	if len(names) == 0 || names[0] == "" {
		return ""
	}
	return fmt.Sprintf(" (%q)", names[0])
}

// toothLengths writes a distance in whole teeth of the pinion.
func toothLengths(x float64) string {
	n := int(math.Round(math.Abs(x)))
	if n == 0 {
		return "less than one tooth"
	}
	return "about " + teeth(n)
}

// tireSpan writes the diameters between which a log's tires lie.
func tireSpan(u units.System, low, high units.Millimeters) string {
	if u.Tire(low) == u.Tire(high) {
		return u.Tire(low)
	}
	return u.Tire(low) + " to " + u.Tire(high)
}

// flagTemperature writes a temperature as a flag takes it.
func flagTemperature(u units.System, c units.Celsius) string {
	return u.ReadingNumber(c) + strings.TrimPrefix(u.TemperatureUnit(), "°")
}
