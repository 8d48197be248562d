package runlog

import (
	"encoding/csv"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/gocarina/gocsv"

	"regear/analyze/run"
	"regear/analyze/units"
)

// NumberColumn is the column of a run's number in the log book.
const NumberColumn = "run_in_book"

// Record is a run as a log holds it: a cell for each column that [Write] writes, in its order. The
// tag of a field lists the column's name in every unit that it may be in; the first is written.
type Record struct {
	Date          string `csv:"date"`
	Car           string `csv:"car"`
	PinionTeeth   string `csv:"pinion_teeth"`
	SpurTeeth     string `csv:"spur_teeth"`
	InternalRatio string `csv:"internal_ratio"`
	TireDiameter  string `csv:"tire_diameter_mm,tire_diameter_in"`
	Ambient       string `csv:"ambient_c,ambient_f"`
	RunMinutes    string `csv:"run_minutes"`
	MotorPeak     string `csv:"motor_peak_c,motor_peak_f"`
	ESCPeak       string `csv:"esc_peak_c,esc_peak_f"`
	BatteryPeak   string `csv:"battery_peak_c,battery_peak_f"`
	MotorStart    string `csv:"motor_start_c,motor_start_f"`
	ESCStart      string `csv:"esc_start_c,esc_start_f"`
	BatteryStart  string `csv:"battery_start_c,battery_start_f"`
	StoppedByHeat string `csv:"stopped_by_heat"`
	Cells         string `csv:"cells"`
	Motor         string `csv:"motor"`
	Surface       string `csv:"surface"`
	Cooling       string `csv:"cooling"`
	Skip          string `csv:"skip"`
	Note          string `csv:"note"`
	RunInBook     string `csv:"run_in_book"`
}

// row is one row of a log that is read: a record, and the columns that say the same in
// another way, which are never written.
type row struct {
	Record
	FinalDriveRatio   string `csv:"final_drive_ratio"`
	TireCircumference string `csv:"tire_circumference_mm,tire_circumference_in"`
}

// Column is one column that a log may have.
type Column struct {
	// Names are the column's names, one for each unit that it may be in: motor_peak_c and
	// motor_peak_f. A log has it once. The first is written.
	Names   []string
	Unit    string // of a column with one name: "min", "teeth" or ""
	Need    string // whether a log needs it, as the README says it
	Meaning string // as the README says it

	// group is what the column says, where a log must say it: of each group a log needs one column.
	group  string
	advice string // what to write into a cell; {unit} stands for the column's unit
	number bool
	cell   func(*row) *string // in the row struct, whose tag names the column
	value

	// From the names: what the column holds whatever its unit, also folded; the units that
	// tell its names apart, nil if it has one name; its place in the table.
	quantity, folded string
	units            []string
	order            int
}

// value is how a cell becomes a part of a run, and how it is written.
type value struct {
	read  func(*reader, *run.Run)
	write func(*run.Run) string // nil for a column that is read alone
	copy  func(to, from *run.Run)
}

// Name returns the name under which the column is written.
func (c *Column) Name() string { return c.Names[0] }

// Written reports whether the column is one of [WrittenColumns].
func (c *Column) Written() bool { return c.write != nil }

// Of returns r's cell in the column, as [Write] writes it; "" where r says nothing, and for
// a column that is not written.
func (c *Column) Of(r *run.Run) string {
	if c.write == nil {
		return ""
	}
	return c.write(r)
}

// Copy gives one run what another says in the column.
func (c *Column) Copy(to, from *run.Run) {
	if c.copy != nil {
		c.copy(to, from)
	}
}

const (
	always  = "yes"
	atWill  = "no"
	setup   = "setup; another motor is another fit"
	peakIs  = "highest reading after the run"
	startIs = "reading just before; blank: as cool as the air, unless the dates' clock times say that the car had just run"

	writeTeeth   = "write the number of teeth"
	writeReading = "write the reading in {unit}, or leave the cell blank if none was taken"
)

// columns is the table of columns, in the order in which cells are read: what a cell is
// judged by stands before it.
var columns = named([]Column{
	{cell: func(r *row) *string { return &r.Date }, value: moment, Need: always, group: "date", advice: writeISO,
		Meaning: "when the run ended: `2026-05-16` or `2026-05-16T10:50`; `16.05.2026` where the log's dates fit one order alone"},
	{cell: func(r *row) *string { return &r.Car }, value: text(func(r *run.Run) *string { return &r.Car }), Need: "if a log has several",
		Meaning: "which car; a fit never mixes cars"},
	{cell: func(r *row) *string { return &r.PinionTeeth }, value: teeth(func(r *run.Run) *int { return &r.Gearing.Pinion }),
		Unit: "teeth", Need: always, group: "pinion", number: true, advice: writeTeeth, Meaning: "the two gears"},
	{cell: func(r *row) *string { return &r.SpurTeeth }, value: teeth(func(r *run.Run) *int { return &r.Gearing.Spur }),
		Unit: "teeth", Need: always, group: "spur", number: true, advice: writeTeeth, Meaning: "the two gears"},
	{cell: func(r *row) *string { return &r.InternalRatio }, Need: "1 where it is absent", number: true,
		value:   of(func(r *run.Run) *float64 { return &r.Gearing.Internal }, (*reader).internalRatio, number),
		advice:  "write the ratio as a number, 1 if there is no gear behind the spur",
		Meaning: "reduction behind the spur"},
	{cell: func(r *row) *string { return &r.FinalDriveRatio }, value: value{read: (*reader).finalDrive}, Need: atWill, number: true,
		advice:  "write motor turns per wheel turn as a number, or leave the cell blank",
		Meaning: "motor turns per wheel turn; gives the internal ratio, or checks it"},
	{cell: func(r *row) *string { return &r.TireDiameter }, Need: always, group: "tire", number: true,
		value:  of(func(r *run.Run) *units.Millimeters { return &r.Tire }, (*reader).diameter, number),
		advice: "write the tire's outer diameter in {unit}",
		Meaning: "outer diameter across the rubber, always measured the same way; 2.2 in and the like are asked about, " +
			"as rims are sold by them"},
	{cell: func(r *row) *string { return &r.TireCircumference }, value: value{read: (*reader).circumference}, group: "tire", number: true,
		Need: "instead of the diameter", advice: "write how far the tire rolls in one turn, in {unit}", Meaning: "how far the tire rolls in one turn"},
	{cell: func(r *row) *string { return &r.Ambient }, Need: always, group: "air", number: true,
		value:  of(func(r *run.Run) *units.Celsius { return &r.Ambient }, (*reader).air, number),
		advice: "write the air temperature in {unit}", Meaning: "air at the run"},
	{cell: func(r *row) *string { return &r.RunMinutes }, Unit: "min", Need: always, group: "minutes", number: true,
		value:  of(func(r *run.Run) *units.Minutes { return &r.Minutes }, (*reader).minutes, number),
		advice: "write minutes, as 12.5 or 12:30", Meaning: "how long the car was driven: `12.5` or `12:30`"},
	peak(run.Motor, func(r *row) *string { return &r.MotorPeak }),
	peak(run.ESC, func(r *row) *string { return &r.ESCPeak }),
	peak(run.Battery, func(r *row) *string { return &r.BatteryPeak }),
	start(run.Motor, func(r *row) *string { return &r.MotorStart }),
	start(run.ESC, func(r *row) *string { return &r.ESCStart }),
	start(run.Battery, func(r *row) *string { return &r.BatteryStart }),
	{cell: func(r *row) *string { return &r.StoppedByHeat }, value: yesNo(func(r *run.Run) *bool { return &r.StoppedByHeat }), Need: atWill,
		Meaning: "yes: heat ended the run, so the peak counts as *at least*"},
	{cell: func(r *row) *string { return &r.Cells }, Need: atWill, number: true, Meaning: setup,
		value:  of(func(r *run.Run) *int { return &r.Cells }, (*reader).inSeries, countIfAny),
		advice: "write the number of cells in series, or leave the cell blank"},
	{cell: func(r *row) *string { return &r.Motor }, value: text(func(r *run.Run) *string { return &r.Motor }), Need: atWill, Meaning: setup},
	{cell: func(r *row) *string { return &r.Surface }, value: text(func(r *run.Run) *string { return &r.Surface }), Need: atWill, Meaning: setup},
	{cell: func(r *row) *string { return &r.Cooling }, value: text(func(r *run.Run) *string { return &r.Cooling }), Need: atWill, Meaning: setup},
	{cell: func(r *row) *string { return &r.Skip }, value: yesNo(func(r *run.Run) *bool { return &r.Skip }), Need: atWill,
		Meaning: "yes: keep the row, leave it out of fits"},
	{cell: func(r *row) *string { return &r.Note }, value: note, Need: atWill, Meaning: "whatever you like"},
	{cell: func(r *row) *string { return &r.RunInBook }, Need: "only the log book has it", number: true,
		value:   of(func(r *run.Run) *int { return &r.Number }, (*reader).numberInBook, countIfAny),
		advice:  "leave the cell blank: the log book gives each run its number",
		Meaning: "the number that `edit` and `delete` take; an import gives each run a new one"},
})

// named fills in what the tags of row say of the columns.
func named(columns []Column) []Column {
	var of row
	fields := map[*string]reflect.StructField{}
	for _, f := range reflect.VisibleFields(reflect.TypeOf(of)) {
		if at, isCell := reflect.ValueOf(&of).Elem().FieldByIndex(f.Index).Addr().Interface().(*string); isCell {
			fields[at] = f
		}
	}
	for i := range columns {
		c := &columns[i]
		c.Names, c.order = strings.Split(fields[c.cell(&of)].Tag.Get("csv"), ","), i
		c.quantity = c.Names[0]
		if len(c.Names) > 1 {
			c.quantity = c.quantity[:strings.LastIndexByte(c.quantity, '_')]
			for _, name := range c.Names {
				c.units = append(c.units, strings.TrimPrefix(name, c.quantity+"_"))
			}
		}
		c.folded = fold(c.quantity)
	}
	return columns
}

func of[T any](at func(*run.Run) *T, read func(*reader) (T, bool), write func(T) string) value {
	return value{
		read: func(r *reader, to *run.Run) {
			if v, ok := read(r); ok {
				*at(to) = v
			}
		},
		write: func(from *run.Run) string { return write(*at(from)) },
		copy:  func(to, from *run.Run) { *at(to) = *at(from) },
	}
}

func text(at func(*run.Run) *string) value { return of(at, (*reader).text, formatText) }
func yesNo(at func(*run.Run) *bool) value  { return of(at, (*reader).yesNo, formatYes) }
func teeth(at func(*run.Run) *int) value   { return of(at, (*reader).teeth, countIfAny) }

var (
	moment = value{
		read:  (*reader).moment,
		write: func(from *run.Run) string { return from.Date() },
		copy:  func(to, from *run.Run) { to.When, to.HasTime = from.When, from.HasTime },
	}
	note = value{
		read:  (*reader).note,
		write: func(from *run.Run) string { return formatText(from.Note) },
		copy:  func(to, from *run.Run) { to.Note = from.Note },
	}
)

func peak(p run.Part, cell func(*row) *string) Column {
	return Column{cell: cell, Need: "at least one", group: "peak", number: true, advice: writeReading, Meaning: peakIs,
		value: readings(p, func(r *run.Run) *run.Readings { return &r.Peak }, (*reader).peak)}
}

func start(p run.Part, cell func(*row) *string) Column {
	return Column{cell: cell, Need: atWill, number: true, advice: writeReading, Meaning: startIs,
		value: readings(p, func(r *run.Run) *run.Readings { return &r.Start }, (*reader).start)}
}

func readings(p run.Part, at func(*run.Run) *run.Readings, read func(*reader, *run.Run, run.Part)) value {
	return value{
		read: func(r *reader, to *run.Run) { read(r, to, p) },
		write: func(from *run.Run) string {
			if t, taken := at(from).Of(p); taken {
				return number(t)
			}
			return ""
		},
		copy: func(to, from *run.Run) {
			if t, taken := at(from).Of(p); taken {
				at(to).Set(p, t)
			} else {
				at(to).Delete(p)
			}
		},
	}
}

// Columns returns the table of columns, in the order of the README.
func Columns() []Column { return slices.Clone(columns) }

var columnNames = func() (names []string) {
	for _, c := range columns {
		names = append(names, c.Names...)
	}
	return names
}()

// WrittenColumns returns the columns that [Write] writes, in their order.
func WrittenColumns() []string { return written((*Column).Name) }

// Written returns r as [Write] writes it, a cell for each of [WrittenColumns].
func Written(r run.Run) []string {
	return written(func(c *Column) string { return c.Of(&r) })
}

func written(of func(*Column) string) (each []string) {
	for i := range columns {
		if c := &columns[i]; c.Written() {
			each = append(each, of(c))
		}
	}
	return each
}

// Write writes runs as a log: UTF-8 with commas, decimal points and line feeds,
// temperatures in °C and lengths in mm. [Read] gives the same runs back, to the
// last bit, but for their positions. A text that a spreadsheet would take for a
// formula gets an apostrophe in front, which Read takes off.
//
// It writes nothing and fails if there is a run that Read would refuse, or read at another
// moment, and says which. A run without a car may stand among runs with one, though: Read
// would take it for the only car of the log, or refuse it if there are several.
func Write(w io.Writer, runs []run.Run) error {
	back := &reader{layout: &layout{header: WrittenColumns()}, log: &Log{}}
	if err := back.understand(nil, &Options{}); err != nil {
		return err
	}
	records := make([]Record, len(runs))
	for i := range runs {
		var cells row
		for _, c := range columns {
			if c.Written() {
				*c.cell(&cells) = c.write(&runs[i])
			}
		}
		if p := back.refusal(&cells, &runs[i]); p != nil {
			p.File = fmt.Sprintf("run %d of %d, %s", i+1, len(runs), runs[i].Date())
			return *p
		}
		records[i] = cells.Record
	}
	return gocsv.MarshalCSV(records, csv.NewWriter(w))
}

// refusal returns why the row that was written of a run can't be read as that run, or nil.
func (r *reader) refusal(cells *row, of *run.Run) *run.Problem {
	var back run.Run
	if !r.read(0, cells, &back) {
		return &r.log.Problems[0]
	}
	for _, k := range r.known {
		if p, _ := unreadable([]string{*k.cell(cells)}); p != nil {
			p.Column = k.header
			return p
		}
	}
	if !back.When.Equal(of.When) || back.HasTime != of.HasTime {
		return &run.Problem{Column: "date", Value: cells.Date, What: "would be read as another moment",
			Do: "a day without a time is midnight in UTC, and a zone is a whole number of minutes off it"}
	}
	return nil
}

func formatText(text string) string { return EscapeFormula(trim(FoldLines(text))) }

func number[T ~float64](v T) string { return strconv.FormatFloat(float64(v), 'f', -1, 64) }

func formatYes(yes bool) string {
	if yes {
		return "yes"
	}
	return ""
}

func countIfAny(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}
