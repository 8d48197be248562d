package advise

import (
	"regear/analyze/drivetrain"
	"regear/analyze/units"
)

// FullCellVolts is the voltage of a fully charged LiPo cell, by the usual cell
// specification (4.20 ± 0.05 V). Nominal is 3.7 V; a bound has to hold for a full one.
const FullCellVolts = 4.2

// TopSpeed returns the road speed in km/h at which a motor would turn without any load:
//
//	speed = rollout * kV * cells * volts a cell * 60 / 1e6
//
// No car reaches it: every load on the motor takes turns away. It is the bound
// above, for weighing what a gearing gains.
func TopSpeed(rollout units.Millimeters, kv float64, cells int, cellVolts float64) float64 {
	return drivetrain.Speed(rollout, kv*float64(cells)*cellVolts)
}
