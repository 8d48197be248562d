package main

import (
	"math"
	"runtime"

	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/garage/internal/physics"
)

// score sums up how answers fared.
type score struct {
	garages    int
	candidates int
	squares    float64 // of stated less true chance
	intervals  int
	content    float64 // their true probability
	picks      int
	holds      float64 // the picks' true chance
	enough     int     // picks whose true chance reaches the wanted confidence
	exists     int     // garages in which an allowed candidate truly reaches the confidence
	answered   int     // how many of them got a pick
	teeth      int     // between pick and best, summed over answered
	exact      int
	needless   int // picks where nothing truly reaches it
	bins       [numBins]bin
}

// bin gathers candidates by stated chance.
type bin struct {
	n              int
	stated, actual float64
}

const (
	numBins       = 10
	unknownChance = 0.5 // stands in where an adviser states none
)

// add scores an answer to a garage's question.
func (s *score) add(g garage, answer Answer) {
	q := g.question
	best := g.truth.best(g.log, q)
	s.garages++
	s.exists += count(best != 0)
	for i, f := range answer.Forecasts {
		stated, actual := unknownChance, g.truth.chance[i]
		if f.Known {
			stated = f.Chance
		}
		s.candidates++
		s.squares += (stated - actual) * (stated - actual)
		b := &s.bins[min(numBins-1, int(stated*numBins))]
		b.n++
		b.stated += stated
		b.actual += actual
		for part, interval := range f.Peaks.All() {
			if q.Limits.Has(part) {
				s.intervals++
				s.content += g.truth.content(part, i, interval)
			}
		}
		pick := q.Candidates[i]
		if pick != answer.Pick {
			continue
		}
		s.picks++
		s.holds += actual
		s.enough += count(actual >= q.Confidence)
		if best == 0 {
			s.needless++
			continue
		}
		s.answered++
		s.teeth += max(pick-best, best-pick)
		s.exact += count(pick == best)
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

// knowingTheTruth is the name of who does. Its scores are the yardstick: its picks hold
// more often than wanted only because teeth are whole, so that an adviser whose
// picks hold more often still has given speed away.
const knowingTheTruth = "knowing the truth"

// answer states the truth.
func (t truth) answer(log []domain.Run, q Question) Answer {
	return answerEach(log, q, func(i int) Forecast {
		f := Forecast{Chance: t.chance[i], Known: true}
		for part := range q.Limits.All() {
			peaks := t.peaks[part][i]
			n := len(peaks)
			f.Peaks.Set(part, Interval{Low: units.Celsius(peaks[n/10]), High: units.Celsius(peaks[n*9/10-1])})
		}
		return f
	})
}

// scored is an adviser's scores: in all, and by kind of log.
type scored struct {
	name   string
	total  score
	byKind [numKinds]score
}

// measure judges the advisers on n garages of a set and a group of kinds, and last one
// who knows the truth. Equal seeds give equal scores whatever the number of workers.
func measure(set physics.Set, of group, n int, seed uint64) []scored {
	type result struct {
		garage
		answers []Answer
	}
	results := make([]chan result, runtime.GOMAXPROCS(0)) // one a worker
	for w := range results {
		results[w] = make(chan result, 8)
		go func() {
			for i := w; i < n; i += len(results) {
				r := result{garage: newGarage(set, of.kindAt(i), seed, uint64(i))}
				for _, a := range advisers {
					r.answers = append(r.answers, a.advise(r.log, r.question))
				}
				r.answers = append(r.answers, r.truth.answer(r.log, r.question))
				results[w] <- r
			}
		}()
	}
	all := make([]scored, len(advisers)+1)
	for a := range advisers {
		all[a].name = advisers[a].name
	}
	all[len(advisers)].name = knowingTheTruth
	for i := range n {
		r := <-results[i%len(results)]
		for a, answer := range r.answers {
			all[a].total.add(r.garage, answer)
			all[a].byKind[of.kindAt(i)].add(r.garage, answer)
		}
	}
	return all
}
