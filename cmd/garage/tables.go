package main

import (
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"text/tabwriter"
	"time"

	"regear/cmd/garage/internal/physics"
)

func newTable(out io.Writer) *tabwriter.Writer {
	return tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
}

const scoreHeader = "RMS of chance\t80 % covers\tpick holds\tpick true enough\tteeth off\texact\tanswered\tneedless\t"

// cells writes a score's row.
func (s *score) cells() string {
	return fmt.Sprintf("%.3f\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t",
		s.rms(),
		percent(s.content, s.intervals),
		percent(s.holds, s.picks),
		percent(float64(s.enough), s.picks),
		ratio("%.2f", float64(s.teeth), s.answered),
		percent(float64(s.exact), s.answered),
		percent(float64(s.answered), s.exists),
		percent(float64(s.needless), s.garages-s.exists))
}

func percent(part float64, of int) string { return ratio("%.1f %%", 100*part, of) }

// ratio writes part/of, or a dash where there is nothing to divide by.
func ratio(format string, part float64, of int) string {
	if of == 0 {
		return "-"
	}
	return fmt.Sprintf(format, part/float64(of))
}

// printScores writes the main table.
func printScores(out io.Writer, all scores) error {
	t := newTable(out)
	fmt.Fprintf(t, "adviser\t%s\n", scoreHeader)
	for a, name := range all.names {
		fmt.Fprintf(t, "%s\t%s\n", name, all.total[a].cells())
	}
	return t.Flush()
}

// printKinds writes a table for every adviser, a row a kind of log.
func printKinds(out io.Writer, all scores) error {
	for a, name := range all.names {
		fmt.Fprintf(out, "\n%s, by kind of log\n", name)
		t := newTable(out)
		fmt.Fprintf(t, "kind\tgarages\t%s\n", scoreHeader)
		for k := range numKinds {
			s := &all.byKind[k][a]
			if s.garages > 0 {
				fmt.Fprintf(t, "%s\t%d\t%s\n", k, s.garages, s.cells())
			}
		}
		if err := t.Flush(); err != nil {
			return err
		}
	}
	return nil
}

// printReliability writes what came true of the chances stated, in tenths.
func printReliability(out io.Writer, all scores) error {
	fmt.Fprintln(out, "\nreliability: true mean of the candidates with a stated chance in each tenth (how many)")
	t := newTable(out)
	fmt.Fprint(t, "stated\t")
	for _, name := range all.names {
		fmt.Fprintf(t, "%s\t", name)
	}
	fmt.Fprintln(t)
	for i := range numBins {
		fmt.Fprintf(t, "%d-%d %%\t", 100*i/numBins, 100*(i+1)/numBins)
		for a := range all.names {
			b := all.total[a].bins[i]
			fmt.Fprintf(t, "%s (%d)\t", percent(b.actual, b.n), b.n)
		}
		fmt.Fprintln(t)
	}
	return t.Flush()
}

// printTimes writes what a garage and each answer cost, as a mean.
func printTimes(out io.Writer, all scores, n int) {
	fmt.Fprintf(out, "a garage with its truth took %v", (all.making / time.Duration(n)).Round(10*time.Microsecond))
	for a, name := range all.names {
		fmt.Fprintf(out, "; %s %v", name, (all.took[a] / time.Duration(n)).Round(time.Microsecond))
	}
	fmt.Fprintln(out)
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
	t := newTable(out)
	fmt.Fprintln(t, "quantity\tpart\t5 %\t25 %\t50 %\t75 %\t95 %\t")
	parts := [physics.NumParts]string{"motor", "ESC", "battery"}
	pairs := [physics.NumParts]string{"motor, ESC", "motor, battery", "ESC, battery"}
	rows := []struct {
		name   string
		labels [physics.NumParts]string
		of     func(physics.Character) [physics.NumParts]float64
	}{
		{"rise after a usual run, K", parts, func(c physics.Character) [physics.NumParts]float64 { return c.Rise }},
		{"exponent on rollout, by pinion", parts, func(c physics.Character) [physics.NumParts]float64 { return c.Gearing }},
		{"bend, factor of ln² rollout", parts, func(c physics.Character) [physics.NumParts]float64 { return c.Bend }},
		{"exponent on tire at equal rollout", parts, func(c physics.Character) [physics.NumParts]float64 { return c.Tire }},
		{"exponent on power", parts, func(c physics.Character) [physics.NumParts]float64 { return c.Power }},
		{"time constant, min", parts, func(c physics.Character) [physics.NumParts]float64 { return c.Minutes }},
		{"scatter of readings, sd of ln rise", parts, func(c physics.Character) [physics.NumParts]float64 { return c.Scatter }},
		{"correlation of the scatters", pairs, func(c physics.Character) [physics.NumParts]float64 { return c.Together }},
	}
	for _, row := range rows {
		for part, label := range row.labels {
			values := make([]float64, n)
			for i, c := range cars {
				values[i] = row.of(c)[part]
			}
			slices.Sort(values)
			fmt.Fprintf(t, "%s\t%s\t", row.name, label)
			for _, share := range []float64{0.05, 0.25, 0.5, 0.75, 0.95} {
				fmt.Fprintf(t, "%.2f\t", values[int(share*float64(n-1))])
			}
			fmt.Fprintln(t)
		}
	}
	return t.Flush()
}
