package advise

import (
	"fmt"
	"math"
	"testing"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

func firstGearing(t *testing.T, req StartRequest) *Start {
	t.Helper()
	if len(req.Gears.Boxes) == 0 {
		req.Gears.Boxes = []drivetrain.Box{{Spurs: []int{req.Fitted.Spur}}}
	}
	req.Limits = DefaultLimits()
	s, err := FirstGearing(req)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// A tire that grows from 104 to 118 mm on 17/68 wants 17 · 104 / 118 = 14.98 teeth: the
// rollout π · tire · pinion / spur is to stay.
func TestLargerTireWantsSmallerPinion(t *testing.T) {
	s := firstGearing(t, StartRequest{Fitted: drivetrain.Gearing{Pinion: 17, Spur: 68, Internal: 1}, Before: Setup{Tire: 104}, After: Setup{Tire: 118}})
	if s.Keeps != KeptRollout || math.Abs(s.Exact-17.0*104/118) > 1e-12 || s.Keep.Gearing.Pinion != 15 || s.Careful.Gearing.Pinion != 14 {
		t.Errorf("exact %g, keep %v, careful %v", s.Exact, s.Keep.Gearing, s.Careful.Gearing)
	}
}

// The laws of a change, over many: the kept quantity is kept as well as whole teeth
// allow, the careful gearing is shorter, and the internal ratio does not matter.
func TestFirstGearingKeeps(t *testing.T) {
	for _, tire := range [][2]float64{{104, 118}, {118, 104}, {90, 130}} {
		for _, cells := range [][2]int{{0, 0}, {4, 4}, {3, 4}, {4, 2}} {
			for _, kv := range [][2]float64{{0, 0}, {2200, 2200}, {2200, 3100}} {
				for _, internal := range []float64{1, 2.5} {
					before := Setup{Tire: units.Millimeters(tire[0]), Cells: cells[0], KV: kv[0]}
					after := Setup{Tire: units.Millimeters(tire[1]), Cells: cells[1], KV: kv[1]}
					s := firstGearing(t, StartRequest{Fitted: drivetrain.Gearing{Pinion: 26, Spur: 68, Internal: internal}, Before: before, After: after})
					if (s.Keeps == KeptSpeed) != (cells[0] != cells[1] || kv[0] != kv[1]) {
						t.Errorf("%+v to %+v keeps %d", before, after, s.Keeps)
					}
					if half := 0.5 / float64(s.Keep.Gearing.Pinion); math.Abs(s.Keep.Off) > half*1.05 || math.Abs(s.Keep.SpeedChange) > half*1.05 {
						t.Errorf("%+v to %+v: %v is off by %g, its speed by %g", before, after, s.Keep.Gearing, s.Keep.Off, s.Keep.SpeedChange)
					}
					if s.Keep.Rollout != s.Keep.Gearing.Rollout(after.Tire) || !(s.Careful.Rollout < s.Keep.Rollout) {
						t.Errorf("%+v to %+v: careful %v, keep %v", before, after, s.Careful, s.Keep)
					}
					if s.Keep.HasRiseChange != (kv[0] == kv[1]) {
						t.Errorf("%+v to %+v: the rise is said to be known: %v", before, after, s.Keep.HasRiseChange)
					}
				}
			}
		}
	}
}

// What is not at hand, or does not fit, is never what to fit.
func TestFirstGearingIsUsable(t *testing.T) {
	pitch := drivetrain.Module(0.8)
	req := StartRequest{
		Fitted: drivetrain.Gearing{Pinion: 17, Spur: 68, Internal: 1}, Before: Setup{Tire: 104}, After: Setup{Tire: 118},
		Gears: Gears{
			Boxes: []drivetrain.Box{{Pitch: pitch, Pinions: []int{13, 14, 16}, Spurs: []int{68}}},
			Mount: &drivetrain.Mount{Pitch: pitch, Least: 82, Most: 90},
		},
	}
	s := firstGearing(t, req)
	if s.Nearest.Gearing.Pinion != 15 || s.Nearest.Owned {
		t.Errorf("nearest %+v", s.Nearest)
	}
	// 13/68 is one tooth too few for the mount, so nothing is left below 14/68.
	if s.Keep.Gearing.Pinion != 14 && s.Keep.Gearing.Pinion != 16 {
		t.Errorf("keep %+v", s.Keep)
	}
	for _, o := range []*StartOption{s.Keep, s.Careful} {
		if o != nil && !o.usable() {
			t.Errorf("%v can't be fitted", o.Gearing)
		}
	}
	// Module 0.8, three teeth fewer: the motor moves 3 · 0.8 / 2 = 1.2 mm closer.
	for _, o := range s.Options {
		if o.Gearing.Pinion == 14 && (!o.HasTravel || math.Abs(float64(o.Travel)+1.2) > 1e-9) {
			t.Errorf("the motor moves %g mm, want -1.2", o.Travel)
		}
	}
}

// From 20/68 to a tire four times as large 5 teeth would keep the load, which are hardly sold:
// 9 is the smallest that is proposed, unless a smaller one is fitted or at hand.
func TestSmallPinionsAreProposedToWhoHasThem(t *testing.T) {
	req := StartRequest{Fitted: drivetrain.Gearing{Pinion: 20, Spur: 68, Internal: 1}, Before: Setup{Tire: 50}, After: Setup{Tire: 200}}
	s := firstGearing(t, req)
	for _, o := range s.Options {
		if o.Gearing.Pinion < SmallestPinion {
			t.Errorf("%v is proposed", o.Gearing)
		}
	}
	if s.Keep.Gearing.Pinion != SmallestPinion || s.Keep.Holds() || s.Careful != nil {
		t.Errorf("keep %+v, careful %+v", s.Keep, s.Careful)
	}
	req.Gears.Boxes = []drivetrain.Box{{Pinions: []int{5, 12}, Spurs: []int{68}}}
	if s := firstGearing(t, req); s.Keep.Gearing.Pinion != 5 {
		t.Errorf("with 5 teeth at hand: %+v", s.Keep)
	}
	req.Gears.Boxes = nil
	req.Fitted.Pinion, req.After.Tire = 8, 51
	if s := firstGearing(t, req); s.Keep.Gearing.Pinion != 8 {
		t.Errorf("with 8 teeth fitted: %+v", s.Keep)
	}
}

// A part on a shorter time constant has more of its way behind it early; shares rise
// with the minutes and stay below the whole. For τ 6 min, 2 of 12 minutes are
// (1 - exp(-1/3)) / (1 - exp(-2)) = 0.3278, computed.
func TestEarlyReadings(t *testing.T) {
	s := firstGearing(t, StartRequest{Fitted: drivetrain.Gearing{Pinion: 17, Spur: 68, Internal: 1}, Before: Setup{Tire: 104}, After: Setup{Tire: 118}})
	if len(s.Readings) != 2 || math.Abs(s.Readings[0].Share.At(0)-0.3278) > 0.0001 {
		t.Fatalf("readings %+v", s.Readings)
	}
	// In air of 20 °C and under 71 °C that is 20 + 0.3278 · 51 = 36.72 °C.
	s.Run.Ambient = 20
	if stop := s.StopAbove(s.Readings[0], run.Motor); math.Abs(float64(stop)-36.72) > 0.01 {
		t.Errorf("stop above %g °C", stop)
	}
	for part, early := range s.Readings[0].Share.All() {
		if late := s.Readings[1].Share.At(part); !(0 < early && early < late && late < 1) {
			t.Errorf("%v: %g, then %g", part, early, late)
		}
	}
}

func TestFirstGearingRefuses(t *testing.T) {
	if _, err := FirstGearing(StartRequest{Fitted: drivetrain.Gearing{Pinion: 0, Spur: 68, Internal: 1}}); err == nil {
		t.Error("no pinion passes")
	}
}

var fitted = drivetrain.Gearing{Pinion: 17, Spur: 68, Internal: 2.5}

// A combination is a candidate or told why not, and none is lost.
func TestCombine(t *testing.T) {
	module := drivetrain.Module(0.8)
	gears := Gears{
		Boxes: []drivetrain.Box{
			{Pitch: module, Pinions: []int{15, 17, 18}, Spurs: []int{68, 72}},
			{Pitch: drivetrain.DiametralPitch(48), Pinions: []int{24}, Spurs: []int{100}},
		},
		// 24/100 of 48 teeth an inch are 124 · 0.529 / 0.8 = 82 teeth of module 0.8.
		Mount:    &drivetrain.Mount{Pitch: module, Least: 84, Most: 89},
		Collapse: true,
	}
	candidates, out := Combine(fitted, gears)
	// 17/68 and 18/72 are both 4 to 1; the spur stays.
	if got := fmt.Sprint(candidates); got != "[15/72 × 2.5 17/68 × 2.5 17/72 × 2.5 18/68 × 2.5]" {
		t.Errorf("candidates %s", got)
	}
	want := map[string]Reason{
		"15/68": TooSmallForMount, "18/72": TooLargeForMount, "24/100": TooSmallForMount,
		"15/100": OtherPitch, "17/100": OtherPitch, "18/100": OtherPitch, "24/68": OtherPitch, "24/72": OtherPitch,
	}
	for _, x := range out {
		pair := fmt.Sprintf("%d/%d", x.Gearing.Pinion, x.Gearing.Spur)
		if reason, ok := want[pair]; !ok || reason != x.Reason {
			t.Errorf("%s is out for reason %d, want %d", pair, x.Reason, reason)
		}
		delete(want, pair)
	}
	if len(want) > 0 {
		t.Errorf("untold: %v", want)
	}
}

func TestCollapseKeepsTheFewestChanges(t *testing.T) {
	boxes := []drivetrain.Box{{Pinions: []int{17, 18}, Spurs: []int{68, 72}}}
	candidates, out := Combine(fitted, Gears{Boxes: boxes, Collapse: true})
	if len(candidates) != 3 || len(out) != 1 || out[0].Reason != NearlyEqual || out[0].Gearing.Pinion != 18 || out[0].Like != fitted {
		t.Errorf("candidates %v, out %+v", candidates, out)
	}
	if candidates, out := Combine(fitted, Gears{Boxes: boxes}); len(candidates) != 4 || len(out) != 0 {
		t.Errorf("without collapsing: %v, out %+v", candidates, out)
	}
}

// What is fitted was seen to fit.
func TestFittedGearingFits(t *testing.T) {
	gears := Gears{Boxes: []drivetrain.Box{{Pinions: []int{17}, Spurs: []int{68}}}, Mount: &drivetrain.Mount{Least: 100, Most: 110}}
	if candidates, out := Combine(fitted, gears); len(candidates) != 1 || len(out) != 0 {
		t.Errorf("candidates %v, out %+v", candidates, out)
	}
}
