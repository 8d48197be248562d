package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

type adviceWords struct {
	*advise.Advice
	Units units.System
}

// Advice is an answer in full: the pick in one sentence, what to read early, the
// candidates, why, and what was assumed. Warnings and cautions go to other places: see
// [WarningNotes] and [CautionNotes].
func Advice(a *advise.Advice, u units.System) document.Document {
	t := adviceWords{a, u}
	doc := t.opening()
	if checks := t.checksFirst(); len(checks) > 0 {
		doc = append(doc, section("check-first", checksTitle, document.List(checks)))
	}
	doc = append(doc,
		section("candidates", "Candidates", t.candidates()),
		section("why", "Why", document.List(t.why())),
		section("assumed", "Assumed for the next run", document.List(t.assumed())))
	if a.NextTest != nil {
		doc = append(doc, section("next", nextTestTitle, document.List{t.nextTest()}))
	}
	return doc
}

// Titles of sections that more than one document has.
const (
	checksTitle   = "Before you change the pinion, the cheapest first"
	nextTestTitle = "Worth a pack of its own"
)

// Headline is the pick in one sentence.
func Headline(a *advise.Advice, u units.System) string { return adviceWords{a, u}.headline() }

func advised(a Advised, u units.System) document.Document {
	if !a.Brief {
		return Advice(a.Advice, u)
	}
	t := adviceWords{a.Advice, u}
	return document.Document{section("", "", t.opening()...), section("", "", t.around(), document.Paragraph("Assumed: "+t.inBrief()))}
}

func (t adviceWords) opening() document.Document {
	doc := document.Document{document.Headline(t.headline())}
	if first := t.first(); first != "" {
		doc = append(doc, document.Paragraph(first))
	}
	return doc
}

// headline is the answer in one sentence: the pick, or what has to come before one.
func (t adviceWords) headline() string {
	c := t.Pick
	chanceOf := fmt.Sprintf("%s chance to keep %s", chance(c.Chance), t.limits())
	if hot := ofKind[analyze.VeryHot](t.Warnings); len(hot) > 0 {
		return "Let it cool, then check mesh, bearings, brake and motor before you change a gear" + t.howHot(hot) + "."
	}
	switch lever := ofKind[analyze.NotTheLever](t.Warnings); {
	case len(lever) > 0 && t.Action == advise.NoneReachesConfidence:
		return fmt.Sprintf("Gearing is not the lever: the heat of %s hardly follows it in this log. Of the gearings run, %s is the best: %s.",
			theParts(lever), t.gearing(c.Gearing), chanceOf)
	case len(lever) > 0:
		chanceOf += fmt.Sprintf(". But the heat of %s hardly follows the gearing", theParts(lever))
	}
	switch t.Action {
	case advise.Keep:
		if math.Round(c.SpeedChange*100) != 0 { // as another tire or battery does
			chanceOf += "; " + speedPhrase(c.SpeedChange)
		}
		return fmt.Sprintf("Keep the gearing, %s: %s.", t.gearing(c.Gearing), chanceOf)
	case advise.GearDown:
		return fmt.Sprintf("Go down %s: %s; %s.", t.change(c.Gearing), chanceOf, speedPhrase(c.SpeedChange))
	case advise.GearUp:
		return fmt.Sprintf("Go up %s: %s; %s.", t.change(c.Gearing), chanceOf, speedPhrase(c.SpeedChange))
	}
	if c.TooFarUp {
		return fmt.Sprintf("No candidate is safe to try: each lies more than %s above what is fitted or proven. "+
			"The nearest to an answer is %s: %s.", teeth(t.MaxStepUp), t.gearing(c.Gearing), chanceOf)
	}
	return fmt.Sprintf("No candidate reaches %s. The most probable is %s: %s; %s.",
		wanted(t.Confidence), t.gearing(c.Gearing), chanceOf, speedPhrase(c.SpeedChange))
}

func (t adviceWords) howHot(hot []analyze.VeryHot) string {
	if hot[0].NoGearing {
		return fmt.Sprintf(": even %s has only a %s chance", t.gearing(t.Pick.Gearing), chance(t.Pick.Chance))
	}
	return ": " + list(worded(hot, func(w analyze.VeryHot) string {
		return fmt.Sprintf("the %s read %s", w.Part.Word(), t.Units.Reading(w.Peak))
	}))
}

// first is what to do first: check a car that runs hotter than it did, read early, or do what
// else would help where there is no pick.
func (t adviceWords) first() string {
	prose := ""
	if hotter := ofKind[analyze.RunsHotter](t.Warnings); len(hotter) > 0 {
		w := hotter[0]
		prose = fmt.Sprintf("Check the car first: at equal gearing the rise of the %s has grown by %s. ", w.Part.Word(), share(w.Growth))
	}
	switch {
	case len(ofKind[analyze.VeryHot](t.Warnings)) > 0:
		prose += fmt.Sprintf("Once the car is sound again, the most probable is %s: %s.", t.gearing(t.Pick.Gearing), chance(t.Pick.Chance))
		if t.Help != (advise.Help{}) {
			prose += " " + t.help()
		}
	case t.Action == advise.NoneReachesConfidence:
		prose += t.help()
	case len(t.Early) > 0:
		prose += fmt.Sprintf("Read the %s early: %s.", t.Binding.Word(), strings.Join(worded(t.Early, func(r advise.EarlyReading) string {
			return fmt.Sprintf("at %s %s to %s, stop above %s", r.Minutes, t.Units.Peak(r.P10), t.Units.Forecast(r.P90), t.Units.Forecast(r.StopAbove))
		}), "; "))
	}
	return prose
}

// change names a step from the current gearing: "two teeth, 17 to 15".
func (t adviceWords) change(to drivetrain.Gearing) string {
	from := t.Current.Gearing
	if to.Spur != from.Spur {
		return fmt.Sprintf("from %s to %s", pair(from), pair(to))
	}
	return fmt.Sprintf("%s, %d to %d", teeth(to.Pinion-from.Pinion), from.Pinion, to.Pinion)
}

// gearing names a gearing as briefly as the candidates allow.
func (t adviceWords) gearing(g drivetrain.Gearing) string {
	if t.severalSpurs() {
		return pair(g)
	}
	return fmt.Sprintf("pinion %d", g.Pinion)
}

// severalSpurs reports whether a pinion alone would not say which gearing is meant.
func (t adviceWords) severalSpurs() bool {
	return slices.ContainsFunc(t.Candidates, func(c advise.Candidate) bool { return c.Gearing.Spur != t.Current.Gearing.Spur })
}

// limits names the judged limits: "the motor under 80 °C and the battery under 60 °C".
func (t adviceWords) limits() string {
	return list(eachOf(t.Limits, func(part run.Part, l advise.Limit) string {
		return fmt.Sprintf("the %s under %s", part.Word(), t.Units.Reading(l.Temperature))
	}))
}

// why gives the reasons in the order in which drivers ask for them.
func (t adviceWords) why() []string {
	p, decides := t.Pick.Parts.At(t.Binding), "The "+t.Binding.Word()+" decides"
	if t.Limits.Len() > 1 {
		decides += ", as it comes closest to its limit"
	}
	reasons := []string{fmt.Sprintf("%s: on %s it peaks between %s and %s in 80 %% of runs, and stays under %s in %s.",
		decides, t.gearing(t.Pick.Gearing), t.Units.Peak(p.P10), t.Units.Forecast(p.P90),
		t.Units.Reading(t.Limits.At(t.Binding).Temperature), chance(p.Chance))}
	now := t.candidate(t.Current.Gearing)
	if now != nil && now != t.Pick {
		reasons = append(reasons, t.asItIs(now))
	}
	if next := t.nextTaller(); t.Action != advise.NoneReachesConfidence && (next == nil || next != now) {
		reasons = append(reasons, t.whyNotTaller(next))
	}
	reasons = append(reasons, t.scaling(t.Car.Fit(t.Binding)))
	if t.Pick.Outside {
		side, so := "above", ": make the first run short, and read it early"
		if t.Pick.Rollout < t.Car.Tested().Low {
			side, so = "below", ""
		}
		reasons = append(reasons, fmt.Sprintf("%s lies %s every gearing in the log, so this reaches beyond what your car has shown%s.",
			capital(t.gearing(t.Pick.Gearing)), side, so))
	}
	if t.Pick.TopSpeed > 0 {
		reasons = append(reasons, t.topSpeed())
	}
	return reasons
}

// asItIs says what the gearing now fitted would do.
func (t adviceWords) asItIs(now *advise.Candidate) string {
	here, there := now.Parts.At(t.Binding), t.Pick.Parts.At(t.Binding)
	prose := fmt.Sprintf("Left at %s, the chance is %s, and the %s peaks between %s and %s in 80 %% of runs",
		t.gearing(now.Gearing), chance(now.Chance), t.Binding.Word(), t.Units.Peak(here.P10), t.Units.Forecast(here.P90))
	if change := there.P50.Above(here.P50); t.Units.Rise(change) != t.Units.Rise(0) {
		prose += fmt.Sprintf("; the change is worth about %s", t.Units.Rise(max(change, -change)))
	}
	return prose + "."
}

func (t adviceWords) whyNotTaller(next *advise.Candidate) string {
	switch {
	case next == nil:
		return "It is the tallest candidate there is to choose from."
	case !next.Reaches:
		return fmt.Sprintf("The next taller candidate, %s, has a chance of only %s where you want %s.",
			t.gearing(next.Gearing), chance(next.Chance), wanted(t.Confidence))
	case next.Unproven:
		return fmt.Sprintf("The next taller candidate, %s, was never run, and this log says little about it.", t.gearing(next.Gearing))
	default:
		return fmt.Sprintf("The next taller candidate, %s, lies more than %s above what is fitted or proven: go there in steps.",
			t.gearing(next.Gearing), teeth(t.MaxStepUp))
	}
}

func (t adviceWords) nextTaller() *advise.Candidate {
	var next *advise.Candidate
	for i := range t.Candidates {
		c := &t.Candidates[i]
		if c.Rollout > t.Pick.Rollout && (next == nil || c.Rollout < next.Rollout) {
			next = c
		}
	}
	return next
}

// scaling says how heat follows gearing, and how it is known.
func (t adviceWords) scaling(f *analyze.Fit) string {
	e := f.Exponent(t.Next, analyze.ScalingLevel)
	part := f.Part.Word()
	effect := fmt.Sprintf("10 %% more rollout makes its rise over the air %s (80 %% sure: %s)",
		growth(e.Value), growthRange(e))
	switch f.InformedBy(t.Next) {
	case analyze.FromLog:
		return fmt.Sprintf("How the %s's heat follows the gearing comes from %s of this car: %s.", part, count(f.Runs, "run"), effect)
	case analyze.FromBoth:
		return fmt.Sprintf("How the %s's heat follows the gearing comes partly from %s of this car and partly from the general rule: %s.",
			part, count(f.Runs, "run"), effect)
	}
	if f.Runs == 1 {
		return fmt.Sprintf("One run says how hot the %s gets at one gearing; how its heat follows the gearing is the general rule, "+
			"not your car yet: %s.", part, effect)
	}
	return fmt.Sprintf("All %d runs have the same gearing, so how the %s's heat follows the gearing is the general rule, "+
		"not your car yet: %s.", f.Runs, part, effect)
}

// help says what else would bring the named candidate to the confidence.
func (t adviceWords) help() string {
	if t.Pick.TooFarUp {
		return "Ask for pinions nearer to those already run, and go up in steps."
	}
	var ways []string
	if m := t.Help.Minutes; m > 0 {
		ways = append(ways, fmt.Sprintf("a run of at most %s", units.Minutes(math.Floor(float64(m)))))
	}
	if tire := t.Help.Tire; tire > 0 {
		ways = append(ways, fmt.Sprintf("a tire of at most %s", t.Units.Tire(tire)))
	}
	if spur := t.Help.Spur; spur > 0 {
		ways = append(ways, fmt.Sprintf("a spur of at least %d teeth", spur))
	}
	if len(ways) == 0 {
		return "No shorter run, smaller tire or larger spur within reason would do either: let the car cool, " +
			"and check mesh, bearings, brake and cooling first."
	}
	each := ""
	if len(ways) > 1 {
		each = " each"
	}
	return fmt.Sprintf("With %s, %s would%s bring the chance to %s.", t.gearing(t.Pick.Gearing), either(ways), each, wanted(t.Confidence))
}

// candidate returns nil if none has the gearing.
func (t adviceWords) candidate(g drivetrain.Gearing) *advise.Candidate {
	i := slices.IndexFunc(t.Candidates, func(c advise.Candidate) bool { return c.Gearing == g })
	if i < 0 {
		return nil
	}
	return &t.Candidates[i]
}

func (t adviceWords) nextTest() string {
	n := t.NextTest
	return fmt.Sprintf("%s for %s, %s chance to stay under the limits: it makes the %s's range on %s about %s narrower.",
		capital(t.gearing(n.Gearing)), n.Minutes, chance(n.Chance), n.Part.Word(), t.gearing(n.For), share(n.Narrower))
}

// topSpeed says how fast the pick could turn at most, for heat to be weighed against.
func (t adviceWords) topSpeed() string {
	prose := fmt.Sprintf("Unloaded top speed, a bound that no car reaches: %s on %s",
		speed(t.Units, t.Pick.TopSpeed), t.gearing(t.Pick.Gearing))
	if now := t.candidate(t.Current.Gearing); now != nil && now != t.Pick {
		prose += fmt.Sprintf(", %s as it is now", speed(t.Units, now.TopSpeed))
	}
	return prose + fmt.Sprintf(" (kV %s, %s at %s V, freshly charged).",
		trimmed(t.MotorKV, 0), count(t.Next.Cells, "cell"), trimmed(advise.FullCellVolts, 1))
}

func (t adviceWords) candidates() document.Table {
	table := t.table(t.Candidates)
	for i := range table.Columns {
		table.Columns[i].Spare = 0
	}
	table.Legend = t.legend()
	return table
}

// around is the table of the candidates around the pick, for the short answer.
func (t adviceWords) around() document.Table {
	const most = 7
	at := slices.IndexFunc(t.Candidates, func(c advise.Candidate) bool { return c.Gearing == t.Pick.Gearing })
	from := max(0, min(at-most/2, len(t.Candidates)-most))
	return t.table(t.Candidates[from:min(from+most, len(t.Candidates))])
}

// table is a table of some candidates. Where a line is short, it can spare first the ratio,
// then the rollout, the longest run, the parts that don't decide, and the speed.
func (t adviceWords) table(of []advise.Candidate) document.Table {
	type candidate = advise.Candidate
	var columns columnsOf[candidate]
	columns.add(document.Column{Head: "\npinion"}, func(c *candidate) string { return strconv.Itoa(c.Gearing.Pinion) })
	if t.severalSpurs() {
		columns.add(document.Column{Head: "\nspur"}, func(c *candidate) string { return strconv.Itoa(c.Gearing.Spur) })
	}
	columns.add(document.Column{Head: "\nratio", Later: true, Spare: 6}, func(c *candidate) string { return fixed(c.Ratio, 2) })
	columns.add(document.Column{Head: "rollout\n" + t.Units.LengthUnit(), Later: true, Spare: 5}, func(c *candidate) string { return t.Units.Rollout(c.Rollout) })
	columns.add(document.Column{Head: "\nspeed", Later: true, Spare: 1}, func(c *candidate) string { return signedShare(c.SpeedChange) })
	columns.add(document.Column{Head: "\nchance"}, func(c *candidate) string { return chance(c.Chance) })
	for _, f := range t.Car.Fits() {
		columns.add(t.partColumn(f.Part), func(c *candidate) string { return peaks(t.Units, c.Parts.At(f.Part)) })
	}
	columns.add(document.Column{Head: "longest\nrun, min", Spare: 4}, func(c *candidate) string { return lengthCell(longestOf(c)) })
	table := tableOf("What each candidate would do in the next run", of, append(columns, remarked(t.marks)))
	table.OnPhone = document.Scrolls
	for i := range of {
		table.Rows[i].Strong = t.picks(of[i].Gearing)
	}
	return table
}

// longest writes the longest run that holds, in whole minutes rounded down.
func longest(m units.Minutes) string {
	if m < 1 {
		return "under 1"
	}
	return whole(math.Floor(float64(m)))
}

func lengthCell(l advise.Longest) string {
	if !l.Bounded {
		return "over " + whole(float64(advise.MaxMinutes))
	}
	return longest(l.Minutes)
}

func peaks(u units.System, p advise.PartForecast) string {
	return u.Peak(p.P10) + "–" + u.Peak(p.P50) + "–" + u.Peak(p.P90)
}

func longestOf(c *advise.Candidate) advise.Longest {
	return advise.Longest{Minutes: c.MinutesToLimit, Bounded: c.HasMinutesToLimit}
}

// picks reports whether a gearing is picked: the best one that reaches the confidence.
func (t adviceWords) picks(g drivetrain.Gearing) bool {
	return g == t.Pick.Gearing && t.Action != advise.NoneReachesConfidence
}

func (t adviceWords) partColumn(part run.Part) document.Column {
	name, limit := part.Word()+" "+t.Units.TemperatureUnit(), "no limit"
	if l, ok := t.Limits.Of(part); ok {
		limit = "limit " + t.Units.ReadingNumber(l.Temperature)
	}
	return document.Column{Head: name + "\n" + limit, Full: name + ", " + limit, Spare: t.spareOf(part)}
}

// spareOf returns how well a part's column can be spared. The part that decides never can; of
// the others, the one that is least likely to decide goes first.
func (t adviceWords) spareOf(part run.Part) int {
	if part == t.Binding {
		return 0
	}
	spare := 2
	for other, f := range t.Pick.Parts.All() {
		if its := t.Pick.Parts.At(part); other != t.Binding && other != part && (!its.HasLimit || f.HasLimit && f.Chance < its.Chance) {
			spare = 3
		}
	}
	return spare
}

// markNow is the mark of the gearing in the car.
const markNow = "now fitted"

func (t adviceWords) marks(c *advise.Candidate) []string {
	marks := t.role(c.Gearing)
	if c.Outside {
		marks = append(marks, "untested")
	}
	if c.TooFarUp {
		marks = append(marks, "too far up")
	}
	return marks
}

func (t adviceWords) role(g drivetrain.Gearing) []string {
	var role []string
	switch {
	case t.picks(g):
		role = append(role, "pick")
	case g == t.Pick.Gearing:
		role = append(role, "likeliest")
	}
	if g == t.Current.Gearing {
		role = append(role, markNow)
	}
	return role
}

func (t adviceWords) legend() string {
	prose := fmt.Sprintf("Chance: of staying under every limit. Temperatures: 80 %% of runs peak between the first and the last, "+
		"half of them below the middle one. Speed: flat out, against the last run. Longest run: still reaches %s.", wanted(t.Confidence))
	if slices.ContainsFunc(t.Candidates, func(c advise.Candidate) bool { return c.Outside }) {
		prose += " Untested: outside the rollouts already run (" + span(t.Units, t.Car.Tested()) + ")."
	}
	if slices.ContainsFunc(t.Candidates, func(c advise.Candidate) bool { return c.TooFarUp }) {
		prose += fmt.Sprintf(" Too far up: more than %s above what is fitted, or above the tallest gearing that a run has proven.", teeth(t.MaxStepUp))
	}
	return prose
}
