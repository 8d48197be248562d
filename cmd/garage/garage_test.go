package main

import (
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"testing"
	"time"

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
	started := func(r domain.Run) bool { warm := r.Start.Has(domain.Motor); return warm }
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
			if read := r.Peak.Has(part); !read {
				t.Errorf("run %d: %v is judged but not read", i, part)
			}
		}
	}
	if q.Next.Day() <= last.Day() {
		t.Errorf("next run on %v, the last was on %v", q.Next.Day(), last.Day())
	}
	if read := q.Next.Peak.Has(domain.Motor); read {
		t.Error("the question tells the answer")
	}
	if q.Next.Gearing != last.Gearing || !slices.Contains(q.Candidates, last.Gearing.Pinion) || !slices.IsSorted(q.Candidates) {
		t.Errorf("candidates %v about %v after %v", q.Candidates, q.Next.Gearing, last.Gearing)
	}
	if judged := q.Limits.Has(domain.Motor); !judged {
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
