package main

import (
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"

	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/garage/internal/physics"
)

var sets = []physics.Set{physics.A, physics.B}

// Every kind of log is what its name says, in both sets, and every garage is a
// fair question.
func TestKinds(t *testing.T) {
	different := func(log []domain.Run, of func(domain.Run) any) int {
		seen := map[any]bool{}
		for _, r := range log {
			seen[of(r)] = true
		}
		return len(seen)
	}
	some := func(log []domain.Run, is func(domain.Run) bool) bool { return slices.ContainsFunc(log, is) }
	pinion := func(r domain.Run) any { return r.Gearing.Pinion }
	started := func(r domain.Run) bool { return r.Start.Has(domain.Motor) }
	hot := func(r domain.Run) bool { return r.StoppedByHeat }
	days := func(l []domain.Run) int { return different(l, func(r domain.Run) any { return r.Day() }) }

	want := map[Kind]func(log []domain.Run) bool{
		oneRun:       func(l []domain.Run) bool { return len(l) == 1 },
		threeRuns:    func(l []domain.Run) bool { return len(l) == 3 && different(l, pinion) == 1 },
		manyMinutes:  func(l []domain.Run) bool { return len(l) == 6 && different(l, pinion) == 1 },
		twoGearings:  func(l []domain.Run) bool { return len(l) == 5 && different(l, pinion) == 2 },
		someGearings: func(l []domain.Run) bool { return len(l)/2 == 4 && different(l, pinion) >= 3 },
		moreGearings: func(l []domain.Run) bool { return len(l) == 12 && different(l, pinion) >= 3 },
		longLog:      func(l []domain.Run) bool { return len(l) == 25 && different(l, pinion) >= 4 },
		twoTires: func(l []domain.Run) bool {
			return different(l, func(r domain.Run) any { return r.Tire }) == 2 && l[0].Tire != l[len(l)-1].Tire
		},
		severalDays:  func(l []domain.Run) bool { return days(l) == 6 },
		warmStarts:   func(l []domain.Run) bool { return len(l) == 9 },
		heatStops:    func(l []domain.Run) bool { return some(l, hot) },
		twoSurfaces:  func(l []domain.Run) bool { return len(l) == 10 && l[0].Surface != "" },
		driftingCar:  func(l []domain.Run) bool { return len(l) == 10 },
		shortGearing: func(l []domain.Run) bool { return len(l) == 9 },
		backToBack: func(l []domain.Run) bool {
			return len(l) >= 8 && len(l) <= 10 && days(l) <= 4 && l[0].HasTime
		},
		flatESC: func(l []domain.Run) bool {
			return len(l) >= 6 && len(l) <= 9 && different(l, pinion) >= 3 && different(l, pinion) <= 4
		},
		steadyDriver: func(l []domain.Run) bool { return len(l) >= 6 && len(l) <= 10 && different(l, pinion) == 3 },
		unequalDays: func(l []domain.Run) bool {
			return days(l) >= 5 && days(l) <= 8 && (len(l) == 2*days(l) || len(l) == 3*days(l))
		},
		hotterDay:     func(l []domain.Run) bool { return len(l) == 9 && different(l, pinion) == 3 },
		fallingPinion: func(l []domain.Run) bool { return days(l) >= 3 && different(l, pinion) == days(l) },
		oneCell:       func(l []domain.Run) bool { return len(l) == 9 && different(l, pinion) == 3 },
		wholeKelvin:   func(l []domain.Run) bool { return len(l) == 12 && days(l) == 6 },
	}
	for _, set := range sets {
		var warm mean
		for kind := range numKinds {
			for index := range uint64(4) {
				g := newGarage(set, kind, 3, index)
				if !want[kind](g.log) {
					t.Errorf("set %v, %v: the log is %+v", set, kind, g.log)
				}
				if kind != heatStops && some(g.log, hot) || kind != warmStarts && some(g.log, started) {
					t.Errorf("set %v, %v: a heat stop or a warm start", set, kind)
				}
				warm.count(some(g.log, started))
				if one := g.question.Next.Cells == 1; one != (kind == oneCell) {
					t.Errorf("set %v, %v: the next run is on %d cells", set, kind, g.question.Next.Cells)
				}
				checkFair(t, kind, g)
			}
		}
		if warm.sum < 3 {
			t.Errorf("set %v: %g of 4 logs with warm starts have one", set, warm.sum)
		}
	}
}

// checkFair checks what must hold of every garage.
func checkFair(t *testing.T, kind Kind, g garage) {
	t.Helper()
	q, last := g.question, g.log[len(g.log)-1]
	for i, r := range g.log {
		if err := r.Gearing.Check(); err != nil || r.Tire <= 0 || r.Minutes <= 0 {
			t.Errorf("run %d is none: %+v", i, r)
		}
		if i > 0 {
			checkClock(t, kind, g.log[i-1], r)
		}
		if r.Cells != q.Next.Cells {
			t.Errorf("run %d is on %d cells, the next on %d", i, r.Cells, q.Next.Cells)
		}
		for part := range q.Limits.All() {
			if !r.Peak.Has(part) {
				t.Errorf("run %d: %v is judged but not read", i, part)
			}
		}
	}
	if q.Next.Day() <= last.Day() {
		t.Errorf("next run on %v, the last was on %v", q.Next.Day(), last.Day())
	}
	if q.Next.Peak.Has(domain.Motor) {
		t.Error("the question tells the answer")
	}
	if q.Next.Gearing != last.Gearing || !slices.Contains(q.Candidates, last.Gearing.Pinion) || !slices.IsSorted(q.Candidates) {
		t.Errorf("candidates %v about %v after %v", q.Candidates, q.Next.Gearing, last.Gearing)
	}
	if !q.Limits.Has(domain.Motor) {
		t.Error("the motor is not judged")
	}
	for i, chance := range g.truth.chance {
		if !(chance >= 0 && chance <= 1) {
			t.Errorf("candidate %d: true chance %g", q.Candidates[i], chance)
		}
		// All parts stay under at most as often as the worst of them, and at least as
		// often as the shares that fail leave over (Bonferroni).
		least, most := 1.0, 1.0
		for part, limit := range q.Limits.All() {
			under := g.truth.content(part, i, Interval{Low: units.Celsius(math.Inf(-1)), High: limit})
			most = min(most, under)
			least -= 1 - under
		}
		if chance > most+1e-9 || chance < least-1e-9 {
			t.Errorf("candidate %d: true chance %g outside %g to %g", q.Candidates[i], chance, least, most)
		}
	}
}

// checkClock checks that a log's dates tell when a run was driven: after the one
// before, and with a rest that explains its start.
func checkClock(t *testing.T, kind Kind, before, r domain.Run) {
	t.Helper()
	if r.HasTime != before.HasTime || r.Position.Line != before.Position.Line+1 {
		t.Errorf("%v after %v", r, before)
	}
	if !r.HasTime {
		if hour, minute, _ := r.When.Clock(); hour+minute != 0 || r.When.Before(before.When) {
			t.Errorf("a day alone, %v, after %v", r.When, before.When)
		}
		return
	}
	rest := r.When.Sub(before.When).Minutes() - float64(r.Minutes)
	started := r.Start.Has(domain.Motor)
	least, most := coldPause.Minutes(), coldPause.Minutes()
	switch {
	case r.Day() != before.Day():
		most = math.Inf(1)
	case kind == backToBack:
		least, most = 2, 6
	case started:
		least, most = 3, 20+2 // and the wait for the reading
	}
	const clock = 1.1 // both ends are told to the minute, and minutes to a tenth
	if rest < least-clock || rest > most+clock {
		t.Errorf("%v after %v: %.1f min of rest, want %g to %g", r.When, before.When, rest, least, most)
	}
}

// A car that stood for as long as logs with times let it stand is cold.
func TestColdPauseIsCold(t *testing.T) {
	const shown = 2 // K, about what two readings of one part differ by
	for _, set := range sets {
		r := rand.New(rand.NewPCG(8, uint64(set)))
		for range 60 {
			m := physics.Draw(set, r)
			load, _ := m.Car.Load(m.Setup(m.Pinion, m.Tire))
			out := m.Car.Run(load, physics.Outing{Air: m.Air, Minutes: m.Minutes, Power: 1, Start: physics.AllAt(m.Air)})
			stood := m.Car.FreshPack(m.Car.Rest(out.End, m.Air, coldPause.Seconds()), m.Air)
			for part, warm := range m.Car.Parts(stood) {
				if warm-m.Air > shown {
					t.Errorf("set %v, part %d: still %.2f K above the air", set, part, warm-m.Air)
				}
			}
		}
	}
}

// A share of the logs gives days without a time.
func TestDaysAlone(t *testing.T) {
	const n = 60
	var alone mean
	for i := range n {
		alone.count(!newGarage(physics.A, oneRun, 12, uint64(i)).log[0].HasTime)
	}
	if sd := math.Sqrt(n * dayAlone * (1 - dayAlone)); math.Abs(alone.sum-n*dayAlone) > 3*sd {
		t.Errorf("%g of %d logs give days alone", alone.sum, n)
	}
}

// Over many garages the question is worth asking: an allowed pinion reaches the
// confidence in most, and not every candidate does.
func TestQuestionsMatter(t *testing.T) {
	for _, set := range sets {
		for _, of := range []group{usualKinds, hardKinds} {
			const n = 56
			var exists, all mean
			for i := range n {
				g := newGarage(set, of.kindAt(i), 11, uint64(i))
				exists.count(g.truth.best(g.log, g.question) != 0)
				all.count(slices.Min(g.truth.chance) >= wantedConfidence)
			}
			if exists.sum < n*3/4 || exists.sum == n || all.sum > n/10 {
				t.Errorf("set %v, %s: %g of %d garages have an answer, in %g all pinions are one", set, of.name, exists.sum, n, all.sum)
			}
		}
	}
}

func TestSeedsDecide(t *testing.T) {
	for _, set := range sets {
		for kind := range numKinds {
			first, again := newGarage(set, kind, 5, 8), newGarage(set, kind, 5, 8)
			if !reflect.DeepEqual(first, again) {
				t.Errorf("set %v, %v: equal seeds, other garages", set, kind)
			}
			if reflect.DeepEqual(first.truth, newGarage(set, kind, 6, 8).truth) {
				t.Errorf("set %v, %v: other seeds, equal garages", set, kind)
			}
		}
	}
}

// The number of workers changes no score.
func TestWorkersChangeNothing(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	alone := measure(physics.A, hardKinds, 24, 2)
	runtime.GOMAXPROCS(4)
	shared := measure(physics.A, hardKinds, 24, 2)
	if !reflect.DeepEqual(alone, shared) {
		t.Errorf("one worker: %+v\nfour: %+v", alone, shared)
	}
}

func BenchmarkGarage(b *testing.B) {
	for _, set := range sets {
		b.Run(set.String(), func(b *testing.B) {
			i := 0
			for b.Loop() {
				newGarage(set, Kind(i)%numKinds, 1, uint64(i))
				i++
			}
		})
	}
}

func BenchmarkPeers(b *testing.B) {
	g := newGarage(physics.A, longLog, 1, 1)
	for _, a := range advisers {
		b.Run(a.name, func(b *testing.B) {
			for b.Loop() {
				a.advise(g.log, g.question)
			}
		})
	}
}

var noon = time.Date(2026, time.April, 1, 12, 0, 0, 0, time.UTC)

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
