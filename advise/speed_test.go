package advise

import (
	"math"
	"testing"

	"regear/analyze/drivetrain"
	"regear/analyze/units"
)

// TestPublishedSpeed holds the top speed against a worked example of a full-size car,
// whose 1750 turns a minute are 1 volt's of a motor of kV 1750: 29 in tire, overall
// ratio 2.72, 55.51 mph (wagoneers.com, gears page, read; 55.50768 exactly).
func TestPublishedSpeed(t *testing.T) {
	rollout := drivetrain.Gearing{Pinion: 1, Spur: 1, Internal: 2.72}.Rollout(units.FromInches(29))
	if mph := TopSpeed(rollout, 1750, 1, 1) / 1.609344; math.Abs(mph-55.51) > 0.005 {
		t.Errorf("%.4f mph, want 55.51", mph)
	}
	// Twice the cells turn twice as fast.
	if one, two := TopSpeed(rollout, 1750, 2, 4.2), TopSpeed(rollout, 1750, 4, 4.2); math.Abs(two-2*one) > 1e-9 {
		t.Errorf("2 cells %g km/h, 4 cells %g", one, two)
	}
}
