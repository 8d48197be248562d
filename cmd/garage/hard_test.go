package main

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

	domain "regear/analyze/run"
	"regear/cmd/garage/internal/physics"
)

// eachGarage runs a check on n garages of a kind in either set.
func eachGarage(t *testing.T, kind Kind, n int, check func(t *testing.T, d *draft, g garage)) {
	t.Helper()
	for _, set := range sets {
		r := rand.New(rand.NewPCG(13, uint64(set)))
		for range n {
			d, g := drawFair(set, kind, r)
			check(t, d, g)
		}
	}
}

// motorRise returns the rise of a run's motor in K, as read.
func motorRise(r domain.Run) float64 {
	peak, _ := r.Peak.Of(domain.Motor)
	return float64(peak - r.Ambient)
}

// Packs back to back make the later runs of a day read hotter than the first, but not
// where the driver cooled the car; the dates of both are alike.
func TestBackToBackStartsWarm(t *testing.T) {
	var warm, cooled []float64
	eachGarage(t, backToBack, 30, func(t *testing.T, d *draft, g garage) {
		var first, later []float64
		for i, logged := range g.log {
			if i == 0 || logged.Day() != g.log[i-1].Day() {
				first = append(first, math.Log(motorRise(logged)))
			} else {
				later = append(later, math.Log(motorRise(logged)))
			}
		}
		hotter := stat.Mean(later, nil) - stat.Mean(first, nil)
		if d.cooled {
			cooled = append(cooled, hotter)
		} else {
			warm = append(warm, hotter)
		}
	})
	if n := len(warm) + len(cooled); len(cooled) < n/6 || len(cooled) > n/2 {
		t.Errorf("%d of %d drivers cool the car, want about a third", len(cooled), n)
	}
	if hotter := stat.Mean(warm, nil); hotter < 0.08 {
		t.Errorf("ln rise is %.3f more in later runs", hotter)
	}
	middle, sd := stat.MeanStdDev(cooled, nil)
	if math.Abs(middle) > 3*sd/math.Sqrt(float64(len(cooled))) {
		t.Errorf("ln rise is %.3f more in later runs of a car that was cooled", middle)
	}
}

// The truth of the question itself hardly follows the gearing in the ESC, whose limit is
// among its peaks.
func TestESCHardlyFollowsGearing(t *testing.T) {
	eachGarage(t, flatESC, 12, func(t *testing.T, d *draft, g garage) {
		limit, judged := g.question.Limits.Of(domain.ESC)
		if !judged {
			t.Fatal("the ESC is not judged")
		}
		last := slices.Index(g.question.Candidates, d.next.pinion)
		rise := func(teeth int) float64 {
			peaks := g.truth.peaks[domain.ESC][last+teeth]
			return peaks[len(peaks)/2] - float64(g.question.Next.Ambient)
		}
		const teeth = 2
		ln := math.Log(float64(d.next.pinion+teeth) / float64(d.next.pinion-teeth))
		e := math.Log(rise(teeth)/rise(-teeth)) / ln
		const chord = 0.25 // two teeth and another pinion than the survey's
		if e < physics.FlatGearing[0]-chord || e > physics.FlatGearing[1]+chord {
			t.Errorf("set %v: exponent %.2f between %d teeth less and more than %d", d.set, e, teeth, d.next.pinion)
		}
		if share := g.truth.content(domain.ESC, last, Interval{Low: 0, High: limit}); share < 0.2 {
			t.Errorf("set %v: a limit of %v holds in %.0f %% of runs with the last pinion", d.set, limit, 100*share)
		}
	})
}

func TestDriverRepeats(t *testing.T) {
	var scatter []float64
	eachGarage(t, steadyDriver, 12, func(t *testing.T, d *draft, g garage) {
		scatter = append(scatter, d.Character(d.r)[physics.Scatter][domain.Motor])
	})
	slices.Sort(scatter)
	// 2 % by luck, the gun and the air on top.
	if middle, most := scatter[len(scatter)/2], scatter[len(scatter)-1]; middle > 0.032 || most > 0.045 {
		t.Errorf("sd of ln rise: %.3f in the middle, %.3f at most", middle, most)
	}
}

// Runs of a day are alike, days are not: the variance of ln power between days is several
// times that within.
func TestDaysDifferMoreThanRuns(t *testing.T) {
	eachGarage(t, unequalDays, 6, func(t *testing.T, d *draft, g garage) {
		var within, across []float64
		r := rand.New(rand.NewPCG(1, 1))
		for range 400 {
			today, first, second := physics.NewFate(r), physics.NewFate(r), physics.NewFate(r)
			tomorrow := first
			first[physics.DayLuck], second[physics.DayLuck] = today[physics.DayLuck], today[physics.DayLuck]
			ln := func(f physics.Fate) float64 { return math.Log(d.Car.Luck.Power(f)) }
			within = append(within, ln(second)-ln(first))
			across = append(across, ln(tomorrow)-ln(second))
		}
		if ratio := stat.StdDev(across, nil) / stat.StdDev(within, nil); ratio < 2.2 {
			t.Errorf("set %v: days differ %.2f times as much as runs", d.set, ratio)
		}
	})
}

func TestHotterNextDay(t *testing.T) {
	eachGarage(t, hotterDay, 12, func(t *testing.T, d *draft, g garage) {
		var air []float64
		for _, logged := range g.log {
			air = append(air, float64(logged.Ambient))
		}
		// The spell is 12 to 20 °C wide; a reading is off by a few K.
		if coldest, hottest := slices.Min(air), slices.Max(air); coldest < 8 || hottest > 24 || hottest-coldest > 10 {
			t.Errorf("set %v: logged in air of %g to %g °C", d.set, coldest, hottest)
		}
		if hotter := float64(g.question.Next.Ambient) - stat.Mean(air, nil); hotter < 12 || hotter > 22 {
			t.Errorf("set %v: the next day is %.1f K hotter", d.set, hotter)
		}
	})
}

func TestPinionFellWithTheHeat(t *testing.T) {
	eachGarage(t, fallingPinion, 12, func(t *testing.T, d *draft, g garage) {
		var air, pinion []float64
		for i, logged := range g.log {
			air, pinion = append(air, float64(logged.Ambient)), append(pinion, float64(logged.Gearing.Pinion))
			if i == 0 {
				continue
			}
			newDay := logged.Day() != g.log[i-1].Day()
			if fell := pinion[i] < pinion[i-1]; fell != newDay || newDay && d.plan[i].air <= d.plan[i-1].air {
				t.Errorf("set %v, run %d: %g teeth in %.1f °C after %g in %.1f", d.set, i, pinion[i], d.plan[i].air, pinion[i-1], d.plan[i-1].air)
			}
		}
		if together := stat.Correlation(air, pinion, nil); together > -0.6 {
			t.Errorf("set %v: the logged pinion and air correlate by %.2f", d.set, together)
		}
	})
}

// A car that doesn't wear is driven as fresh to the end, and what its gun reads is off by
// less than the rounding.
func TestNoWearWholeKelvin(t *testing.T) {
	eachGarage(t, wholeKelvin, 6, func(t *testing.T, d *draft, g garage) {
		for _, p := range append(slices.Clip(d.plan), d.next) {
			if p.wear != 1 {
				t.Errorf("set %v: wear %g", d.set, p.wear)
			}
		}
		for _, logged := range g.log {
			if rise := motorRise(logged); rise != math.Trunc(rise) {
				t.Errorf("set %v: a rise of %g K", d.set, rise)
			}
		}
		var v physics.Variation
		v.Gun = d.Car.Luck.Gun
		var off []float64
		for _, f := range physics.Fates(rand.New(rand.NewPCG(1, 1)), 1000) {
			off = append(off, v.Reading(0, 20, 0, f)-20)
		}
		if sd := stat.StdDev(off, nil); sd > 0.5 {
			t.Errorf("set %v: readings are off by %.2f K", d.set, sd)
		}
	})
}
