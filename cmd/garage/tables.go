package main

import (
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"regear/cmd/garage/internal/physics"
)

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

// cells returns a score's row.
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
	if kinds {
		for _, a := range all {
			fmt.Fprintf(out, "\n%s, by kind of log\n", a.name)
			err = errors.Join(err, printTable(out, a.kindRows()))
		}
	}
	fmt.Fprintln(out, "\nreliability: true mean of the candidates with a stated chance in each tenth (how many)")
	return errors.Join(err, printTable(out, reliabilityRows(all)))
}

func (s *scored) kindRows() [][]string {
	rows := [][]string{append([]string{"kind", "garages"}, scoreHeader...)}
	for k, of := range s.byKind {
		if of.garages > 0 {
			rows = append(rows, append([]string{Kind(k).String(), strconv.Itoa(of.garages)}, of.cells()...))
		}
	}
	return rows
}

func reliabilityRows(all []scored) [][]string {
	rows := make([][]string, 1+numBins)
	rows[0] = []string{"stated"}
	for i := range numBins {
		rows[1+i] = []string{fmt.Sprintf("%d-%d %%", 100*i/numBins, 100*(i+1)/numBins)}
	}
	for _, a := range all {
		rows[0] = append(rows[0], a.name)
		for i, m := range a.total.actual {
			rows[1+i] = append(rows[1+i], fmt.Sprintf("%s (%d)", m.percent(), m.n))
		}
	}
	return rows
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
