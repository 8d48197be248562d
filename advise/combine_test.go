package advise

import (
	"fmt"
	"testing"

	"regear/analyze/drivetrain"
)

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
