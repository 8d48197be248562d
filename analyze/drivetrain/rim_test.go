package drivetrain

import (
	"testing"

	"regear/analyze/units"
)

// The sizes that the trade calls its rims by (common practice, no source) are rims, and the
// diameters of tires that stand around them are not.
func TestIsRimSize(t *testing.T) {
	for inches, want := range map[float64]bool{
		1.9: true, 2.2: true, 2.6: true, 2.8: true, 3.2: true, 3.8: true,
		2.21: true, 2.19: true, 2.211: false, 2.189: false,
		4.1: false, 4.65: false, 5.5: false, 2.4: false, 3.5: false, 0: false,
	} {
		if got := IsRimSize(units.FromInches(inches)); got != want {
			t.Errorf("%g in: %v, want %v", inches, got, want)
		}
	}
}
