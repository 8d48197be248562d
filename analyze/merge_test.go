package analyze

import (
	"math"
	"math/rand/v2"
	"testing"

	"regear/analyze/units"
)

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
