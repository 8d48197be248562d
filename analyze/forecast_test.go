package analyze

import (
	"math"
	"math/rand/v2"
	"testing"

	"regear/analyze/run"
	"regear/analyze/units"
)

// A forecast answers for every length as one made for that length does, to the last bit,
// warm starts and all.
func TestForecastServesEveryLength(t *testing.T) {
	car := fitted(t, season(20, 3))
	next := ConditionsOf(car.Last)
	limits := Limits{}.With(run.Motor, 80).With(run.ESC, 75).With(run.Battery, 60)
	for _, start := range []units.Celsius{0, 45} {
		if start > 0 {
			next.Start.Set(run.Motor, start)
		}
		forecast := car.Forecast(next)
		for _, minutes := range []units.Minutes{0.1, 3, 12, next.Minutes, 60, 1000} {
			alone := next
			alone.Minutes = minutes
			lasting := forecast.Lasting(minutes)
			if got, want := lasting.Under(limits), car.Under(alone, limits); got.All != want.All || got.Part.Len() != want.Part.Len() {
				t.Errorf("%g minutes from %g °C: chance %v, alone %v", minutes, start, got, want)
			}
			for _, fit := range car.Fits() {
				if got, want := lasting.Part(fit.Part).Quantile(0.9), fit.Predict(alone).Quantile(0.9); got != want {
					t.Errorf("%g minutes from %g °C: %s at most %g °C, alone %g", minutes, start, fit.Part, got, want)
				}
			}
			if got, want := forecast.Under(limits).All, car.Under(next, limits).All; got != want {
				t.Fatalf("looking at %g minutes changed the forecast itself", minutes)
			}
		}
	}
}

// Cars that differ by letter case or blanks are one, by the first spelling.
func TestCarsBySpelling(t *testing.T) {
	runs := season(4, 1)
	for i, name := range []string{"Heron", "heron ", "gull", "HERON"} {
		runs[i].Car = name
	}
	names, byCar := Cars(runs)
	if len(names) != 2 || len(byCar["Heron"]) != 3 || len(byCar["gull"]) != 1 {
		t.Fatalf("%v: %d and %d runs", names, len(byCar["Heron"]), len(byCar["gull"]))
	}
	for _, r := range byCar["Heron"] {
		if r.Car != "Heron" {
			t.Errorf("a run of %q among those of Heron", r.Car)
		}
	}
	if runs[1].Car != "heron " {
		t.Error("the log itself was changed")
	}
	if got, ok := CarNamed(" hERON", names); !ok || got != "Heron" {
		t.Errorf("hERON is %q, %v", got, ok)
	}
}

// TestResidualCorrelationByHand: eight runs at 0.6 are believed before, and every pair of
// parts adds its runs at their correlation about 0, Σpq/√(Σp²Σq²), within 0 and 0.95.
func TestResidualCorrelationByHand(t *testing.T) {
	log := make([]*run.Run, 100)
	for i := range log {
		log[i] = &run.Run{StoppedByHeat: i == 3}
	}
	// of returns a part that was read in some runs, with these residuals.
	of := func(at []int, residuals ...float64) *Fit {
		f := &Fit{residuals: residuals}
		for _, i := range at {
			f.used = append(f.used, log[i])
		}
		return f
	}
	motor := of([]int{0, 1, 2, 3}, 0.1, -0.2, 0.2, 5)
	// In the runs 0 and 2: Σpq = 0.02, Σp² = 0.05, Σq² = 0.02.
	esc := of([]int{0, 2, 3, 4}, -0.1, 0.1, -5, 7)
	pair := 0.01 / math.Sqrt(0.05*0.02)
	// In the runs 1 and 2 with the motor: Σpq = 0.06, Σp² = 0.08, Σq² = 0.05; in 2 alone
	// with the ESC: 1.
	battery := of([]int{1, 2}, -0.1, 0.2)

	all := make([]int, len(log))
	same, opposite := make([]float64, len(log)), make([]float64, len(log))
	for i := range all {
		all[i] = i
		same[i] = 0.05 * float64(1-2*(i%2))
		opposite[i] = -same[i]
	}
	for _, c := range []struct {
		what  string
		parts []*Fit
		want  float64
	}{
		{"nothing known", nil, 0.6},
		{"one part", []*Fit{motor}, 0.6},
		{"two parts, two runs in common that heat did not stop", []*Fit{motor, esc}, (4.8 + 2*pair) / 10},
		{"three parts", []*Fit{motor, esc, battery}, (4.8 + 2*pair + 2*0.06/math.Sqrt(0.08*0.05) + 1) / 13},
		{"no residuals to speak of", []*Fit{of([]int{0, 1}, 0, 0), of([]int{0, 1}, 0.1, 0.1)}, 0.6},
		{"always alike", []*Fit{of(all, same...), of(all, same...)}, 0.95},
		{"always opposite", []*Fit{of(all, same...), of(all, opposite...)}, 0},
	} {
		if got := residualCorrelation(log, c.parts); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %.12g, want %.12g", c.what, got, c.want)
		}
	}
}

// earlyCar is an invented car with one time constant, so that a rise part-way and one at the
// end differ by what has been reached alone.
func earlyCar(t *testing.T) (*Fit, Prior) {
	t.Helper()
	p := PriorOf(run.Motor)
	p.TimeConstants = []Weighted{{6, 1}}
	return motorFit(t, p, []run.Run{
		ran(driven(15, 8, 20), aDay(1), 62), ran(driven(16, 8, 20), aDay(1), 69), ran(driven(17, 8, 20), aDay(2), 74),
	}), p
}

// TestStopAboveOfOneRunThrough: where all that scatters is the run's, the rise at the end is
// that part-way times what is then reached more, and so is the limit's:
//
//	stop - air = (limit - air) (1 - exp(-early/τ)) / (1 - exp(-minutes/τ))
func TestStopAboveOfOneRunThrough(t *testing.T) {
	f, _ := earlyCar(t)
	next := driven(16, 10, 24)
	for _, early := range []units.Minutes{2, 5, 9} {
		want := 24 + (75-24)*(1-math.Exp(-float64(early)/6))/(1-math.Exp(-10./6))
		if got, ok := f.StopAbove(next, early, 75, 1-1e-9); !ok || math.Abs(float64(got)-want) > 0.01 {
			t.Errorf("%g minutes: %.3f °C (%v), want %.3f", float64(early), float64(got), ok, want)
		}
	}
	if _, ok := f.StopAbove(next, 5, 25, 0.6); ok {
		t.Error("a limit a kelvin above the air has a reading that leaves hope")
	}
	if got, ok := f.StopAbove(next, 5, 200, 0.6); !ok || got > 200 {
		t.Errorf("a limit that nothing reaches: stop above %.1f °C (%v)", float64(got), ok)
	}
}

// TestStopAboveLeavesHalf draws runs, their readings part-way and at the end, as StopAbove's
// comment says they belong together: of those that read the stop, half pass the limit.
func TestStopAboveLeavesHalf(t *testing.T) {
	f, p := earlyCar(t)
	next := driven(16, 10, 24)
	const early, limit, shared, near, draws = 5, 78, 0.6, 0.4, 1_500_000
	stop, ok := f.StopAbove(next, early, limit, shared)
	if !ok {
		t.Fatal("no reading to stop at")
	}
	tau := p.TimeConstants[0].Value
	random := rand.New(rand.NewPCG(11, 2))
	x := f.design.next(&next)
	var reads, passes float64
	for i := range f.components {
		k := &f.components[i]
		mean, variance := k.along(k.basis.at(x))
		for range int(math.Round(k.weight * draws)) {
			normal := func(variance float64) float64 { return math.Sqrt(variance) * random.NormFloat64() }
			both := mean + normal(variance+k.variance*(k.day+shared))
			then := 24 + math.Exp(both+normal(k.variance*(1-shared)))*Heating(early, tau)
			last := 24 + math.Exp(both+normal(k.variance*(1-shared)))*Heating(10, tau)
			if math.Abs(then-float64(stop)) < near {
				reads++
				if last > limit {
					passes++
				}
			}
		}
	}
	// Three standard errors, and the slope over the readings that count as near.
	if share := passes / reads; math.Abs(share-0.5) > 3*math.Sqrt(0.25/reads)+0.01 || reads < 2000 {
		t.Errorf("of %.0f runs that read %.2f °C at %d minutes %.3f pass the limit", reads, float64(stop), early, share)
	}
}

// TestMergingCostsNextToNothing asks of logs of one to fourteen runs, some with heat stops,
// that a forecast differs from one in which nothing is merged by a hundredth of what an
// answer prints, at every temperature, and that it is shorter.
func TestMergingCostsNextToNothing(t *testing.T) {
	const most = 1e-4
	var near worst
	merged, whole := 0, 0
	for _, seed := range []uint64{0, 1, 4, 6, 9} {
		for _, n := range []int{1, 2, 4, 6, 9, 14} {
			runs := season(n, seed)
			if seed%3 == 1 && n > 2 {
				runs[1], runs[n-1] = stopped(runs[1]), stopped(runs[n-1])
			}
			car := fitted(t, runs)
			for _, next := range []Conditions{on("turf", driven(16, 12, 24)), on("clay", after(40, driven(18, 8, 20)))} {
				for _, f := range car.Fits() {
					got, want := f.Predict(next), unmerged(f, next)
					merged, whole = merged+len(got.parts), whole+len(want.parts)
					for c := units.Celsius(25); c < 150; c++ {
						if !near.holds(got.CDF(c), want.CDF(c), most) {
							t.Errorf("seed %d, %d runs, %s under %g °C: %.6f, unmerged %.6f", seed, n, f.Part, c, got.CDF(c), want.CDF(c))
						}
					}
				}
			}
		}
	}
	t.Logf("chances differ by %.2g at most; %.2f of the components are left", near.off, float64(merged)/float64(whole))
	if merged > whole*2/3 {
		t.Errorf("%d of %d components are left", merged, whole)
	}
}

// TestMergingKeepsMoments asks of components drawn at random that merging keeps the weight,
// the mean and the variance of all that share a time constant, and never joins two that
// don't.
func TestMergingKeepsMoments(t *testing.T) {
	random := rand.New(rand.NewPCG(6, 1))
	type moments struct{ weight, mean, square float64 }
	of := func(parts []mixed) map[float64]moments {
		all := map[float64]moments{}
		for _, p := range parts {
			m := all[p.tau]
			m.weight += p.weight
			m.mean += p.weight * p.plateau
			m.square += p.weight * (p.plateau*p.plateau + p.scale*p.scale)
			all[p.tau] = m
		}
		return all
	}
	for range 200 {
		parts := make([]mixed, 1+random.IntN(60))
		for i := range parts {
			parts[i] = mixed{
				weight: random.Float64(), tau: []float64{3, 6, 9}[random.IntN(3)],
				plateau: 4 + 0.03*random.NormFloat64(), scale: 0.1 * math.Exp(0.1*random.NormFloat64()),
			}
		}
		before, after := of(parts), of(merge(parts))
		if len(before) != len(after) {
			t.Fatalf("%d time constants, %d after merging", len(before), len(after))
		}
		for tau, b := range before {
			a := after[tau]
			if math.Abs(a.weight-b.weight) > 1e-12 || math.Abs(a.mean-b.mean) > 1e-11 || math.Abs(a.square-b.square) > 1e-10 {
				t.Errorf("time constant %g: %v, after merging %v", tau, b, a)
			}
		}
	}
	twins := []mixed{{weight: 0.4, tau: 5, plateau: 4, scale: 0.1}, {weight: 0.6, tau: 5, plateau: 4, scale: 0.1}}
	if got := merge(twins); len(got) != 1 || math.Abs(got[0].weight-1) > 1e-15 || math.Abs(got[0].scale-0.1) > 1e-15 {
		t.Errorf("twins become %v", got)
	}
}
