package main

import (
	"math"
	"runtime"
	"slices"
	"sync"
	"time"

	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/garage/internal/physics"
)

// verdict is how one answer fared in one garage.
type verdict struct {
	stated, actual []float64 // chance, by candidate

	content []float64 // true probability of every stated interval

	pick, best     int     // pinions; 0 = none
	pickHolds      float64 // true chance of the pick
	pickTrueEnough bool    // the pick's true chance reaches the wanted confidence
}

// unknownChance stands in where an adviser states none.
const unknownChance = 0.5

func judge(g garage, a Adviser) verdict {
	q := g.question
	answer := a.Advise(g.log, q)
	v := verdict{actual: g.truth.chance, stated: make([]float64, len(q.Candidates))}
	v.best = g.truth.best(g.log, q)
	for i, f := range answer.Forecasts {
		v.stated[i] = unknownChance
		if f.Known {
			v.stated[i] = f.Chance
		}
		for _, part := range domain.Parts {
			if judged := q.Limits.Has(part); judged && f.Peaks[part].Known {
				v.content = append(v.content, g.truth.content(part, i, f.Peaks[part]))
			}
		}
		if answer.Pick == q.Candidates[i] {
			v.pick = answer.Pick
			v.pickHolds = g.truth.chance[i]
			v.pickTrueEnough = v.pickHolds >= q.Confidence
		}
	}
	return v
}

// oracle knows the truth of a garage. Its scores are the yardstick: its picks hold
// more often than wanted only because teeth are whole, so that an adviser whose
// picks hold more often still has given speed away.
type oracle struct{ truth }

// Name implements [Adviser].
func (oracle) Name() string { return "knowing the truth" }

// Advise implements [Adviser].
func (o oracle) Advise(log []domain.Run, q Question) Answer {
	answer := Answer{Forecasts: make([]Forecast, len(q.Candidates))}
	for i, chance := range o.chance {
		f := Forecast{Chance: chance, Known: true}
		for part := range q.Limits.All() {
			peaks := o.peaks[part][i]
			f.Peaks[part] = Interval{
				Low:   units.Celsius(peaks[len(peaks)/10]),
				High:  units.Celsius(peaks[len(peaks)*9/10-1]),
				Known: true,
			}
		}
		answer.Forecasts[i] = f
	}
	answer.Pick = o.best(log, q)
	return answer
}

// score sums verdicts up.
type score struct {
	garages    int
	candidates int
	squares    float64 // of stated less true chance
	intervals  int
	content    float64
	picks      int
	holds      float64
	enough     int
	exists     int // garages in which an allowed candidate truly reaches the confidence
	answered   int // of those, with a pick
	teeth      int // between pick and best, summed over answered
	exact      int
	needless   int // picks where nothing truly reaches it
	bins       [numBins]bin
}

// bin gathers candidates by stated chance.
type bin struct {
	n              int
	stated, actual float64
}

const numBins = 10

func (s *score) add(v verdict) {
	s.garages++
	for i, p := range v.stated {
		s.candidates++
		s.squares += (p - v.actual[i]) * (p - v.actual[i])
		b := &s.bins[min(numBins-1, int(p*numBins))]
		b.n++
		b.stated += p
		b.actual += v.actual[i]
	}
	for _, c := range v.content {
		s.intervals++
		s.content += c
	}
	if v.pick != 0 {
		s.picks++
		s.holds += v.pickHolds
		s.enough += count(v.pickTrueEnough)
		s.needless += count(v.best == 0)
	}
	if v.best != 0 {
		s.exists++
		if v.pick != 0 {
			s.answered++
			s.teeth += max(v.pick-v.best, v.best-v.pick)
			s.exact += count(v.pick == v.best)
		}
	}
}

func count(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// rms returns the root mean square error of the stated chances.
func (s *score) rms() float64 { return math.Sqrt(s.squares / float64(s.candidates)) }

// scores holds one score an adviser, and a last one for knowing the truth: in all,
// and by kind of log.
type scores struct {
	names  []string
	total  []score
	byKind [numKinds][]score
	// took is the time spent on making garages and on each adviser, over all workers.
	making time.Duration
	took   []time.Duration
}

// measure judges advisers on n garages of a set and a group of kinds. Equal seeds
// give equal scores whatever the number of workers.
func measure(set physics.Set, of group, n int, seed uint64, advisers []Adviser) scores {
	type result struct {
		verdicts []verdict
		making   time.Duration
		took     []time.Duration
	}
	results := make([]result, n)
	var next sync.Mutex
	done := 0
	take := func() int {
		next.Lock()
		defer next.Unlock()
		done++
		return done - 1
	}
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for i := take(); i < n; i = take() {
				start := time.Now()
				g := newGarage(set, of.kindAt(i), seed, uint64(i))
				r := &results[i]
				r.making = time.Since(start)
				for _, a := range append(slices.Clip(advisers), Adviser(oracle{g.truth})) {
					start = time.Now()
					r.verdicts = append(r.verdicts, judge(g, a))
					r.took = append(r.took, time.Since(start))
				}
			}
		})
	}
	workers.Wait()

	all := scores{total: make([]score, len(advisers)+1), took: make([]time.Duration, len(advisers)+1)}
	for _, a := range append(slices.Clip(advisers), Adviser(oracle{})) {
		all.names = append(all.names, a.Name())
	}
	for k := range all.byKind {
		all.byKind[k] = make([]score, len(advisers)+1)
	}
	for i, r := range results {
		all.making += r.making
		for a, v := range r.verdicts {
			all.total[a].add(v)
			all.byKind[of.kindAt(i)][a].add(v)
			all.took[a] += r.took[a]
		}
	}
	return all
}
