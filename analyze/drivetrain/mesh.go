package drivetrain

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"regear/analyze/units"
)

// Pitch is the size of a gear's teeth. Two gears mesh only if theirs is the same.
// The zero Pitch is an unknown one.
type Pitch struct {
	module units.Millimeters // pitch diameter a tooth
	inch   bool              // named by its diametral pitch
}

// Module returns the pitch of gears whose pitch diameter is m millimetres a tooth.
func Module(m units.Millimeters) Pitch { return Pitch{module: m} }

// DiametralPitch returns the pitch of gears with that many teeth to an inch of pitch
// diameter:
//
//	module = 25.4 / teeth
func DiametralPitch(teeth float64) Pitch {
	return Pitch{module: units.Millimeters(units.MillimetersPerInch / teeth), inch: true}
}

// Module returns the pitch diameter a tooth.
func (p Pitch) Module() units.Millimeters { return p.module }

// DiametralPitch returns the teeth to an inch of pitch diameter: 25.4 / module.
func (p Pitch) DiametralPitch() float64 { return units.MillimetersPerInch / float64(p.module) }

// IsKnown reports whether p is a pitch at all.
func (p Pitch) IsKnown() bool { return p.module > 0 }

// Meshes reports whether gears of the two pitches mesh. A pitch named both ways is
// one; neighbours, such as module 0.8 and 32 teeth an inch, are two.
func (p Pitch) Meshes(other Pitch) bool {
	const rounding = 1e-6
	return math.Abs(float64(p.module-other.module)) <= rounding*float64(p.module)
}

// String writes p as ParsePitch reads it: "module 0.8" or "48 dp".
func (p Pitch) String() string {
	if p.inch {
		return strconv.FormatFloat(p.DiametralPitch(), 'g', 6, 64) + " dp"
	}
	return "module " + strconv.FormatFloat(float64(p.module), 'g', 6, 64)
}

// ParsePitch reads a pitch that says which kind it is, in any letter case: "module 0.8",
// "m0.8", "0.8 module", "48 dp", "48dp" or "48 pitch".
//
// It fails on a number alone, as 1 could be either, and on a module outside 0.1 to
// 10 mm, which no model car has.
func ParsePitch(text string) (Pitch, error) {
	const (
		smallest, largest = 0.1, 10
		how               = `write it as "module 0.8" or "48 dp"`
	)
	lower := strings.ToLower(strings.TrimSpace(text))
	kind := strings.TrimSpace(strings.Trim(lower, "0123456789., "))
	value, err := units.ParseNumber(strings.TrimSpace(strings.Replace(lower, kind, "", 1)))
	if err != nil || value <= 0 {
		return Pitch{}, errors.New("not a gear pitch: " + how)
	}
	var p Pitch
	switch kind {
	case "module", "mod", "m":
		p = Module(units.Millimeters(value))
	case "dp", "pitch", "p":
		p = DiametralPitch(value)
	case "":
		return Pitch{}, fmt.Errorf("module or diametral pitch? %s", how)
	default:
		return Pitch{}, errors.New("not a gear pitch: " + how)
	}
	if p.module < smallest || p.module > largest {
		return Pitch{}, fmt.Errorf("teeth of module %.3g mm are in no model car: %s", float64(p.module), how)
	}
	return p, nil
}

// CentreDistance returns how far the motor's shaft stands from the spur's, for
// standard gears without profile shift and without backlash:
//
//	a = module * (pinion + spur) / 2
func (p Pitch) CentreDistance(pinion, spur int) units.Millimeters {
	return p.module * units.Millimeters(pinion+spur) / 2
}

// Box holds the gears of one pitch that are at hand. An unknown pitch is taken for
// every gear's.
type Box struct {
	Pitch          Pitch
	Pinions, Spurs []int
}

// Mount says which pairs of gears the motor's slot lets mesh: those whose teeth in all,
// at the mount's pitch, lie from Least to Most.
type Mount struct {
	Pitch       Pitch // unknown where every gear has the same
	Least, Most float64
}

// MountAround returns the reach of a slot in which the motor, with a pair of gears
// fitted that has known teeth in all, can still move closer to the spur and farther
// from it. Each module of travel is worth two teeth:
//
//	least = known - 2 closer / module,  most = known + 2 farther / module
func MountAround(p Pitch, known int, closer, farther units.Millimeters) Mount {
	return Mount{
		Pitch: p,
		Least: float64(known) - 2*float64(closer/p.module),
		Most:  float64(known) + 2*float64(farther/p.module),
	}
}

// Reach says on which side of a mount's slot a pair of gears lies.
type Reach int8

// The zero Reach is the one that meshes.
const (
	Inside   Reach = 0
	TooClose Reach = -1 // too few teeth: the motor can't come near enough
	TooFar   Reach = 1  // too many teeth: the motor can't move far enough out
)

// Reach says whether a pair of gears of pitch p can mesh in the mount.
func (m Mount) Reach(p Pitch, pinion, spur int) Reach {
	const rounding = 1e-9
	teeth := float64(pinion + spur)
	if p.IsKnown() && m.Pitch.IsKnown() {
		teeth *= float64(p.module / m.Pitch.module)
	}
	switch {
	case teeth < m.Least-rounding:
		return TooClose
	case teeth > m.Most+rounding:
		return TooFar
	}
	return Inside
}
