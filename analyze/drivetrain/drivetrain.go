// Package drivetrain is the geometry between motor and ground: gears and a tire in,
// final drive ratio and rollout out, and the way back.
//
// Every formula is checked in the tests against worked examples published by others.
package drivetrain

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"regear/analyze/units"
)

// Gearing is what stands between motor and wheel.
type Gearing struct {
	Pinion   int     // teeth on the motor gear
	Spur     int     // teeth on the gear that the pinion drives
	Internal float64 // reduction after the spur; 1 if there is none
}

// Check reports why g can't be a gearing, or nil.
func (g Gearing) Check() error {
	switch {
	case g.Pinion < 1:
		return errors.New("a pinion needs at least one tooth")
	case g.Spur < 1:
		return errors.New("a spur needs at least one tooth")
	case !(g.Internal > 0) || math.IsInf(g.Internal, 0):
		return errors.New("an internal ratio must be above 0")
	}
	return nil
}

// String writes g as drivers do: pinion/spur, and the internal ratio if any.
func (g Gearing) String() string {
	if g.Internal == 1 {
		return fmt.Sprintf("%d/%d", g.Pinion, g.Spur)
	}
	return fmt.Sprintf("%d/%d × %g", g.Pinion, g.Spur, g.Internal)
}

// FinalDriveRatio returns motor turns per wheel turn:
//
//	ratio = spur / pinion * internal
//
// It is meaningful only where g.Check() is nil.
func (g Gearing) FinalDriveRatio() float64 { return float64(g.Spur) / float64(g.Pinion) * g.Internal }

// Rollout returns how far the car travels in one motor turn, in millimetres:
//
//	rollout = π * tire / ratio
//
// where tire is the outer diameter in mm and ratio is g.FinalDriveRatio().
// A larger pinion or tire makes it longer ("taller gearing"). It is meaningful only
// where g.Check() is nil.
func (g Gearing) Rollout(tire units.Millimeters) units.Millimeters {
	return units.Millimeters(math.Pi * float64(tire) / g.FinalDriveRatio())
}

// WithPinion returns g with another pinion.
func (g Gearing) WithPinion(teeth int) Gearing {
	g.Pinion = teeth
	return g
}

// PinionFor returns the pinion, in fractional teeth, that gives a rollout with
// g's spur and internal ratio on a tire:
//
//	teeth = rollout * spur * internal / (π * tire)
//
// It is the inverse of Rollout; g's own pinion plays no part.
func (g Gearing) PinionFor(rollout, tire units.Millimeters) float64 {
	return float64(rollout) * float64(g.Spur) * g.Internal / (math.Pi * float64(tire))
}

// InternalRatio returns the reduction behind the spur that a final drive ratio
// implies: ratio * pinion / spur.
func InternalRatio(finalDriveRatio float64, pinion, spur int) float64 {
	return finalDriveRatio * float64(pinion) / float64(spur)
}

// SpeedChange returns by what share the road speed changes at the same motor speed:
// to/from - 1, so that -0.1 is ten percent slower. It says nothing of how fast the motor
// will turn.
func SpeedChange(from, to units.Millimeters) float64 { return float64(to/from) - 1 }

// Speed returns the road speed in km/h at a motor speed in turns a minute:
//
//	speed = rollout * rpm * 60 / 1e6
func Speed(rollout units.Millimeters, rpm float64) float64 { return float64(rollout) * rpm * 60 / 1e6 }

// rimSizes are what the trade calls its wheels by, in inches: the diameter of the rim,
// below the rubber. Common practice, no source.
var rimSizes = []float64{1.9, 2.2, 2.6, 2.8, 3.2, 3.8}

// IsRimSize reports whether a tire's diameter that somebody gave in inches is, to 0.01 in,
// the size of a rim: the tire around it is larger. It is not for a diameter that was measured
// in mm, as small cars have tires of 66 or 81 mm.
func IsRimSize(inches units.Millimeters) bool {
	const near = 0.01 + 1e-9
	return slices.ContainsFunc(rimSizes, func(size float64) bool { return math.Abs(inches.Inches()-size) <= near })
}

// What is said of a tire's diameter that [IsRimSize], and what to do about it.
const (
	RimSize           = "is a rim size"
	MeasureAcrossTire = "measure across the rubber"
)

// DiameterOf returns the diameter of a tire whose circumference was measured:
// circumference / π.
func DiameterOf(circumference units.Millimeters) units.Millimeters {
	return units.Millimeters(float64(circumference) / math.Pi)
}
