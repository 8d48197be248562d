package drivetrain

import (
	"math"

	"regear/analyze/units"
)

// rimSizes are what the trade calls its wheels by, in inches: the diameter of the rim,
// below the rubber. Common practice, no source.
var rimSizes = []float64{1.9, 2.2, 2.6, 2.8, 3.2, 3.8}

// IsRimSize reports whether a tire's diameter that somebody gave in inches is, to 0.01 in,
// the size of a rim: the tire around it is larger. A diameter that was measured in mm is
// none, as small cars have tires of 66 or 81 mm.
func IsRimSize(inches units.Millimeters) bool {
	const near = 0.01 + 1e-9
	for _, size := range rimSizes {
		if math.Abs(inches.Inches()-size) <= near {
			return true
		}
	}
	return false
}

// What is said of a tire's diameter that [IsRimSize], and what to do about it.
const (
	RimSize           = "is a rim size"
	MeasureAcrossTire = "measure across the rubber"
)
