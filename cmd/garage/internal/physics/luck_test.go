package physics

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

func median(x []float64) float64 {
	slices.Sort(x)
	return x[len(x)/2]
}

func TestQuantiles(t *testing.T) {
	tests := []struct {
		name      string
		got, want float64
		source    string
	}{
		{"normal 0.975", normal(0.975), distuv.UnitNormal.Quantile(0.975), "gonum"},
		{"normal 0.9", normal(0.9), distuv.UnitNormal.Quantile(0.9), "gonum"},
		{"normal 0.5", normal(0.5), 0, "symmetry"},
		// NIST/SEMATECH e-Handbook 1.3.6.7.2, df = 4; here scaled to unit variance.
		{"t4 0.9", heavy(0.9) * math.Sqrt2, 1.533, "e-Handbook"},
		{"t4 0.95", heavy(0.95) * math.Sqrt2, 2.132, "e-Handbook"},
		{"t4 0.025", heavy(0.025) * math.Sqrt2, -2.776, "e-Handbook"},
		{"t4 0.995", heavy(0.995) * math.Sqrt2, 4.604, "e-Handbook"},
		{"t4 0.999", heavy(0.999) * math.Sqrt2, 7.173, "e-Handbook"},
		{"t4 0.5", heavy(0.5), 0, "symmetry"},
	}
	for _, tt := range tests {
		if math.Abs(tt.got-tt.want) > 0.0005 {
			t.Errorf("%s = %.6f, want %.6f (%s)", tt.name, tt.got, tt.want, tt.source)
		}
	}
}

// Every kind of luck fills every stratum of (0, 1) exactly once.
func TestFatesCoverEvenly(t *testing.T) {
	const n = 50
	fates := Fates(rand.New(rand.NewPCG(1, 1)), n)
	for luck := range numFates {
		var seen [n]int
		for _, f := range fates {
			seen[int(f[luck]*n)]++
		}
		if slices.Max(seen[:]) != 1 {
			t.Errorf("luck %d: strata hold %v", luck, seen)
		}
	}
}

// Interpolated readings are those of the run itself.
func TestProspectMatchesRun(t *testing.T) {
	eachMember(t, 10, func(t *testing.T, m *Member) {
		load, _ := m.Car.Load(m.Setup(m.Pinion, m.Tire))
		o := m.usualOuting()
		p := m.Car.Prospect(load, o)
		r := rand.New(rand.NewPCG(3, 3))
		for range 10 {
			fate := NewFate(r)
			o.Power = m.Car.Luck.Power(fate)
			state := m.Car.Rest(m.Car.Run(load, o).End, o.Air, m.Car.Luck.ReadAfter(fate))
			air := o.Air - m.Car.Luck.AirError(fate)
			for part, got := range p.Readings(fate) {
				want := m.Car.Luck.Reading(part, air, m.Car.Parts(state)[part]-o.Air, fate)
				if math.Abs(got-want) > 0.005*(want-o.Air)+0.05 {
					t.Errorf("part %d at power %.3f: %.3f °C by interpolation, %.3f by the run", part, o.Power, got, want)
				}
			}
		}
	})
}

// Luck is as wide as it says: sd of ln power, with the spread of day and run.
func TestPowerScatter(t *testing.T) {
	for _, v := range []Variation{{Day: 0.03, Run: 0.06}, {Day: 0.03, Run: 0.06, Heavy: true}} {
		var logs []float64
		for _, f := range Fates(rand.New(rand.NewPCG(2, 2)), 20000) {
			logs = append(logs, math.Log(v.Power(f)))
		}
		if got, want := stat.StdDev(logs, nil), math.Hypot(0.03, 0.06); math.Abs(got/want-1) > 0.02 {
			t.Errorf("heavy %v: sd %.4f, want %.4f", v.Heavy, got, want)
		}
	}
}
