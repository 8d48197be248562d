package runlog

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// Bounds of what can be a run at all. They only keep out what would overflow
// later or is no measurement; what is merely unlikely is warned of instead.
const (
	maxTeeth = 9999
	maxCells = 99
	maxRuns  = 999_999_999

	minRatio, maxRatio                       = 1e-3, 1e4
	minTire, maxTire       units.Millimeters = 0.1, 1e5
	minMinutes, maxMinutes units.Minutes     = 1e-3, 1e5
	// Solder melts near 200 °C: no part that reads more has just run. Common practice, no source.
	maxReading units.Celsius = 200
)

// What can't be a run, besides a peak below the air, more teeth on the pinion than on the spur and
// a date to come: see [Options.RefuseImpossible]. The hottest air on record is 56.7 °C (the WMO's
// archive of extremes, from memory), and no pack lasts three hours; the rest is common practice,
// without a source.
const (
	coldestAir, hottestAir units.Celsius = -30, 60
	longestRun             units.Minutes = 180
	// Computers and phones may know of other time zones than the log does.
	otherClocks = 24 * time.Hour
)

// What can be and is odd enough to be asked about. The bounds are common practice, without a source,
// and chosen so that a reading in the wrong unit falls outside while what drivers do stays inside.
const (
	// A °F reading in a column of °C: 35 °F, 2 °C, is a cold day, while 35 °C is
	// a hot one that is rare enough to be asked about.
	hotCelsiusColumn units.Celsius = 35
	veryHotAir       units.Celsius = 45
	veryColdAir      units.Celsius = -15
	// A °C reading in a column of °F: 20 °C is a mild day, 20 °F hard frost.
	frost units.Celsius = 0
	// A part that the car brings along can be a little cooler than the air, after a night indoors.
	coolerThanAir units.Rise = 10

	shortestRollout units.Millimeters = 10
	longestRollout  units.Millimeters = 150
	// Inches in a column of mm lie below, mm in a column of inches above.
	smallestTire units.Millimeters = 15
	largestTire  units.Millimeters = 300

	shortRun units.Minutes = 0.5
	// A pack is empty within the hour, and a car that runs for longer is rare enough to be asked
	// about once. Above the larger bound even a run that is in the book already is told of.
	longRun, veryLongRun units.Minutes = 60, 120
	// How far ahead a clock may be, or a driver who rounds to the quarter of an hour.
	clocksDiffer = 15 * time.Minute

	mostCells = 16
)

// veryHot is what a part reads at most without being asked about. Motors are ruined from about 93 °C
// on and may survive 120 once, ESCs switch themselves off near 105, and LiPo cells are ruined above
// 60. A usual reading in °F lies above each. Common practice, no source.
var veryHot = [...]units.Celsius{run.Motor: 120, run.ESC: 105, run.Battery: 75}

func isRatio(v float64) bool                 { return v >= minRatio && v <= maxRatio }
func isTire(diameter units.Millimeters) bool { return diameter >= minTire && diameter <= maxTire }
func isDuration(m units.Minutes) bool        { return m >= minMinutes && m <= maxMinutes }

func isReading(t units.Celsius) bool { return t >= units.AbsoluteZero && t <= maxReading }

const (
	noReading    = "is no temperature of air or parts"
	checkReading = "check the reading and the unit"
	tooCold      = "is colder than air to drive in"
	tooHot       = "is hotter than air to drive in"
	noDuration   = "is no length of a run"
	writeMinutes = "write minutes as 12.5 or 12:30"
	notHours     = writeMinutes + ", which a spreadsheet may take for hours"
)

// Impossible says why a value can be of no run, and what to do.
type Impossible string

func (i Impossible) Error() string { return string(i) }

// CheckReading fails with an [Impossible] where nobody can have read a temperature of a part.
func CheckReading(t units.Celsius) error {
	if !isReading(t) {
		return Impossible(noReading + ": " + checkReading)
	}
	return nil
}

// CheckAir fails with an [Impossible] where no car runs in air of a temperature.
func CheckAir(t units.Celsius) error {
	switch {
	case !isReading(t):
		return CheckReading(t)
	case t < coldestAir:
		return Impossible(tooCold + ": " + checkReading)
	case t > hottestAir:
		return Impossible(tooHot + ": " + checkReading)
	}
	return nil
}

// CheckMinutes fails with an [Impossible] where no run lasts as long, or as short.
func CheckMinutes(m units.Minutes) error {
	switch {
	case !isDuration(m):
		return Impossible(noDuration + ": " + writeMinutes)
	case m > longestRun:
		return Impossible(isHours(m) + ": " + writeMinutes)
	}
	return nil
}

// reader turns the cells of one row after the other into runs and problems. Each cell is
// read and judged once, by the function that its column has in the table.
type reader struct {
	*layout
	log *Log
	Options
	alone       fit         // the orders of dates that some date fits alone
	undecided   []undecided // the dates that fit both
	otherHeader int         // the line of a second header with other columns, 0 if there is none

	// The row at hand, and the column and the cell.
	row      *row
	line     int
	failed   bool
	warnings []run.Problem // that count if the row is used
	lost     []run.Problem // cells that the run can do without
	lostPeak bool
	notices  []run.Problem // cells that were read as something else than they say
	assumed  []int         // the constants that were filled in
	stopped  bool          // a peak's cell says that heat stopped the run
	at       *knownColumn
	cell     string
}

// read fills in the run of a row, or returns false if the row is refused.
func (r *reader) read(line int, cells *row, to *run.Run) bool {
	r.row, r.line, r.failed, r.warnings = cells, line, false, r.warnings[:0]
	r.lost, r.notices, r.assumed, r.lostPeak, r.stopped = r.lost[:0], r.notices[:0], r.assumed[:0], false, false
	if len(r.constants) > 0 {
		r.fillIn(cells)
	}
	to.Position = run.Position{File: r.File, Line: line}
	for i := range r.known {
		r.at = &r.known[i]
		r.cell = clean(*r.at.cell(cells))
		r.at.read(r, to)
	}
	if !r.failed {
		r.complete(to)
	}
	if r.failed {
		r.log.Problems = append(r.log.Problems, r.lost...)
		return false
	}
	to.StoppedByHeat = to.StoppedByHeat || r.stopped
	r.noteAssumed(to)
	r.log.Warnings = append(r.log.Warnings, r.warnings...)
	r.log.Lost = append(r.log.Lost, r.lost...)
	r.log.Notices = append(r.log.Notices, r.notices...)
	return true
}

// complete fills in and judges what several columns say together.
func (r *reader) complete(to *run.Run) {
	if to.Gearing.Internal == 0 {
		to.Gearing.Internal = 1
		if final := r.column("final_drive_ratio"); final != nil {
			r.warn(final, "", "is blank and the log has no internal ratio, so 1 was used", "fill it in if the car has a gear behind the spur")
		}
	}
	switch {
	case to.Peak != (run.Readings{}):
	case r.lostPeak:
		r.failed = true // and the cell says why
	default:
		r.fail(nil, "", problem("has no peak reading", "fill in the peak of the motor, the ESC or the battery"))
	}
	if to.Gearing.Pinion > to.Gearing.Spur {
		r.impossible(r.column("pinion_teeth"), r.row.PinionTeeth, fmt.Sprintf("is more than the %d teeth of the spur", to.Gearing.Spur),
			"check that the two are not swapped")
	}
	if rollout := to.Rollout(); rollout < shortestRollout || rollout > longestRollout {
		r.odd(nil, "", fmt.Sprintf("the rollout is %s mm per motor turn, and cars have %g to %g",
			short(float64(rollout)), float64(shortestRollout), float64(longestRollout)),
			"check the teeth, the internal ratio and the tire")
	}
}

func (r *reader) says(column string) bool {
	at := r.column(column)
	return at != nil && !isUnmeasured(clean(*at.cell(r.row)))
}

// fail refuses the row for one cell, or as a whole. A cell that the run can do without is left
// out of it instead.
func (r *reader) fail(at *knownColumn, cell string, p *run.Problem) {
	if placed := r.placed(at, cell, *p); at != nil && r.Forgiving && r.canDoWithout(at) {
		r.lost, r.lostPeak = append(r.lost, placed), r.lostPeak || at.group == "peak"
	} else {
		r.failed = true
		r.log.Problems = append(r.log.Problems, placed)
	}
}

// canDoWithout reports whether a run is one without a number. That some peak is left is for
// complete to say.
func (r *reader) canDoWithout(at *knownColumn) bool {
	switch {
	case !at.number:
		return false
	case at.quantity == "internal_ratio":
		return r.says("final_drive_ratio")
	case at.quantity == "final_drive_ratio":
		return r.says("internal_ratio")
	case at.quantity == "tire_circumference":
		return r.says("tire_diameter")
	}
	return at.Need == atWill || at.group == "peak"
}

func (r *reader) failCell(what, do string) { r.fail(r.at, r.cell, problem(what, do)) }

// warn tells of a cell that is used though it is implausible.
func (r *reader) warn(at *knownColumn, cell, what, do string) {
	r.warnings = append(r.warnings, r.placed(at, cell, *problem(what, do)))
}

func (r *reader) warnCell(what, do string) { r.warn(r.at, r.cell, what, do) }

// odd tells of a cell that the driver should be asked about before it is used.
func (r *reader) odd(at *knownColumn, cell, what, do string) {
	r.warn(at, cell, what, do)
	r.warnings[len(r.warnings)-1].Ask = true
}

func (r *reader) oddCell(what, do string) { r.odd(r.at, r.cell, what, do) }

// impossible refuses the row for what can't be or, in a book that has it already, tells of it.
func (r *reader) impossible(at *knownColumn, cell, what, do string) {
	if r.RefuseImpossible {
		r.fail(at, cell, problem(what, do))
		return
	}
	r.warn(at, cell, what, do)
}

func (r *reader) impossibleCell(what, do string) { r.impossible(r.at, r.cell, what, do) }

// written returns the cell of a column as the row has it, with its unit.
func (r *reader) written(column string) string {
	at := r.column(column)
	number, _ := cutUnit(clean(*at.cell(r.row)))
	return number + " " + unitNames[at.unit]
}

// placed fills in where a problem is, and what to write where it does not say what to do.
func (r *reader) placed(at *knownColumn, cell string, p run.Problem) run.Problem {
	p.Position, p.Value, p.Car = run.Position{File: r.File, Line: r.line}, excerpt(cell), r.row.Car
	if at != nil {
		p.Column = at.header
		if p.Do == "" {
			p.Do = strings.ReplaceAll(at.advice, "{unit}", shownUnit(at.unit))
		}
	}
	return p
}

func (r *reader) text() (string, bool) {
	cell := FoldLines(r.cell)
	if p := textProblem(cell); p != nil {
		r.fail(r.at, cell, p)
		return "", false
	}
	return cell, true
}

// note asks about a note that tells of a heat stop on a run that is not marked as one:
// counted as a full run, its peak would pass for all the heat that the gearing makes.
func (r *reader) note(to *run.Run) {
	to.Note, _ = r.text()
	if to.Note != "" && !to.StoppedByHeat && !to.Skip && tellsOfHeatStop(to.Note) {
		r.warnCell("reads like a heat stop", markHeatStop)
		r.warnings[len(r.warnings)-1].Remedy.Kind = run.MarkHeatStop
	}
}

const markHeatStop = "if heat ended this run, put yes in stopped_by_heat"

// heatStopWords are the words by which drivers tell that heat ended a run, one or several
// in a row. Common practice, no source.
var heatStopWords = regexp.MustCompile(`(?i)\b` + heatStopWord + `(?:[\s/,-]+` + heatStopWord + `)*\b`)

const heatStopWord = `(?:thermal(?:s|ed|led|ing|ling)?|shut[ -]?(?:down|off)|cut[ -]?off)`

// heatStopStems are what those words begin with. Looking for them first spares most notes
// the slower look.
var heatStopStems = []string{"thermal", "shut", "cut"}

// denied ends in front of what did not happen.
var denied = regexp.MustCompile(`(?i)\b(?:no|not|without)\s+$`)

func tellsOfHeatStop(note string) bool {
	lower := strings.ToLower(note)
	if !slices.ContainsFunc(heatStopStems, func(stem string) bool { return strings.Contains(lower, stem) }) {
		return false
	}
	for _, at := range heatStopWords.FindAllStringIndex(note, -1) {
		if !denied.MatchString(note[:at[0]]) {
			return true
		}
	}
	return false
}

func (r *reader) moment(to *run.Run) {
	when, hasTime, fits, p := parseWhen(r.cell, r.DateOrder)
	if p != nil {
		r.fail(r.at, r.cell, p)
		return
	}
	to.When, to.HasTime = when, hasTime
	switch fits {
	case fitsDay, fitsMonth:
		r.alone |= fits
	case fitsBoth:
		r.alone |= r.Options.past(when)
		r.undecided = append(r.undecided, undecided{r.line, excerpt(r.cell), when})
	}
}

// judgeDates refuses runs that lie in the future, or tells of them. It comes after all dates are
// decided: one alone can be two days.
func (r *reader) judgeDates() {
	if r.Now.IsZero() {
		return
	}
	log := r.log
	var late []run.Position
	for i := range log.Runs {
		one := &log.Runs[i]
		ahead := one.When.Sub(r.onItsClock(one))
		if ahead <= clocksDiffer {
			continue
		}
		p := run.Problem{Position: one.Position, Column: r.column("date").header, Value: one.Date(), Car: one.Car,
			What: "lies in the future", Do: "check day, month and year"}
		if ahead > otherClocks && r.RefuseImpossible {
			late, log.Problems = append(late, one.Position), append(log.Problems, p)
			continue
		}
		p.Ask = true
		log.Warnings = append(log.Warnings, p)
	}
	if len(late) > 0 {
		log.Warnings = slices.DeleteFunc(log.Warnings, func(p run.Problem) bool { return slices.Contains(late, p.Position) })
		log.refuse(func(of *run.Run) bool { return slices.Contains(late, of.Position) })
	}
}

// onItsClock returns the present as a run's log tells it: without a zone, by the clock on the wall.
func (r *reader) onItsClock(of *run.Run) time.Time {
	now := r.Now
	if of.When.Location() == time.UTC {
		now = time.Date(now.Year(), now.Month(), now.Day(), now.Hour(), now.Minute(), now.Second(), 0, time.UTC)
	}
	return now
}

// number reads the number in the cell at hand, or in the part of it that matters. It returns
// false for a blank cell, and for a bad one, which has then failed the row.
func (r *reader) number() (float64, bool) { return r.numberOf(r.cell) }

func (r *reader) numberOf(cell string) (float64, bool) {
	if cell == "" {
		return 0, false
	}
	value, p := parseNumber(cell, r.log.Format.DecimalMark, r.at.unit)
	switch {
	case p == nil:
		return value, true
	case isUnmeasured(cell):
		return 0, false
	}
	if exact, isAbout := withoutAbout(cell); isAbout {
		if value, p := parseNumber(exact, r.log.Format.DecimalMark, r.at.unit); p == nil {
			r.noticeCell("is not exact and was read as " + exact)
			return value, true
		}
	}
	r.fail(r.at, r.cell, p)
	return 0, false
}

// noticeCell tells what became of the cell at hand.
func (r *reader) noticeCell(what string) {
	p := r.placed(nil, r.cell, run.Problem{What: what})
	p.Column = r.at.header
	r.notices = append(r.notices, p)
}

// reading is number for a peak, whose cell may say in words that heat ended the run.
func (r *reader) reading() (float64, bool) {
	number, hot := "", false
	if r.Forgiving {
		number, hot = cutTooHot(r.cell)
	}
	switch {
	case !hot:
		return r.number()
	case r.HeatStops:
		r.stopped = true
		r.noticeCell("was read as a heat stop")
	case number == "":
		r.failCell("reads like a heat stop", markHeatStop)
		r.lost[len(r.lost)-1].Remedy.Kind = run.ReadHeatStops
	default:
		r.warnCell("reads like a heat stop", markHeatStop)
		r.warnings[len(r.warnings)-1].Remedy.Kind = run.ReadHeatStops
	}
	if number == "" {
		return 0, false
	}
	return r.numberOf(number)
}

// needed is number for a cell that must not be blank.
func (r *reader) needed() (float64, bool) {
	value, ok := r.number()
	if !ok && isUnmeasured(r.cell) {
		r.failCell("is blank", "")
		if r.Forgiving {
			r.log.Problems[len(r.log.Problems)-1].Remedy = run.Remedy{Kind: run.GiveConstant, Column: r.at.quantity}
		}
	}
	return value, ok
}

// count checks that a number, if there is one, is one of things that can be counted.
func (r *reader) count(value float64, given bool, most int) (int, bool) {
	switch {
	case !given:
	case value != math.Trunc(value):
		r.failCell("is not a whole number", "")
	case value < 1:
		r.failCell("is less than one", "")
	case value > float64(most):
		r.failCell(fmt.Sprintf("is more than %d", most), "")
	default:
		return int(value), true
	}
	return 0, false
}

func (r *reader) teeth() (int, bool) {
	value, ok := r.needed()
	return r.count(value, ok, maxTeeth)
}

func (r *reader) inSeries() (int, bool) {
	count, unit := cutUnit(r.cell)
	if count == "" || !strings.EqualFold(unit, "s") { // as in 3S, three in series
		count = r.cell
	}
	value, ok := r.numberOf(count)
	cells, ok := r.count(value, ok, maxCells)
	if cells > mostCells {
		r.oddCell("is more cells in series than cars have", "check that it is not a capacity or a voltage")
	}
	return cells, ok
}

func (r *reader) numberInBook() (int, bool) {
	value, ok := r.number()
	return r.count(value, ok, maxRuns)
}

func (r *reader) ratio() (float64, bool) {
	value, ok := r.numberOf(strings.TrimSuffix(r.cell, ":1"))
	if ok && !isRatio(value) {
		r.failCell("is no ratio of gears", "")
		return 0, false
	}
	return value, ok
}

func (r *reader) internalRatio() (float64, bool) {
	ratio, ok := r.ratio()
	if !ok && isUnmeasured(r.cell) && !r.says("final_drive_ratio") {
		r.failCell("is blank", "")
	}
	return ratio, ok
}

// finalDrive gives the internal ratio where that is blank, or checks it.
func (r *reader) finalDrive(to *run.Run) {
	final, ok := r.ratio()
	g := &to.Gearing
	switch {
	case !ok || r.failed:
	case g.Internal == 0:
		if g.Internal = drivetrain.InternalRatio(final, g.Pinion, g.Spur); !isRatio(g.Internal) {
			r.failCell("does not fit the teeth", "")
		}
	case !near(final, g.FinalDriveRatio()):
		r.warnCell(fmt.Sprintf("differs from spur / pinion × internal ratio = %s, which was used", short(g.FinalDriveRatio())),
			"correct whichever is wrong")
	}
}

// length reads a length as what it makes of a tire's diameter.
func (r *reader) length(diameterOf func(units.Millimeters) units.Millimeters) (units.Millimeters, bool) {
	value, ok := r.number()
	if !ok {
		return 0, false
	}
	length := units.Millimeters(value)
	if r.at.unit == "in" {
		length = units.FromInches(value)
	}
	tire := diameterOf(length)
	if !isTire(tire) {
		r.failCell("is no size of a tire", "")
		return 0, false
	}
	return tire, true
}

func (r *reader) diameter() (units.Millimeters, bool) {
	tire, ok := r.length(func(diameter units.Millimeters) units.Millimeters { return diameter })
	if !ok {
		if isUnmeasured(r.cell) && !r.says("tire_circumference") {
			r.failCell("is blank", "")
		}
		return 0, false
	}
	r.judgeTire(tire)
	if r.at.unit == "in" && drivetrain.IsRimSize(tire) {
		r.oddCell(drivetrain.RimSize, drivetrain.MeasureAcrossTire)
	}
	return tire, true
}

func (r *reader) judgeTire(tire units.Millimeters) {
	if tire < smallestTire || tire > largestTire {
		r.oddCell("makes a tire of "+short(float64(tire))+" mm", "check the number and its unit")
	}
}

// circumference gives the diameter where that is blank, or checks it.
func (r *reader) circumference(to *run.Run) {
	tire, ok := r.length(drivetrain.DiameterOf)
	switch {
	case isUnmeasured(r.cell) && r.column("tire_diameter") == nil:
		r.failCell("is blank", "")
	case !ok:
	case to.Tire == 0:
		r.judgeTire(tire)
		to.Tire = tire
	case !near(float64(tire), float64(to.Tire)):
		r.warnCell(fmt.Sprintf("makes a diameter of %s mm, and the diameter of %s mm was used", short(float64(tire)), short(float64(to.Tire))),
			"correct whichever is wrong")
	}
}

// temperature converts a reading, if there is one, and refuses one that nobody can have read.
func (r *reader) temperature(value float64, taken bool) (units.Celsius, bool) {
	t := units.Celsius(value)
	if r.at.unit == "f" {
		t = units.FromFahrenheit(value)
	}
	if taken && !isReading(t) {
		r.failCell(noReading, checkReading)
		return 0, false
	}
	return t, taken
}

func (r *reader) air() (units.Celsius, bool) {
	t, ok := r.temperature(r.needed())
	const notF, notC = "check that it was not read in °F", "check that it was not read in °C"
	fahrenheit := r.at.unit == "f"
	switch {
	case !ok:
	case t < coldestAir:
		r.impossibleCell(tooCold, checkReading)
	case t > hottestAir && fahrenheit:
		r.impossibleCell(tooHot, checkReading)
	case t > hottestAir:
		r.impossibleCell(tooHot, notF)
	case t > veryHotAir && fahrenheit:
		r.oddCell(tooHot, checkReading)
	case t > veryHotAir:
		r.oddCell(tooHot, notF)
	case t < frost && fahrenheit:
		r.oddCell("is frost in °F", notC)
	case t >= hotCelsiusColumn && !fahrenheit:
		r.oddCell("is a very hot day in °C", notF)
	case t < veryColdAir:
		r.oddCell("is very cold", checkReading)
	}
	return t, ok
}

func (r *reader) peak(to *run.Run, p run.Part) {
	peak, ok := r.temperature(r.reading())
	if !ok {
		return
	}
	to.Peak.Set(p, peak)
	if peak > veryHot[p] {
		r.oddCell("is very hot", checkReading)
	}
	const useless, checkBoth = ", so no fit can use it", "check both readings and their units"
	switch {
	case peak < to.Ambient:
		if r.impossibleCell("is below the air of "+r.written("ambient")+useless, checkBoth); r.RefuseImpossible {
			to.Peak.Delete(p)
		}
	case peak == to.Ambient:
		r.oddCell("is not above the air of "+r.written("ambient")+useless, checkBoth)
	}
}

func (r *reader) start(to *run.Run, p run.Part) {
	start, ok := r.temperature(r.number())
	if !ok {
		return
	}
	to.Start.Set(p, start)
	if peak, taken := to.Peak.Of(p); taken && start >= peak {
		of := r.column(p.String() + "_peak")
		r.odd(of, *of.cell(r.row), "is not above the start of "+r.written(r.at.quantity), "check that the two are not swapped")
	}
	if units.Rise(to.Ambient-start) > coolerThanAir {
		r.oddCell("is far below the air of "+r.written("ambient"), checkReading)
	}
}

func (r *reader) minutes() (units.Minutes, bool) {
	var minutes units.Minutes
	if count, unit, inWords := strings.Cut(r.cell, "m"); strings.ContainsAny(r.cell, ":'′’") ||
		inWords && count != "" && strings.ContainsAny(unit, "0123456789") {
		var err error
		clock := r.cell
		if number, unit := cutUnit(clock); unitIs(unit) == "min" {
			clock = number
		}
		if minutes, err = units.ParseMinutes(clock); err != nil {
			r.failCell("is not minutes and seconds", "")
			return 0, false
		}
	} else {
		value, ok := r.needed()
		if !ok {
			return 0, false
		}
		minutes = units.Minutes(value)
	}
	switch {
	case !isDuration(minutes):
		r.failCell(noDuration, "")
		return 0, false
	case minutes > longestRun:
		r.impossibleCell(isHours(minutes), notHours)
	case minutes > veryLongRun, r.RefuseImpossible && minutes > longRun:
		r.oddCell(isHours(minutes), notHours)
	case minutes < shortRun:
		r.oddCell("is a run of "+short(float64(minutes)*60)+" seconds", writeMinutes)
	}
	return minutes, true
}

func isHours(m units.Minutes) string { return "is a run of " + short(float64(m)/60) + " hours" }

func (r *reader) yesNo() (bool, bool) {
	yes, ok := ParseYesNo(r.cell)
	if !ok {
		r.failCell("is neither yes nor no", "write yes, or leave the cell blank for no")
	}
	return yes, ok
}

// ParseYesNo returns what a text says that takes yes or no, and whether it says either. A
// blank text says no.
func ParseYesNo(text string) (yes, ok bool) {
	switch strings.ToLower(text) {
	case "", "no":
		return false, true
	case "yes":
		return true, true
	}
	yes = names().says("yes", text)
	return yes, yes || names().says("no", text)
}

// near reports whether two ways to say the same agree to one percent.
func near(a, b float64) bool { return math.Abs(a-b) <= 0.01*math.Abs(b) }

// short writes a number for a warning, to four digits at most.
func short(v float64) string {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 4, 64), 64)
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}
