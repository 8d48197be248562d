package drivetrain

import (
	"math"
	"testing"

	"regear/analyze/units"
)

// kilometersPerMile is exact by the international inch: 63360 in · 25.4 mm.
const kilometersPerMile = 1.609344

// near reports whether got is want to a relative tolerance.
func near(got, want, tolerance float64) bool {
	return math.Abs(got-want) <= tolerance*math.Abs(want)
}

// reduction is a gearing known by its ratio alone.
func reduction(ratio float64) Gearing { return Gearing{Pinion: 1, Spur: 1, Internal: ratio} }

// TestPublishedRoadSpeeds holds ratio, rollout and speed against worked examples of
// full-size cars. Engine turns a minute, tire in inches, overall ratio.
func TestPublishedRoadSpeeds(t *testing.T) {
	for _, c := range []struct {
		name        string
		rpm, inches float64
		ratio       float64
		mph, exact  float64 // as printed, and by the exact formula
		printed     float64 // rounding of the printed figure
		source      string
	}{
		{"axle and top gear", 2200, 28, 3.73 * 0.70, 70, 70.18750, 0.5,
			"73-87.com, equations page, no. 1, read; it divides by 336 and drops decimals"},
		{"overall ratio", 1750, 29, 2.72, 55.51, 55.50768, 0.005,
			"wagoneers.com, gears page, read: rpm · tire · π · 60 / (ratio · 12 · 5280)"},
	} {
		rollout := reduction(c.ratio).Rollout(units.FromInches(c.inches))
		mph := Speed(rollout, c.rpm) / kilometersPerMile
		if math.Abs(mph-c.mph) > c.printed {
			t.Errorf("%s: %.4f mph, printed %g (%s)", c.name, mph, c.mph, c.source)
		}
		if math.Abs(mph-c.exact) > 0.000005 {
			t.Errorf("%s: %.6f mph, the exact formula gives %.5f", c.name, mph, c.exact)
		}
	}
}

// TestSpeedConstant holds the speed formula against the constant that workshop
// formulas use, mph = rpm · tire in inches / (ratio · 336): read on thedirtforum.com,
// race-track.com and 73-87.com; exactly 63360/(60 π) = 336.1352398, computed.
func TestSpeedConstant(t *testing.T) {
	mph := Speed(reduction(1).Rollout(units.FromInches(1)), 1) / kilometersPerMile
	if got := 1 / mph; !near(got, 336.1352398, 1e-9) || math.Round(got) != 336 {
		t.Errorf("constant %.10g, want 336.1352398", got)
	}
}

// TestPublishedRollout holds the rollout against a cyclist's worked example, where the
// chainring is the driving gear: 52/12 and 9.135 m a turn need a wheel of 2.108 m
// around; 60 km/h then take 109.47 turns a minute, and 105 turns a minute give 57.55
// km/h. Read on bikeforums.net, thread 62532; 2.10808, 109.4691 and 57.5505 recomputed.
func TestPublishedRollout(t *testing.T) {
	g := Gearing{Pinion: 52, Spur: 12, Internal: 1}
	const rollout units.Millimeters = 9135
	if got := g.Rollout(DiameterOf(2108)); math.Abs(float64(got)-9135) > 0.5 {
		t.Errorf("rollout %.2f mm, want 9135", got)
	}
	if got := g.PinionFor(rollout, DiameterOf(2108.08)); math.Abs(got-52) > 1e-4 {
		t.Errorf("%.6f teeth, want 52", got)
	}
	if got := 60 / Speed(rollout, 1); math.Abs(got-109.47) > 0.005 {
		t.Errorf("60 km/h at %.4f turns a minute, want 109.47", got)
	}
	if got := Speed(rollout, 105); math.Abs(got-57.55) > 0.005 {
		t.Errorf("%.4f km/h, want 57.55", got)
	}
}

// gearings are invented, small and large, with and without an internal ratio.
func gearings() []Gearing {
	var all []Gearing
	for pinion := 8; pinion <= 40; pinion += 4 {
		for spur := 40; spur <= 100; spur += 15 {
			for _, internal := range []float64{1, 2.5, 2.8466} {
				all = append(all, Gearing{pinion, spur, internal})
			}
		}
	}
	return all
}

// TestInverses asks that every way back leads back.
func TestInverses(t *testing.T) {
	for _, g := range gearings() {
		for _, tire := range []units.Millimeters{64, 118, 165} {
			if got := g.WithPinion(99).PinionFor(g.Rollout(tire), tire); !near(got, float64(g.Pinion), 1e-14) {
				t.Errorf("%v on %g mm: pinion %.15g", g, tire, got)
			}
			if got := InternalRatio(g.FinalDriveRatio(), g.Pinion, g.Spur); !near(got, g.Internal, 1e-14) {
				t.Errorf("%v: internal ratio %.15g", g, got)
			}
			if got := DiameterOf(reduction(1).Rollout(tire)); !near(float64(got), float64(tire), 1e-14) {
				t.Errorf("a tire of %g mm comes back as %.15g", tire, got)
			}
		}
	}
}

// TestDirections asks what a driver knows by heart: a larger pinion, a smaller spur or
// a larger tire gear taller. That is the formula's own sense; common practice too.
func TestDirections(t *testing.T) {
	for _, g := range gearings() {
		rollout := g.Rollout(118)
		for name, taller := range map[string]units.Millimeters{
			"larger pinion":          g.WithPinion(g.Pinion + 1).Rollout(118),
			"smaller spur":           Gearing{g.Pinion, g.Spur - 1, g.Internal}.Rollout(118),
			"smaller internal ratio": Gearing{g.Pinion, g.Spur, g.Internal * 0.9}.Rollout(118),
			"larger tire":            g.Rollout(119),
		} {
			if !(taller > rollout) || !(SpeedChange(rollout, taller) > 0) || !(SpeedChange(taller, rollout) < 0) {
				t.Errorf("%v: %s gives %g mm after %g", g, name, taller, rollout)
			}
		}
		// Rollout is proportional to the pinion's teeth and to the tire.
		if !near(float64(g.WithPinion(2*g.Pinion).Rollout(118)), 2*float64(rollout), 1e-14) ||
			!near(float64(g.Rollout(236)), 2*float64(rollout), 1e-14) {
			t.Errorf("%v: doubling does not double", g)
		}
	}
}

func TestSpeedChange(t *testing.T) {
	for _, c := range []struct {
		from, to units.Millimeters
		want     float64
	}{{40, 36, -0.1}, {40, 40, 0}, {40, 50, 0.25}} {
		if got := SpeedChange(c.from, c.to); math.Abs(got-c.want) > 1e-15 {
			t.Errorf("from %g to %g mm: %g, want %g", c.from, c.to, got, c.want)
		}
	}
}

func TestCheck(t *testing.T) {
	for _, g := range gearings() {
		if err := g.Check(); err != nil {
			t.Errorf("%v: %v", g, err)
		}
	}
	for _, g := range []Gearing{
		{}, {0, 68, 1}, {-15, 68, 1}, {15, 0, 1}, {15, -68, 1}, {15, 68, 0}, {15, 68, -1},
		{15, 68, math.NaN()}, {15, 68, math.Inf(1)}, {15, 68, math.Inf(-1)},
	} {
		if g.Check() == nil {
			t.Errorf("%+v passes", g)
		}
	}
}

func TestString(t *testing.T) {
	for want, g := range map[string]Gearing{
		"15/68":       {15, 68, 1},
		"15/68 × 2.5": {15, 68, 2.5},
	} {
		if got := g.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

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
