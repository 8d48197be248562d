package runlog

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/gocarina/gocsv"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// Bounds of what can be a run at all. They only keep out what would overflow
// later or is no measurement; what is merely unlikely is warned of instead.
const (
	maxTeeth = 9999
	maxCells = 99

	minRatio, maxRatio                       = 1e-3, 1e4
	minTire, maxTire       units.Millimeters = 0.1, 1e5
	minMinutes, maxMinutes units.Minutes     = 1e-3, 1e5
	// Solder melts near 200 °C: no part that reads more has just run. Common practice, no
	// source.
	maxReading units.Celsius = 200
)

func isRatio(v float64) bool { return v >= minRatio && v <= maxRatio }

func isTire(diameter units.Millimeters) bool { return diameter >= minTire && diameter <= maxTire }

func isDuration(m units.Minutes) bool { return m >= minMinutes && m <= maxMinutes }

func isReading(t units.Celsius) bool { return t >= units.AbsoluteZero && t <= maxReading }

// NoReading is what is said of a temperature that nobody can have read.
const NoReading = "is no temperature of air or parts"

const checkReading = "check the reading and the unit"

// CheckReading fails where nobody can have read a temperature of air or parts.
func CheckReading(t units.Celsius) error {
	if !isReading(t) {
		return errors.New(NoReading + ": " + checkReading)
	}
	return nil
}

// result is what became of a batch of rows.
type result struct {
	runs     []run.Run
	cells    [][]string // of runs, if cells are kept
	refused  []Row      // if cells are kept
	problems []run.Problem
	warnings []run.Problem
	dates    datesFound
}

// converter turns rows into runs and problems. Each worker has its own.
type converter struct {
	*layout
	order DateOrder
	mark  byte // the decimal mark
	rows  []decodedRow
	texts map[string]string
	zones zones

	// Which columns are in °F or inches.
	peakF, startF       [len(run.Parts)]bool
	ambientF            bool
	diameterIn, roundIn bool

	// The row at hand.
	line   int
	car    string
	failed bool
	out    *result
}

// The quantities of each part.
var (
	peakOf  = [len(run.Parts)]string{run.Motor: "motor_peak", run.ESC: "esc_peak", run.Battery: "battery_peak"}
	startOf = [len(run.Parts)]string{run.Motor: "motor_start", run.ESC: "esc_start", run.Battery: "battery_start"}
)

func newConverter(l *layout, order DateOrder) *converter {
	c := &converter{layout: l, order: order, texts: map[string]string{}, zones: zones{}}
	c.rows = make([]decodedRow, batchRows)
	for _, p := range run.Parts {
		c.peakF[p] = l.byQuantity[peakOf[p]].Unit == "°F"
		c.startF[p] = l.byQuantity[startOf[p]].Unit == "°F"
	}
	c.ambientF = l.byQuantity["ambient"].Unit == "°F"
	c.diameterIn = l.byQuantity["tire_diameter"].Unit == "in"
	c.roundIn = l.byQuantity["tire_circumference"].Unit == "in"
	return c
}

// convert fills in what became of b's rows.
func (c *converter) convert(b *batch) error {
	// gocsv reuses the rows of the last batch; those beyond this one are stale.
	if err := gocsv.UnmarshalDecoder(b, &c.rows); err != nil {
		return fmt.Errorf("decoding rows: %w", err)
	}
	c.out, c.mark = &b.result, b.mark
	for i, line := range b.lines {
		c.line, c.failed = line, false
		one := run.Run{Position: run.Position{File: c.File, Line: line}}
		c.run(&one, c.rows[i].Cells)
		c.rows[i].release()
		switch {
		case !c.failed:
			c.out.runs = append(c.out.runs, one)
			if b.raw != nil {
				c.out.cells = append(c.out.cells, b.raw[i])
			}
		case b.raw != nil:
			c.out.refused = append(c.out.refused, Row{one.Position, b.raw[i]})
		}
	}
	return nil
}

// run fills run from a row's cells, or fails and says why.
func (c *converter) run(one *run.Run, r *cells) {
	c.car = r.Car
	c.when(one, r.Date)
	one.Car = c.text(r.Car, "car")
	one.Gearing.Pinion = c.teeth(r.PinionTeeth, "pinion_teeth")
	one.Gearing.Spur = c.teeth(r.SpurTeeth, "spur_teeth")
	c.internalRatio(one, r)
	c.tire(one, r)
	c.ambient(one, r.Ambient)
	c.minutes(one, r.RunMinutes)
	c.readings(&one.Peak, [len(run.Parts)]string{r.MotorPeak, r.ESCPeak, r.BatteryPeak}, peakOf, c.peakF)
	c.readings(&one.Start, [len(run.Parts)]string{r.MotorStart, r.ESCStart, r.BatteryStart}, startOf, c.startF)
	one.StoppedByHeat = c.yesNo(r.StoppedByHeat, "stopped_by_heat")
	one.Skip = c.yesNo(r.Skip, "skip")
	one.Cells = c.inSeries(r.Cells)
	one.Motor = c.text(r.Motor, "motor")
	one.Surface = c.text(r.Surface, "surface")
	one.Cooling = c.text(r.Cooling, "cooling")
	one.Note = c.text(r.Note, "note")
	if c.failed {
		return
	}
	if one.Peak == (run.Readings{}) {
		c.fail("", "", fault{what: "has no peak reading", do: "fill in the peak of the motor, the ESC or the battery"})
		return
	}
	c.doubt(one, r)
}

// fail refuses the row at hand for the sake of one cell.
func (c *converter) fail(quantity, cell string, f fault) {
	c.failed = true
	c.out.problems = append(c.out.problems, c.problem(quantity, cell, f.what, f.do))
}

// warn reports a cell that is used though it is implausible.
func (c *converter) warn(quantity, cell, what, do string) {
	c.out.warnings = append(c.out.warnings, c.problem(quantity, cell, what, do))
}

func (c *converter) problem(quantity, cell, what, do string) run.Problem {
	return run.Problem{
		Position: run.Position{File: c.File, Line: c.line}, Column: c.byQuantity[quantity].Header,
		Value: excerpt(cell), What: what, Do: do, Car: strings.Clone(c.car),
	}
}

// text returns a text cell, once for all rows that hold the same.
func (c *converter) text(cell, quantity string) string {
	cell = cleanText(cell)
	if cell == "" {
		return ""
	}
	if kept, ok := c.texts[cell]; ok {
		return kept
	}
	if f := checkText(cell); !f.none() {
		c.fail(quantity, cell, f)
		return ""
	}
	cell = strings.Clone(cell)
	// Labels are few; notes may be a million, each its own.
	const maxTexts = 1 << 12
	if len(c.texts) < maxTexts {
		c.texts[cell] = cell
	}
	return cell
}

func (c *converter) when(one *run.Run, cell string) {
	cell = clean(cell)
	var ok bool
	if one.When, one.HasTime, ok = parseISO(cell); ok {
		return
	}
	switch {
	case cell == "":
		c.fail("date", cell, fault{what: "is blank", do: "every run needs its date, as 2026-03-14"})
		return
	case startsSpreadsheetError(cell):
		c.fail("date", cell, fault{what: spreadsheetFault.what, do: writeISO})
		return
	}
	var fits fit
	var f fault
	if one.When, one.HasTime, fits, f = parseWhen(cell, c.order, c.zones); !f.none() {
		c.fail("date", cell, f)
	}
	c.out.dates.add(fits, c.line, cell, one.When)
}

// number reads a cell of numbers. present is false for a blank cell and for a bad
// one, which has then failed the row.
func (c *converter) number(cell, quantity string) (value float64, present bool) {
	cell = clean(cell)
	if value, ok := parseDecimal(cell, c.mark); ok {
		return value, true
	}
	if isBlank(cell) {
		return 0, false
	}
	unit := c.byQuantity[quantity].Unit
	if u, ok := unitWords[fold(unit)]; ok {
		unit = u
	}
	value, f := parseNumber(cell, c.mark, unit)
	if !f.none() {
		c.failNumber(quantity, cell, f)
		return 0, false
	}
	return value, true
}

// failNumber refuses a number, with the quantity's own advice if the fault has none.
func (c *converter) failNumber(quantity, cell string, f fault) {
	if f.do == "" {
		f.do = c.advice(quantity)
	}
	c.fail(quantity, cell, f)
}

// advice says what to write into a cell of numbers.
func (c *converter) advice(quantity string) string {
	unit := c.byQuantity[quantity].Unit
	switch quantity {
	case "pinion_teeth", "spur_teeth":
		return "write the number of teeth"
	case "internal_ratio":
		return "write the ratio as a number, 1 if there is no gear behind the spur"
	case "final_drive_ratio":
		return "write motor turns per wheel turn as a number, or leave the cell blank"
	case "tire_diameter":
		return "write the tire's outer diameter in " + unit
	case "tire_circumference":
		return "write how far the tire rolls in one turn, in " + unit
	case "ambient":
		return "write the air temperature in " + unit
	case "run_minutes":
		return "write minutes, as 12.5 or 12:30"
	case "cells":
		return "write the number of cells in series, or leave the cell blank"
	}
	return "write the reading in " + unit + ", or leave the cell blank if none was taken"
}

// needed is number for a cell that must not be blank.
func (c *converter) needed(cell, quantity string) (value float64, present bool) {
	value, present = c.number(cell, quantity)
	if !present && isBlank(clean(cell)) {
		c.failNumber(quantity, clean(cell), fault{what: "is blank"})
	}
	return value, present
}

// count checks that a number is one of things that can be counted.
func (c *converter) count(value float64, most int, cell, quantity string) int {
	switch {
	case value != math.Trunc(value):
		c.failNumber(quantity, cell, fault{what: "is not a whole number"})
	case value < 1:
		c.failNumber(quantity, cell, fault{what: "is less than one"})
	case value > float64(most):
		c.failNumber(quantity, cell, fault{what: fmt.Sprintf("is more than %d", most)})
	default:
		return int(value)
	}
	return 0
}

func (c *converter) teeth(cell, quantity string) int {
	value, ok := c.needed(cell, quantity)
	if !ok {
		return 0
	}
	return c.count(value, maxTeeth, cell, quantity)
}

func (c *converter) inSeries(cell string) int {
	count, unit := cutUnit(cell)
	if count == "" || !strings.EqualFold(unit, "s") { // as in 3S, three in series
		count = cell
	}
	value, ok := c.number(count, "cells")
	if !ok {
		return 0
	}
	return c.count(value, maxCells, cell, "cells")
}

func (c *converter) ratio(cell, quantity string) (float64, bool) {
	value, ok := c.number(strings.TrimSuffix(trim(cell), ":1"), quantity)
	if ok && !isRatio(value) {
		c.failNumber(quantity, cell, fault{what: "is no ratio of gears"})
		ok = false
	}
	return value, ok
}

// internalRatio settles the internal ratio, from the final drive ratio if need be.
func (c *converter) internalRatio(one *run.Run, r *cells) {
	g := &one.Gearing
	internal, given := c.ratio(r.InternalRatio, "internal_ratio")
	final, derived := c.ratio(r.FinalDriveRatio, "final_drive_ratio")
	_, column := c.byQuantity["internal_ratio"]
	switch {
	case given:
		g.Internal = internal
	case derived && c.failed:
	case derived:
		g.Internal = drivetrain.InternalRatio(final, g.Pinion, g.Spur)
		if !isRatio(g.Internal) {
			c.failNumber("final_drive_ratio", r.FinalDriveRatio, fault{what: "does not fit the teeth"})
		}
	case isBlank(clean(r.InternalRatio)) && column:
		c.failNumber("internal_ratio", "", fault{what: "is blank"})
	default:
		g.Internal = 1
	}
}

func (c *converter) length(cell, quantity string, inches bool) (units.Millimeters, bool) {
	value, ok := c.number(cell, quantity)
	if !ok {
		return 0, false
	}
	if inches {
		return units.FromInches(value), true
	}
	return units.Millimeters(value), true
}

var noTire = fault{what: "is no size of a tire"}

// tire settles the diameter, from the circumference if need be.
func (c *converter) tire(one *run.Run, r *cells) {
	diameter, measured := c.length(r.TireDiameter, "tire_diameter", c.diameterIn)
	around, rolled := c.length(r.TireCircumference, "tire_circumference", c.roundIn)
	switch {
	case measured && !isTire(diameter):
		c.failNumber("tire_diameter", r.TireDiameter, noTire)
	case rolled && !isTire(drivetrain.DiameterOf(around)):
		c.failNumber("tire_circumference", r.TireCircumference, noTire)
	case measured:
		one.Tire = diameter
	case rolled:
		one.Tire = drivetrain.DiameterOf(around)
	case isBlank(clean(r.TireDiameter)) && isBlank(clean(r.TireCircumference)):
		quantity := "tire_diameter"
		if _, ok := c.byQuantity[quantity]; !ok {
			quantity = "tire_circumference"
		}
		c.failNumber(quantity, "", fault{what: "is blank"})
	}
}

func (c *converter) ambient(one *run.Run, cell string) {
	value, ok := c.needed(cell, "ambient")
	if ok {
		one.Ambient, _ = c.temperature(value, cell, "ambient", c.ambientF)
	}
}

// temperature converts a reading and refuses one that can't be.
func (c *converter) temperature(value float64, cell, quantity string, fahrenheit bool) (units.Celsius, bool) {
	t := units.Celsius(value)
	if fahrenheit {
		t = units.FromFahrenheit(value)
	}
	if !isReading(t) {
		c.failNumber(quantity, cell, fault{what: NoReading, do: checkReading})
		return 0, false
	}
	return t, true
}

func (c *converter) readings(to *run.Readings, cells [len(run.Parts)]string, of [len(run.Parts)]string, fahrenheit [len(run.Parts)]bool) {
	for _, p := range run.Parts {
		if cells[p] == "" {
			continue
		}
		value, ok := c.number(cells[p], of[p])
		if !ok {
			continue
		}
		if t, ok := c.temperature(value, cells[p], of[p], fahrenheit[p]); ok {
			to.Set(p, t)
		}
	}
}

func (c *converter) minutes(one *run.Run, cell string) {
	cell = clean(cell)
	if strings.ContainsAny(cell, ":'′’") {
		m, err := units.ParseMinutes(cell)
		if err != nil {
			c.failNumber("run_minutes", cell, fault{what: "is not minutes and seconds"})
			return
		}
		one.Minutes = m
	} else if value, ok := c.needed(cell, "run_minutes"); ok {
		one.Minutes = units.Minutes(value)
	} else {
		return
	}
	if !isDuration(one.Minutes) {
		c.failNumber("run_minutes", cell, fault{what: "is no length of a run"})
	}
}

func (c *converter) yesNo(cell, quantity string) bool {
	cell = clean(cell)
	switch strings.ToLower(cell) {
	case "", "no", "n", "false", "0":
		return false
	case "yes", "y", "true", "1", "x":
		return true
	}
	c.fail(quantity, cell, fault{what: "is neither yes nor no", do: "write yes, or leave the cell blank for no"})
	return false
}
