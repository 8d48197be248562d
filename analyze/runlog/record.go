package runlog

import "sync"

// record is one run in cells: the columns that [Write] writes, in its order.
type record struct {
	Date          string `csv:"date"`
	Car           string `csv:"car"`
	PinionTeeth   string `csv:"pinion_teeth"`
	SpurTeeth     string `csv:"spur_teeth"`
	InternalRatio string `csv:"internal_ratio"`
	TireDiameter  string `csv:"tire_diameter_mm"`
	Ambient       string `csv:"ambient_c"`
	RunMinutes    string `csv:"run_minutes"`
	MotorPeak     string `csv:"motor_peak_c"`
	ESCPeak       string `csv:"esc_peak_c"`
	BatteryPeak   string `csv:"battery_peak_c"`
	MotorStart    string `csv:"motor_start_c"`
	ESCStart      string `csv:"esc_start_c"`
	BatteryStart  string `csv:"battery_start_c"`
	StoppedByHeat string `csv:"stopped_by_heat"`
	Cells         string `csv:"cells"`
	Motor         string `csv:"motor"`
	Surface       string `csv:"surface"`
	Cooling       string `csv:"cooling"`
	Skip          string `csv:"skip"`
	Note          string `csv:"note"`
}

// writtenColumns is how many columns a record has.
const writtenColumns = 21

// cells is one row of a log: a record, the columns that say the same in another
// way, and either unit.
type cells struct {
	record
	FinalDriveRatio   string `csv:"final_drive_ratio"`
	TireCircumference string `csv:"tire_circumference_mm"`
}

// decodedRow is what gocsv decodes a row into. It makes two for each row and
// copies one over the other, so they hold no more than a pointer.
type decodedRow struct{ Cells *cells }

// spareCells are cleared and ready for the next row. A row's cells are the largest
// thing that reading would throw away.
var spareCells = sync.Pool{New: func() any { return new(cells) }}

// release gives back the cells of a row that has been converted.
func (d *decodedRow) release() {
	*d.Cells = cells{}
	spareCells.Put(d.Cells)
	d.Cells = nil
}

// UnmarshalCSVWithFields takes one cell from gocsv. It stands in for gocsv's own
// way to set a field, which costs two allocations a cell, and it never fails:
// what a cell means is asked later, when its line is at hand.
func (d *decodedRow) UnmarshalCSVWithFields(column, cell string) error {
	if d.Cells == nil {
		d.Cells = spareCells.Get().(*cells)
	}
	r := d.Cells
	switch column {
	case "date":
		r.Date = cell
	case "car":
		r.Car = cell
	case "pinion_teeth":
		r.PinionTeeth = cell
	case "spur_teeth":
		r.SpurTeeth = cell
	case "internal_ratio":
		r.InternalRatio = cell
	case "final_drive_ratio":
		r.FinalDriveRatio = cell
	case "tire_diameter_mm", "tire_diameter_in":
		r.TireDiameter = cell
	case "tire_circumference_mm", "tire_circumference_in":
		r.TireCircumference = cell
	case "ambient_c", "ambient_f":
		r.Ambient = cell
	case "run_minutes":
		r.RunMinutes = cell
	case "motor_peak_c", "motor_peak_f":
		r.MotorPeak = cell
	case "esc_peak_c", "esc_peak_f":
		r.ESCPeak = cell
	case "battery_peak_c", "battery_peak_f":
		r.BatteryPeak = cell
	case "motor_start_c", "motor_start_f":
		r.MotorStart = cell
	case "esc_start_c", "esc_start_f":
		r.ESCStart = cell
	case "battery_start_c", "battery_start_f":
		r.BatteryStart = cell
	case "stopped_by_heat":
		r.StoppedByHeat = cell
	case "cells":
		r.Cells = cell
	case "motor":
		r.Motor = cell
	case "surface":
		r.Surface = cell
	case "cooling":
		r.Cooling = cell
	case "skip":
		r.Skip = cell
	case "note":
		r.Note = cell
	}
	return nil
}
