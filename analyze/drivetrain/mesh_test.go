package drivetrain

import (
	"math"
	"testing"

	"regear/analyze/units"
)

// TestPublishedPitches holds module, circular pitch and diametral pitch against the
// conversion table of a gear maker's reference: KHK, "Gear Module", Table 1
// (khkgears.net/new/gear-module.html), read. Figures are printed to five decimals.
func TestPublishedPitches(t *testing.T) {
	for _, c := range []struct{ module, circular, diametral float64 }{
		{0.39688, 1.24682, 64},
		{0.5, 1.57080, 50.8},
		{0.52917, 1.66243, 48},
		{0.6, 1.88496, 42.33333},
		{0.79375, 2.49364, 32},
		{0.8, 2.51327, 31.75},
		{1, 3.14159, 25.4},
	} {
		p := DiametralPitch(c.diametral)
		if got := float64(p.Module()); math.Abs(got-c.module) > 0.000006 {
			t.Errorf("%g teeth an inch: module %.6f, printed %.5f", c.diametral, got, c.module)
		}
		// The circular pitch is the pitch circle's length a tooth: π d / z, with d/z the module.
		if got := math.Pi * float64(p.Module()); math.Abs(got-c.circular) > 0.00001 {
			t.Errorf("%g teeth an inch: circular pitch %.6f, printed %.5f", c.diametral, got, c.circular)
		}
		if got := Module(p.Module()).DiametralPitch(); !near(got, c.diametral, 1e-12) {
			t.Errorf("%g teeth an inch come back as %.12g", c.diametral, got)
		}
	}
}

// TestPublishedCentreDistances holds centre distances against worked examples.
func TestPublishedCentreDistances(t *testing.T) {
	for _, c := range []struct {
		module        units.Millimeters
		pinion, spur  int
		centre        units.Millimeters
		name, comment string
	}{
		// d 40 mm with 20 teeth is module 2: liquisearch.com, "The Module System", read. Two such
		// gears are one pitch diameter apart.
		{2, 20, 20, 40, "pitch diameter 40 mm", "liquisearch.com"},
		{2, 10, 20, 30, "pitch radii 10 and 20 mm",
			"Carnegie Mellon, course 16-223, gear demo README, read"},
		{3, 12, 24, 54, "d 36 and 72 mm",
			"computed from d = module × teeth"},
		// A textbook problem: 120 mm and 3 to 1 with whole teeth; problem read at
		// tutorsglobe.com, tooth counts computed from z1 + z2 = 240 / module.
		{2, 30, 90, 120, "3 to 1", "tutorsglobe.com"},
		{2.5, 24, 72, 120, "3 to 1", "tutorsglobe.com"},
		{3, 20, 60, 120, "3 to 1", "tutorsglobe.com"},
		{4, 15, 45, 120, "3 to 1", "tutorsglobe.com"},
		{5, 12, 36, 120, "3 to 1", "tutorsglobe.com"},
	} {
		if got := Module(c.module).CentreDistance(c.pinion, c.spur); got != c.centre {
			t.Errorf("module %g, %d and %d teeth (%s): %g mm, want %g (%s)",
				c.module, c.pinion, c.spur, c.name, got, c.centre, c.comment)
		}
	}
	// The inch form a = (N1 + N2) / (2 DP) inch: A. F. Collins, "Inventing for Boys",
	// p. 121, read; 17 and 68 teeth of 48 to an inch are 85/96 of an inch apart.
	if got := DiametralPitch(48).CentreDistance(17, 68).Inches(); !near(got, 85.0/96, 1e-15) {
		t.Errorf("48 teeth an inch, 17 and 68: %.9f in, want 85/96", got)
	}
}

// Two teeth in all are worth one module of travel, whichever gear has them.
func TestSlotTravel(t *testing.T) {
	from := Gearing{17, 68, 1}
	travel := func(p Pitch, to Gearing) units.Millimeters {
		return p.CentreDistance(to.Pinion, to.Spur) - p.CentreDistance(from.Pinion, from.Spur)
	}
	for _, p := range []Pitch{Module(0.8), DiametralPitch(48), Module(1)} {
		for _, to := range []Gearing{{19, 68, 1}, {17, 70, 1}, {18, 69, 1}} {
			if got := travel(p, to); !near(float64(got), float64(p.Module()), 1e-12) {
				t.Errorf("%v: from %v to %v the motor moves %g mm, want %g", p, from, to, got, p.Module())
			}
		}
		if got := travel(p, Gearing{15, 70, 1}); got != 0 {
			t.Errorf("%v: as many teeth in all, and the motor moves %g mm", p, got)
		}
	}
}

func TestParsePitch(t *testing.T) {
	for text, want := range map[string]Pitch{
		"module 0.8": Module(0.8), "m0.8": Module(0.8), "0.8 module": Module(0.8), "Mod 0,8": Module(0.8), "0.8m": Module(0.8),
		"48 dp": DiametralPitch(48), "48DP": DiametralPitch(48), "48 pitch": DiametralPitch(48), "48p": DiametralPitch(48), "dp 32": DiametralPitch(32),
	} {
		got, err := ParsePitch(text)
		if err != nil || got != want {
			t.Errorf("%q gives %v (%v), want %v", text, got, err, want)
		}
		if again, err := ParsePitch(got.String()); err != nil || !again.Meshes(got) {
			t.Errorf("%q is written as %q, which gives %v (%v)", text, got.String(), again, err)
		}
	}
	for _, text := range []string{"", "0.8", "48", "module", "dp", "module 0", "module -1", "module 48", "0.5 dp", "48 teeth", "m.o.d", "module 0.8 0.9", "dp48dp", "NaN dp"} {
		if got, err := ParsePitch(text); err == nil {
			t.Errorf("%q gives %v, want an error", text, got)
		}
	}
}

func TestMeshes(t *testing.T) {
	for _, c := range []struct {
		a, b Pitch
		want bool
	}{
		{DiametralPitch(25.4), Module(1), true},
		{DiametralPitch(48), DiametralPitch(48), true},
		{DiametralPitch(32), Module(0.8), false},
		{DiametralPitch(48), Module(0.5), false},
	} {
		if c.a.Meshes(c.b) != c.want || c.b.Meshes(c.a) != c.want {
			t.Errorf("%v with %v: want %v", c.a, c.b, c.want)
		}
	}
}

// A slot's reach by hand: at module 0.8, teeth in all of N lie 0.4·N mm apart, so 2 mm closer
// is 5 teeth fewer and 1 mm farther 2.5 teeth more.
func TestMountReachByHand(t *testing.T) {
	m := MountAround(Module(0.8), 85, 2, 1)
	for teeth, want := range map[int]Reach{79: TooClose, 80: Inside, 85: Inside, 87: Inside, 88: TooFar} {
		if got := m.Reach(Module(0.8), 16, teeth-16); got != want {
			t.Errorf("%d teeth in all: %v, want %v", teeth, got, want)
		}
	}
	// Teeth of module 1 are larger: 64 to 70 of them take the same room.
	for teeth, want := range map[int]Reach{63: TooClose, 64: Inside, 70: Inside, 71: TooFar} {
		if got := m.Reach(Module(1), 16, teeth-16); got != want {
			t.Errorf("%d teeth of module 1 in all: %v, want %v", teeth, got, want)
		}
	}
}
