package report

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

func started(s Started, u units.System) document.Document { return Start(s, u, AtCommandLine) }

// Start is the first gearing after a change, written for a driver who stands at the car with new
// tires in hand.
func Start(s Started, u units.System, to Reader) document.Document {
	t := startWords{s, u, to}
	return document.Document{
		document.Headline(t.headline()),
		section("why", "Why", document.List(t.why())),
		section("gearings", "Gearings", t.options()...),
		section("first-run", "How to make the first run", document.List(t.firstRun())),
	}
}

type startWords struct {
	Started
	Units units.System
	to    Reader
}

func (t startWords) headline() string {
	if t.Keep == nil {
		return fmt.Sprintf("%s fits. Closest to what was fitted would come %s: %s.", t.nothing("No pinion"), t.name(t.Nearest.Gearing), t.lack(t.Nearest))
	}
	keep := t.name(t.Keep.Gearing)
	if !t.Keep.Holds() {
		closest := fmt.Sprintf("%s keeps the %s. The closest, %s, is %s", t.nothing("No whole number of teeth"), keeps[t.Keeps].words, keep, offWords(t.Keep.Off))
		switch {
		case t.Keep.Off > 0 && t.Careful == nil && t.Known.Pinions:
			return closest + " and nothing at hand lies below it: get a smaller pinion before you drive."
		case t.Keep.Off > 0 && t.Careful == nil:
			return fmt.Sprintf("%s, and %s: fit a larger spur before you drive.", closest, t.noneBelow())
		case t.Keep.Off > 0:
			return fmt.Sprintf("%s: begin with %s.", closest, t.name(t.Careful.Gearing))
		}
		return closest + ": slower, and the careful side to begin on."
	}
	if t.Careful == nil {
		below := "nothing at hand lies below it"
		if !t.Known.Pinions {
			below = t.noneBelow()
		}
		return fmt.Sprintf("%s keeps the %s; %s for a careful first run, so keep that run short.", capital(keep), keeps[t.Keeps].words, below)
	}
	return fmt.Sprintf("%s keeps the %s; make the first run on %s.", capital(keep), keeps[t.Keeps].words, t.name(t.Careful.Gearing))
}

// nothing is of what is at hand or, where that is not known, of pinions in general.
func (t startWords) nothing(general string) string {
	if t.Known.Pinions {
		return "Nothing at hand"
	}
	return general
}

// noneBelow says why no smaller pinion is proposed.
func (t startWords) noneBelow() string {
	if t.Keep.Gearing.Pinion > advise.SmallestPinion {
		return "no smaller pinion fits the mount"
	}
	return "smaller pinions are hardly sold"
}

// offWords says how a rollout misses the one that keeps.
func offWords(off float64) string { return change(off, "taller", "shorter", "as tall") }

// name names a gearing by its pinion, and by its spur where there are several.
func (t startWords) name(g drivetrain.Gearing) string {
	if slices.ContainsFunc(t.Options, func(o *advise.StartOption) bool { return o.Gearing.Spur != t.Fitted.Spur }) {
		return pair(g)
	}
	return fmt.Sprintf("pinion %d", g.Pinion)
}

func (t startWords) lack(o *advise.StartOption) string {
	var words []string
	if !o.Owned {
		words = append(words, "it is not among the pinions at hand")
	}
	if o.Reach != drivetrain.Inside {
		words = append(words, reaches[o.Reach].lack)
	}
	return list(words)
}

func (t startWords) why() []string {
	u := t.Units
	before := fmt.Sprintf("Before: %s on %s, %s %s a motor turn. ", pair(t.Fitted), u.Tire(t.Before.Tire),
		u.Rollout(t.Fitted.Rollout(t.Before.Tire)), u.LengthUnit())
	var reasons []string
	if t.Keeps == advise.KeptRollout {
		reasons = append(reasons, before+fmt.Sprintf("The same distance a motor turn keeps both load and speed; on %s with spur %d that would be a pinion of %s teeth.",
			u.Tire(t.After.Tire), t.Fitted.Spur, fixed(t.Exact, 1)))
	} else {
		reasons = append(reasons, before+fmt.Sprintf("The motor now turns at another speed (%s), so the distance a motor turn has to become %s %s for the same speed; "+
			"with spur %d that would be a pinion of %s teeth.", t.motorChange(), u.Rollout(t.Target), u.LengthUnit(), t.Fitted.Spur, fixed(t.Exact, 1)))
	}
	if t.Keep != t.Nearest && t.Keep != nil {
		reasons = append(reasons, fmt.Sprintf("Closest of all would be %s, %s: %s.", t.name(t.Nearest.Gearing), offWords(t.Nearest.Off), t.lack(t.Nearest)))
	}
	if t.Known.Internal == advise.Default {
		reasons = append(reasons, "No internal ratio was given, so 1 is used: the ratios below are pinion to spur alone, and which pinion keeps the load does not depend on it.")
	}
	if t.Keep != nil && t.After.KV > 0 && t.After.Cells > 0 {
		reasons = append(reasons, fmt.Sprintf("Unloaded top speed, a bound that no car reaches: %s on %s, %s before the change (freshly charged).",
			speed(u, advise.TopSpeed(t.Keep.Rollout, t.After.KV, t.After.Cells, advise.FullCellVolts)), t.name(t.Keep.Gearing),
			speed(u, advise.TopSpeed(t.Fitted.Rollout(t.Before.Tire), t.Before.KV, t.Before.Cells, advise.FullCellVolts))))
	}
	return append(reasons, t.heat())
}

func (t startWords) motorChange() string {
	var words []string
	if t.Before.Cells != t.After.Cells {
		words = append(words, fmt.Sprintf("%d cells instead of %d", t.After.Cells, t.Before.Cells))
	}
	if t.Before.KV != t.After.KV {
		words = append(words, fmt.Sprintf("%s instead of %s turns a minute for each volt", trimmed(t.After.KV, 1), trimmed(t.Before.KV, 1)))
	}
	return list(words)
}

// heat says where the heat in the answer comes from.
func (t startWords) heat() string {
	switch {
	case t.Before.KV != t.After.KV:
		return "How hot another motor runs neither the log nor the general rule can say: the first run has to show it."
	case t.Car != nil:
		prose := fmt.Sprintf("The heat comes from the log of %s before the change", count(t.Car.Fits()[0].Runs, "run"))
		if t.Before.Tire != t.After.Tire {
			prose += "; what a tire does beyond its rollout (weight, grip) is the general rule"
		}
		prose += fmt.Sprintf(". The forecast is for a run of %s in %s.", t.Run.Minutes, t.Units.Reading(t.Run.Ambient))
		if o := t.Keep; o != nil && o.Chance < advise.DefaultConfidence {
			prose += fmt.Sprintf(" %s has a chance of only %s to stay under every limit: let %s, told of the same change, pick by heat.",
				capital(t.name(o.Gearing)), chance(o.Chance), t.to.orAbove("regear advise", "the advice"))
		}
		return prose
	case t.Before.Tire < t.After.Tire:
		return "There is no log to go by, so this is geometry, and the heat the general rule, not your car: a larger tire is also a heavier one that grips more, " +
			"so the same load on paper is a little more heat on the road."
	}
	return "There is no log to go by, so this is geometry, and the heat the general rule, not your car."
}

// options are one table or, for a phone, a narrow one for each question.
func (t startWords) options() document.Document {
	type option = *advise.StartOption
	forecast, rule, travel := t.Options[0].Parts.Len() > 0, t.Options[0].HasRiseChange, t.Options[0].HasTravel
	column := func(head string, cell func(option) string) columnsOf[option] {
		return columnsOf[option]{{document.Column{Head: head}, func(o *option) string { return cell(*o) }}}
	}
	teeth := append(column("\npinion", func(o option) string { return strconv.Itoa(o.Gearing.Pinion) }),
		column("\nspur", func(o option) string { return strconv.Itoa(o.Gearing.Spur) })...)
	size := append(column("\nratio", func(o option) string { return fixed(o.Ratio, 2) }),
		column("rollout\n"+t.Units.LengthUnit(), func(o option) string { return t.Units.Rollout(o.Rollout) })...)
	against := append(column("against\nkeeping", func(o option) string { return signedShare(o.Off) }),
		column("\nspeed", func(o option) string { return signedShare(o.SpeedChange) })...)
	var heat, rise, moves columnsOf[option]
	if forecast {
		against = append(against, column("\nchance", func(o option) string { return chance(o.Chance) })...)
		for _, f := range t.Car.Fits() {
			heat = append(heat, column(f.Part.Word()+"\n"+t.Units.TemperatureUnit(), func(o option) string { return peaks(t.Units, o.Parts.At(f.Part)) })...)
		}
	}
	if rule {
		rise = column("motor's\nrise", func(o option) string { return signedShare(o.RiseChange.Low) + " to " + signedShare(o.RiseChange.High) })
	}
	if travel {
		moves = column("motor\nmoves, mm", func(o option) string { return signed(float64(o.Travel), 1) })
	}
	remarks := columnsOf[option]{remarked(func(o *option) []string { return t.marks(*o) })}
	tables := map[string]columnsOf[option]{}
	captions := []string{"What each gearing would mean"}
	if t.to == OnPage {
		captions = append(captions, "Ratio and rollout")
		pairs := column("gearing", func(o option) string { return pair(o.Gearing) })
		tables[captions[0]] = slices.Concat(pairs, against, rise, remarks)
		tables[captions[1]] = slices.Concat(pairs, size, moves)
		if forecast {
			captions = append(captions, "How hot each part would get")
			tables[captions[2]] = slices.Concat(pairs, heat)
		}
	} else {
		tables[captions[0]] = slices.Concat(teeth, size, against, heat, rise, moves, remarks)
	}
	var doc document.Document
	for n, caption := range captions {
		table := tableOf(caption, t.Options, tables[caption])
		table.OnPhone = document.Wraps
		for i := range t.Options {
			table.Rows[i].Strong = t.Options[i] == t.Keep || t.Options[i] == t.Careful
		}
		if n == len(captions)-1 {
			table.Legend = t.legend(forecast, rule, travel)
		}
		doc = append(doc, table)
	}
	return doc
}

func (t startWords) marks(o *advise.StartOption) []string {
	var marks []string
	switch {
	case o == t.Keep && o.Holds():
		marks = append(marks, "keeps the "+keeps[t.Keeps].words)
	case o == t.Keep && t.Known.Pinions:
		marks = append(marks, "closest at hand")
	case o == t.Keep:
		marks = append(marks, "closest")
	case o == t.Careful:
		marks = append(marks, "first run")
	}
	if o.Gearing == t.Fitted {
		marks = append(marks, "fitted before")
	}
	if !o.Owned {
		marks = append(marks, "not at hand")
	}
	if mark := reaches[o.Reach].mark; mark != "" {
		marks = append(marks, mark)
	}
	return marks
}

func (t startWords) legend(forecast, rule, travel bool) string {
	prose := "Against keeping: rollout, against the one that keeps. Speed: unloaded, against before the change."
	if forecast {
		prose += " Chance: of staying under every limit. Temperatures: 80 % of runs peak between the first and the last."
	}
	if rule {
		prose += " Motor's rise: over the air, against before, by the general rule, 80 % sure."
	}
	if travel {
		prose += " Motor moves: away from the spur where +, against what was fitted before."
	}
	if !t.Known.Pinions {
		prose += " Which pinions you own was not said."
	}
	return prose
}

func (t startWords) firstRun() []string {
	steps := []string{"Set the mesh with the battery unplugged, and let every part cool to the air first."}
	full := cmp.Or(t.Run.Minutes, advise.FirstRunMinutes)
	for _, r := range t.Readings {
		steps = append(steps, fmt.Sprintf("After %s stop and read every part within a minute. Go no further if %s: "+
			"it would probably pass its limit in a full run of %s.", r.Minutes, either(eachOf(r.Share, func(part run.Part, _ float64) string {
			return fmt.Sprintf("the %s reads over %s", part.Word(), t.Units.Forecast(t.StopAbove(r, part)))
		})), full))
	}
	if len(t.Readings) > 0 && !t.Known.Ambient {
		air := "18C"
		if t.Units == units.US {
			air = "65F"
		}
		steps = append(steps, fmt.Sprintf("These readings are for air of %s, as none was given: %s. "+
			"Without it, stop one degree earlier for each degree that the air is cooler.", t.Units.Reading(advise.AssumedAir),
			t.to.orAbove("say yours with --ambient, as in --ambient "+air, "give yours above")))
	}
	return append(steps,
		fmt.Sprintf("Limits: %s. Stop at once at any of them, or if something smells, slips, cuts out or slows down.",
			list(limitsWithOrigin(t.Limits, t.Units))),
		fmt.Sprintf("If all is well, log the run (%s goes on from there), and only then fit the taller one.", t.to.orAbove("regear advise", "the advice")))
}

type startJSON struct {
	Schema   int                `json:"schema"`
	Car      string             `json:"car,omitempty"`
	Before   startSetupJSON     `json:"before"`
	After    startSetupJSON     `json:"after"`
	Keeps    string             `json:"keeps"`
	Target   thousandths        `json:"rollout_that_keeps_mm"`
	Exact    thousandths        `json:"exact_pinion_teeth"`
	Keep     *gearsJSON         `json:"keep,omitempty"`
	Careful  *gearsJSON         `json:"first_run,omitempty"`
	Options  []startOptionJSON  `json:"gearings"`
	Readings []readingJSON      `json:"early_readings"`
	Limits   byPart[hundredths] `json:"limits_c"`
	Informed string             `json:"heat_informed_by"`
	Warnings []warningJSON      `json:"warnings"`
}

type startSetupJSON struct {
	*gearsJSON             // where it is known
	Tire       thousandths `json:"tire_diameter_mm"`
	Cells      int         `json:"cells,omitempty"`
	KV         float64     `json:"motor_kv,omitempty"`
}

type startOptionJSON struct {
	gearsJSON
	Ratio       tenThousandths   `json:"final_drive_ratio"`
	Rollout     thousandths      `json:"rollout_mm"`
	Off         hundredths       `json:"rollout_off_percent"`
	SpeedChange hundredths       `json:"speed_change_percent"`
	AtHand      bool             `json:"at_hand"`
	Mount       string           `json:"mount,omitempty"`
	Travel      *thousandths     `json:"motor_moves_mm,omitempty"`
	RiseChange  *intervalJSON    `json:"motor_rise_change,omitempty"`
	Probability *probability     `json:"probability_under_limits,omitempty"`
	Parts       byPart[partJSON] `json:"parts"`
}

type readingJSON struct {
	Minutes float64             `json:"run_minutes"`
	Share   byPart[thousandths] `json:"share_of_the_way_to_limit"`
	Air     hundredths          `json:"ambient_c"`
	Stop    byPart[hundredths]  `json:"stop_above_c"`
}

// keeps are what a gearing keeps, in JSON and in words.
var keeps = map[advise.Kept]struct{ name, words string }{advise.KeptRollout: {"rollout", "load"}, advise.KeptSpeed: {"speed", "speed"}}

// toStart returns the JSON document; "mount" is absent where the mount's reach is not known.
func toStart(s Started) startJSON {
	fitted := toGears(s.Fitted)
	doc := startJSON{
		Schema: Schema,
		Before: startSetupJSON{&fitted, thousandths(s.Before.Tire), s.Before.Cells, s.Before.KV},
		After:  startSetupJSON{nil, thousandths(s.After.Tire), s.After.Cells, s.After.KV},
		Keeps:  keeps[s.Keeps].name, Target: thousandths(s.Target), Exact: thousandths(s.Exact),
		Keep: toStartGear(s.Keep), Careful: toStartGear(s.Careful),
		Readings: []readingJSON{}, Limits: limits(s.Limits), Informed: sources[analyze.FromPrior].name, Warnings: toWarnings(nil, s.Notes),
	}
	if s.Car != nil {
		doc.Car, doc.Informed, doc.Warnings = s.Car.Name, sources[analyze.FromBoth].name, toWarnings(s.Car.Warnings(), s.Notes)
	}
	if s.Before.KV != s.After.KV {
		doc.Informed = "nothing"
	}
	for _, option := range s.Options {
		o := toStartOption(option)
		if s.Gears.Mount != nil {
			o.Mount = reaches[option.Reach].name
		}
		doc.Options = append(doc.Options, o)
	}
	for _, r := range s.Readings {
		var stop run.Readings
		for part := range r.Share.All() {
			stop.Set(part, s.StopAbove(r, part))
		}
		share := eachPart(r.Share, func(share float64) thousandths { return thousandths(share) })
		doc.Readings = append(doc.Readings, readingJSON{float64(r.Minutes), share, celsius(s.Run.Ambient), eachPart(stop, celsius)})
	}
	return doc
}

func toStartGear(o *advise.StartOption) *gearsJSON {
	if o == nil {
		return nil
	}
	gears := toGears(o.Gearing)
	return &gears
}

func toStartOption(o *advise.StartOption) startOptionJSON {
	return startOptionJSON{
		gearsJSON: toGears(o.Gearing), Ratio: tenThousandths(o.Ratio), Rollout: thousandths(o.Rollout),
		Off: hundredths(o.Off * 100), SpeedChange: hundredths(o.SpeedChange * 100), AtHand: o.Owned,
		Travel: optional(thousandths(o.Travel), o.HasTravel), RiseChange: optional(toInterval(o.RiseChange), o.HasRiseChange),
		Probability: optional(probability(o.Chance), o.Parts.Len() > 0), Parts: eachPart(o.Parts, toPart),
	}
}
