package advise

import (
	"cmp"
	"math"
	"slices"

	"regear/analyze/drivetrain"
)

// Reason says why a combination of gears at hand is no candidate.
type Reason uint8

// The reasons.
const (
	OtherPitch       Reason = iota // pinion and spur have teeth of another size
	TooSmallForMount               // the motor can't come close enough to the spur
	TooLargeForMount
	NearlyEqual // another candidate does the same with fewer changes
)

// Excluded is a combination of gears at hand that is no candidate.
type Excluded struct {
	Gearing drivetrain.Gearing
	Reason  Reason
	Like    drivetrain.Gearing // with NearlyEqual, the candidate that stands for it
}

// nearlyEqual is by what share two ratios may differ and do the same: half a percent
// is a sixth of a tooth on 30 and moves the rise by 1 %, far less than two runs differ.
const nearlyEqual = 0.005

// Gears are what there is to choose from.
type Gears struct {
	Boxes []drivetrain.Box
	Mount *drivetrain.Mount // nil takes every pair
	// Collapse leaves one of several combinations of nearly equal ratio: the one with
	// the fewest parts changed.
	Collapse bool
}

// Combine returns the combinations of gears that can be fitted in the place of the
// fitted one, in rising pinion order, and those that can't, with the reason. What is
// fitted now fits, whatever was said of the mount.
func Combine(fitted drivetrain.Gearing, gears Gears) (candidates []drivetrain.Gearing, out []Excluded) {
	seen := map[drivetrain.Gearing]bool{}
	each := func(pinions, spurs []int, found func(drivetrain.Gearing)) {
		for _, g := range Pinions(fitted, pinions, spurs) {
			if !seen[g] {
				seen[g] = true
				found(g)
			}
		}
	}
	for _, box := range gears.Boxes {
		each(box.Pinions, box.Spurs, func(g drivetrain.Gearing) {
			switch gears.reach(fitted, g, box.Pitch) {
			case drivetrain.TooClose:
				out = append(out, Excluded{Gearing: g, Reason: TooSmallForMount})
			case drivetrain.TooFar:
				out = append(out, Excluded{Gearing: g, Reason: TooLargeForMount})
			default:
				candidates = append(candidates, g)
			}
		})
	}
	for _, of := range gears.Boxes {
		for _, and := range gears.Boxes {
			each(of.Pinions, and.Spurs, func(g drivetrain.Gearing) { out = append(out, Excluded{Gearing: g, Reason: OtherPitch}) })
		}
	}
	if gears.Collapse {
		var same []Excluded
		candidates, same = collapse(fitted, candidates)
		out = append(out, same...)
	}
	slices.SortFunc(candidates, ByTeeth)
	slices.SortStableFunc(out, func(a, b Excluded) int { return ByTeeth(a.Gearing, b.Gearing) })
	return candidates, out
}

// ByTeeth orders gearings by their pinion, then by their spur.
func ByTeeth(a, b drivetrain.Gearing) int {
	return cmp.Or(cmp.Compare(a.Pinion, b.Pinion), cmp.Compare(a.Spur, b.Spur))
}

// reach says whether the mount takes a gearing of one pitch. It takes what is fitted.
func (gears Gears) reach(fitted, g drivetrain.Gearing, pitch drivetrain.Pitch) drivetrain.Reach {
	if gears.Mount == nil || g == fitted {
		return drivetrain.Inside
	}
	return gears.Mount.Reach(pitch, g.Pinion, g.Spur)
}

// collapse keeps the one that changes least of combinations of nearly equal ratio.
func collapse(fitted drivetrain.Gearing, all []drivetrain.Gearing) (kept []drivetrain.Gearing, same []Excluded) {
	all = slices.Clone(all)
	slices.SortFunc(all, func(a, b drivetrain.Gearing) int {
		return cmp.Or(
			cmp.Compare(partsChanged(fitted, a), partsChanged(fitted, b)),
			cmp.Compare(teethChanged(fitted, a), teethChanged(fitted, b)),
			ByTeeth(a, b))
	})
	for _, g := range all {
		twin := slices.IndexFunc(kept, func(k drivetrain.Gearing) bool {
			return math.Abs(g.FinalDriveRatio()/k.FinalDriveRatio()-1) <= nearlyEqual
		})
		if twin < 0 {
			kept = append(kept, g)
			continue
		}
		same = append(same, Excluded{Gearing: g, Reason: NearlyEqual, Like: kept[twin]})
	}
	return kept, same
}

// teethChanged returns how many teeth lie between two gearings, over both gears.
func teethChanged(from, to drivetrain.Gearing) int {
	abs := func(n int) int { return max(n, -n) }
	return abs(from.Pinion-to.Pinion) + abs(from.Spur-to.Spur)
}

// partsChanged returns how many of the two gears a change takes.
func partsChanged(from, to drivetrain.Gearing) int {
	switch {
	case from.Pinion != to.Pinion && from.Spur != to.Spur:
		return 2
	case from.Pinion != to.Pinion || from.Spur != to.Spur:
		return 1
	}
	return 0
}
