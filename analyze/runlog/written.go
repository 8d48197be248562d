package runlog

import "regear/analyze/run"

// WrittenColumns returns the columns that [Write] writes, in their order.
func WrittenColumns() []string {
	return []string{
		"date", "car", "pinion_teeth", "spur_teeth", "internal_ratio", "tire_diameter_mm", "ambient_c", "run_minutes",
		"motor_peak_c", "esc_peak_c", "battery_peak_c", "motor_start_c", "esc_start_c", "battery_start_c",
		"stopped_by_heat", "cells", "motor", "surface", "cooling", "skip", "note",
	}
}

// Written returns r as [Write] writes it, a cell for each of [WrittenColumns].
func Written(r run.Run) []string {
	w := recordOf(r)
	return []string{
		w.Date, w.Car, w.PinionTeeth, w.SpurTeeth, w.InternalRatio, w.TireDiameter, w.Ambient, w.RunMinutes,
		w.MotorPeak, w.ESCPeak, w.BatteryPeak, w.MotorStart, w.ESCStart, w.BatteryStart,
		w.StoppedByHeat, w.Cells, w.Motor, w.Surface, w.Cooling, w.Skip, w.Note,
	}
}

// SameHeader reports whether two headers are one to [Read]: case, spaces, hyphens
// and underscores do not count.
func SameHeader(a, b string) bool { return fold(a) == fold(b) }
