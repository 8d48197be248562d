package runlog

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// Where a number stops being plausible. The bounds are common practice, without a
// source, and chosen so that a reading in the wrong unit falls outside while
// what drivers do stays inside.
const (
	// A °F reading in a column of °C: 35 °F, 2 °C, is a cold day, while 35 °C is
	// a hot one that is rare enough to be asked about.
	hotCelsiusColumn units.Celsius = 35
	hottestAir       units.Celsius = 45
	coldestAir       units.Celsius = -30
	// A °C reading in a column of °F: 20 °C is a mild day, 20 °F hard frost.
	frost units.Celsius = 0
	// Motors are ruined from about 93 °C on and may survive 120 once; a usual reading in °F
	// lies above 120.
	veryHotPart units.Celsius = 120

	shortestRollout units.Millimeters = 10
	longestRollout  units.Millimeters = 150
	// Inches in a column of mm lie below, mm in a column of inches above.
	smallestTire units.Millimeters = 15
	largestTire  units.Millimeters = 300

	shortestRun units.Minutes = 0.5
	longestRun  units.Minutes = 120

	mostCells = 16

	// The contract's bound on two ways to say the same.
	sameRatio = 0.01
)

// doubt warns of what is implausible about a run that is used.
func (c *converter) doubt(one *run.Run, r *cells) {
	c.doubtAir(one, r)
	c.doubtGearing(one, r)
	c.doubtTire(one, r)
	c.doubtMinutes(one, r)
	c.doubtReadings(one, r)
	c.doubtNote(one, r)
	if one.Cells > mostCells {
		c.warn("cells", r.Cells, "is more cells in series than cars have", "check that it is not a capacity or a voltage")
	}
}

func (c *converter) doubtAir(one *run.Run, r *cells) {
	const notF, notC = "check that it was not read in °F", "check that it was not read in °C"
	switch t := one.Ambient; {
	case t < coldestAir:
		c.warn("ambient", r.Ambient, "is colder than air to drive in", checkReading)
	case c.ambientF && t > hottestAir:
		c.warn("ambient", r.Ambient, "is hotter than air to drive in", checkReading)
	case c.ambientF && t < frost:
		c.warn("ambient", r.Ambient, "is frost in °F", notC)
	case t > hottestAir:
		c.warn("ambient", r.Ambient, "is hotter than air to drive in", notF)
	case !c.ambientF && t >= hotCelsiusColumn:
		c.warn("ambient", r.Ambient, "is a very hot day in °C", notF)
	}
}

func (c *converter) doubtGearing(one *run.Run, r *cells) {
	g := one.Gearing
	if g.Pinion > g.Spur {
		c.warn("pinion_teeth", r.PinionTeeth, fmt.Sprintf("is more than the %d teeth of the spur", g.Spur),
			"check that the two are not swapped")
	}
	if rollout := one.Rollout(); rollout < shortestRollout || rollout > longestRollout {
		c.warn("", "", fmt.Sprintf("the rollout is %s mm per motor turn, and cars have %g to %g",
			short(float64(rollout)), float64(shortestRollout), float64(longestRollout)),
			"check the teeth, the internal ratio and the tire")
	}
	if isBlank(clean(r.InternalRatio)) {
		if _, ok := c.byQuantity["final_drive_ratio"]; ok && isBlank(clean(r.FinalDriveRatio)) {
			c.warn("final_drive_ratio", "", "is blank and the log has no internal ratio, so 1 was used",
				"fill it in if the car has a gear behind the spur")
		}
		return
	}
	if final, ok := c.ratio(r.FinalDriveRatio, "final_drive_ratio"); ok && !near(final, g.FinalDriveRatio()) {
		c.warn("final_drive_ratio", r.FinalDriveRatio,
			fmt.Sprintf("differs from spur / pinion × internal ratio = %s, which was used", short(g.FinalDriveRatio())),
			"correct whichever is wrong")
	}
}

func (c *converter) doubtTire(one *run.Run, r *cells) {
	quantity, cell := "tire_diameter", r.TireDiameter
	if isBlank(clean(cell)) {
		quantity, cell = "tire_circumference", r.TireCircumference
	}
	if one.Tire < smallestTire || one.Tire > largestTire {
		c.warn(quantity, cell, "makes a tire of "+short(float64(one.Tire))+" mm", "check the unit of the column")
	}
	if quantity != "tire_diameter" {
		return
	}
	if c.diameterIn && drivetrain.IsRimSize(one.Tire) {
		rim := c.problem(quantity, cell, drivetrain.RimSize, drivetrain.MeasureAcrossTire)
		rim.Ask = true
		c.out.warnings = append(c.out.warnings, rim)
	}
	around, ok := c.length(r.TireCircumference, "tire_circumference", c.roundIn)
	if rolled := drivetrain.DiameterOf(around); ok && !near(float64(rolled), float64(one.Tire)) {
		c.warn("tire_circumference", r.TireCircumference,
			fmt.Sprintf("makes a diameter of %s mm, and the diameter of %s mm was used",
				short(float64(rolled)), short(float64(one.Tire))),
			"correct whichever is wrong")
	}
}

func (c *converter) doubtMinutes(one *run.Run, r *cells) {
	switch {
	case one.Minutes > longestRun:
		c.warn("run_minutes", r.RunMinutes, "is a run of "+short(float64(one.Minutes)/60)+" hours",
			"if a spreadsheet made hours of minutes and seconds, write minutes as 12.5")
	case one.Minutes < shortestRun:
		c.warn("run_minutes", r.RunMinutes, "is a run of "+short(float64(one.Minutes)*60)+" seconds",
			"check that the column is in minutes")
	}
}

func (c *converter) doubtReadings(one *run.Run, r *cells) {
	peaks := [len(run.Parts)]string{r.MotorPeak, r.ESCPeak, r.BatteryPeak}
	for _, p := range run.Parts {
		peak, ok := one.Peak.Of(p)
		if !ok {
			continue
		}
		if peak > veryHotPart {
			c.warn(peakOf[p], peaks[p], "is very hot", checkReading)
		}
		if peak <= one.Ambient {
			c.warn(peakOf[p], peaks[p], "is not above the air of "+celsius(one.Ambient)+", so no fit can use it",
				"check both readings and their units")
		}
		if start, ok := one.Start.Of(p); ok && start >= peak {
			c.warn(peakOf[p], peaks[p], "is not above the start of "+celsius(start), "check that the two are not swapped")
		}
	}
}

// doubtNote asks about a note that tells of a heat stop on a run that is not marked as one:
// counted as a full run, its peak would pass for all the heat that the gearing makes.
func (c *converter) doubtNote(one *run.Run, r *cells) {
	if one.Note != "" && !one.StoppedByHeat && !one.Skip && tellsOfHeatStop(one.Note) {
		stop := c.problem("note", r.Note, "reads like a heat stop", "if heat ended this run, put yes in stopped_by_heat")
		stop.Remedy.Kind = run.MarkHeatStop
		c.out.warnings = append(c.out.warnings, stop)
	}
}

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
	if !slices.ContainsFunc(heatStopStems, func(stem string) bool { return containsFold(note, stem) }) {
		return false
	}
	for _, at := range heatStopWords.FindAllStringIndex(note, -1) {
		if !denied.MatchString(note[:at[0]]) {
			return true
		}
	}
	return false
}

// containsFold reports whether a text holds a word of ASCII letters, in any letter case.
func containsFold(text, word string) bool {
	for i := 0; i+len(word) <= len(text); i++ {
		if text[i]|0x20 == word[0] && strings.EqualFold(text[i:i+len(word)], word) {
			return true
		}
	}
	return false
}

// near reports whether two ways to say the same agree to one percent.
func near(a, b float64) bool { return math.Abs(a-b) <= sameRatio*math.Abs(b) }

// celsius writes a reading for a warning, to a tenth.
func celsius(t units.Celsius) string { return short(math.Round(float64(t)*10)/10) + " °C" }

// short writes a number for a warning, to four digits at most.
func short(v float64) string {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 4, 64), 64)
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}
