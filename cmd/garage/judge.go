package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/garage/internal/physics"
)

// score sums up how answers fared.
type score struct {
	garages        int
	squares        mean          // of stated less true chance, a candidate
	content        mean          // true probability of the stated intervals
	holds, enough  mean          // the picks' true chance, and whether it reaches the wanted confidence
	answered       mean          // whether there is a pick where an allowed candidate truly reaches it
	teeth, exact   mean          // between such a pick and the best, and whether there are none
	needless       mean          // whether there is a pick where nothing truly reaches it
	stated, actual [numBins]mean // chances of the candidates, by stated chance
}

const (
	numBins       = 10
	unknownChance = 0.5 // stands in where an adviser states none
)

// mean is a sum on its way to a mean.
type mean struct {
	sum float64
	n   int
}

func (m *mean) add(x float64) { m.sum, m.n = m.sum+x, m.n+1 }

func (m *mean) count(yes bool) {
	x := 0.0
	if yes {
		x = 1
	}
	m.add(x)
}

func (m mean) value() float64 { return m.sum / float64(m.n) }

func (s *score) rms() float64 { return math.Sqrt(s.squares.value()) }

func (s *score) add(g garage, answer Answer) {
	q := g.question
	s.garages++
	for i, f := range answer.Forecasts {
		stated, actual := unknownChance, g.truth.chance[i]
		if f.Known {
			stated = f.Chance
		}
		s.squares.add((stated - actual) * (stated - actual))
		bin := min(numBins-1, int(stated*numBins))
		s.stated[bin].add(stated)
		s.actual[bin].add(actual)
		for part, interval := range f.Peaks.All() {
			if q.Limits.Has(part) {
				s.content.add(g.truth.content(part, i, interval))
			}
		}
		if answer.Pick == q.Candidates[i] {
			s.holds.add(actual)
			s.enough.count(actual >= q.Confidence)
		}
	}
	best, picked := g.truth.best(g.log, q), answer.Pick != 0
	if best == 0 {
		s.needless.count(picked)
		return
	}
	s.answered.count(picked)
	if picked {
		s.teeth.add(math.Abs(float64(answer.Pick - best)))
		s.exact.count(answer.Pick == best)
	}
}

// knowingTheTruth is the adviser in the last row of the tables. Its scores are the
// yardstick: its picks hold more often than wanted only because teeth are whole, so an
// adviser whose picks hold more often than its own has given speed away.
const knowingTheTruth = "knowing the truth"

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

type scored struct {
	name   string
	total  score
	byKind [numKinds]score
}

// measure judges the advisers on n garages of a set and a group of kinds, and after them
// one who knows the truth. Equal seeds give equal scores whatever the number of workers.
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

// printTable writes rows of cells in columns, each to the right of its column.
func printTable(out io.Writer, rows [][]string) error {
	t := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	for _, cells := range rows {
		fmt.Fprintf(t, "%s\t\n", strings.Join(cells, "\t"))
	}
	return t.Flush()
}

var scoreHeader = []string{
	"RMS of chance", "80 % covers", "pick holds", "pick true enough", "teeth off", "exact", "answered", "needless",
}

func (s *score) cells() []string {
	teeth := "-"
	if s.teeth.n > 0 {
		teeth = fmt.Sprintf("%.2f", s.teeth.value())
	}
	return []string{
		fmt.Sprintf("%.3f", s.rms()), s.content.percent(), s.holds.percent(), s.enough.percent(),
		teeth, s.exact.percent(), s.answered.percent(), s.needless.percent(),
	}
}

// percent writes the mean, or a dash where nothing was added.
func (m mean) percent() string {
	if m.n == 0 {
		return "-"
	}
	return fmt.Sprintf("%.1f %%", 100*m.sum/float64(m.n))
}

// printScores writes the main table, on request one by kind of log for every adviser,
// and what came true of the chances stated, in tenths.
func printScores(out io.Writer, all []scored, kinds bool) error {
	rows := [][]string{append([]string{"adviser"}, scoreHeader...)}
	for _, a := range all {
		rows = append(rows, append([]string{a.name}, a.total.cells()...))
	}
	err := printTable(out, rows)
	for _, a := range all {
		if !kinds {
			break
		}
		fmt.Fprintf(out, "\n%s, by kind of log\n", a.name)
		rows := [][]string{append([]string{"kind", "garages"}, scoreHeader...)}
		for k, of := range a.byKind {
			if of.garages > 0 {
				rows = append(rows, append([]string{Kind(k).String(), strconv.Itoa(of.garages)}, of.cells()...))
			}
		}
		err = errors.Join(err, printTable(out, rows))
	}
	fmt.Fprintln(out, "\nreliability: true mean of the candidates with a stated chance in each tenth (how many)")
	rows = [][]string{{"stated"}}
	for _, a := range all {
		rows[0] = append(rows[0], a.name)
	}
	for i := range numBins {
		row := []string{fmt.Sprintf("%d-%d %%", 100*i/numBins, 100*(i+1)/numBins)}
		for _, a := range all {
			m := a.total.actual[i]
			row = append(row, fmt.Sprintf("%s (%d)", m.percent(), m.n))
		}
		rows = append(rows, row)
	}
	return errors.Join(err, printTable(out, rows))
}

var traitNames = [...]string{
	physics.Rise:     "rise after a usual run, K",
	physics.Gearing:  "exponent on rollout, by pinion",
	physics.Bend:     "bend, factor of ln² rollout",
	physics.Tire:     "exponent on tire at equal rollout",
	physics.Power:    "exponent on power",
	physics.Minutes:  "time constant, min",
	physics.Scatter:  "scatter of readings, sd of ln rise",
	physics.Together: "correlation of the scatters",
}

// printCharacters writes how heat scales in n random cars of a set: what came out
// of the physics, for comparison with what the trade reports.
func printCharacters(out io.Writer, set physics.Set, n int, seed uint64) error {
	r := rand.New(rand.NewPCG(seed, uint64(set)))
	cars := make([]physics.Character, n)
	for i := range cars {
		cars[i] = physics.Draw(set, r).Character(r)
	}
	fmt.Fprintf(out, "set %v: %d cars\n", set, n)
	rows := [][]string{{"quantity", "part", "5 %", "25 %", "50 %", "75 %", "95 %"}}
	for trait, name := range traitNames {
		labels := [physics.NumParts]string{"motor", "ESC", "battery"}
		if trait == physics.Together {
			labels = [physics.NumParts]string{"motor, ESC", "motor, battery", "ESC, battery"}
		}
		for part, label := range labels {
			values := make([]float64, n)
			for i, c := range cars {
				values[i] = c[trait][part]
			}
			slices.Sort(values)
			row := []string{name, label}
			for _, share := range []float64{0.05, 0.25, 0.5, 0.75, 0.95} {
				row = append(row, fmt.Sprintf("%.2f", values[int(share*float64(n-1))]))
			}
			rows = append(rows, row)
		}
	}
	return printTable(out, rows)
}
