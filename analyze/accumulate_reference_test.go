package analyze

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"gonum.org/v1/gonum/mat"

	"regear/analyze/run"
	"regear/analyze/units"
)

// unevenSeason is a log of six days with one to twelve runs each: three surfaces, warm
// starts, runs that followed another after a few minutes, and some that heat stopped.
func unevenSeason(stops bool) []run.Run {
	random := rand.New(rand.NewPCG(3, 1))
	var runs []run.Run
	for day, count := range []int{1, 7, 2, 1, 12, 3} {
		at := aDay(day + 1).Add(9 * time.Hour)
		for range count {
			c := driven(13+random.IntN(5), units.Minutes(5+10*random.Float64()), units.Celsius(18+5*random.Float64()))
			c.Surface = []string{"clay", "turf", "gravel"}[random.IntN(3)]
			if random.IntN(3) == 0 {
				c = after(35, c)
			}
			at = at.Add(time.Duration(10+random.IntN(20)) * time.Minute)
			r := ran(c, at, units.Celsius(70+20*random.Float64()))
			r.HasTime = true
			// One on a day without another plain run, too.
			if stops && (random.IntN(3) == 0 || day == 0) {
				r = stopped(r)
			}
			runs = append(runs, r)
		}
	}
	return runs
}

// TestDaySumsReachWrittenMatrices holds the sums of a season under every world and day share
// against XᵀV⁻¹X, XᵀV⁻¹y, yᵀV⁻¹y and ln|V| with the n × n matrix V = D + λ [same day]
// written out and solved: D is 1, and for a heat stop of excess e 1 + (e/3)²/σ².
func TestDaySumsReachWrittenMatrices(t *testing.T) {
	for _, of := range []struct {
		name             string
		stops            bool
		variance, excess float64
	}{
		{"no heat stops", false, 1, 0},
		{"heat stops hardly cut short", true, 0.01, 0.02},
		{"heat stops cut short", true, 0.003, 0.3},
	} {
		t.Run(of.name, func(t *testing.T) {
			runs := unevenSeason(of.stops)
			used := make([]*run.Run, len(runs))
			for i := range runs {
				used[i] = &runs[i]
			}
			all := newRows(used, nil)
			f := &Fit{Part: run.Motor, Prior: PriorOf(run.Motor), design: all.design}
			f.Prior.DayShares = []Weighted{{0, 1}, {0.35, 1}, {1, 1}, {40, 1}}
			var worlds []world
			for _, tau := range f.Prior.TimeConstants {
				worlds = append(worlds, world{tau.Value, 0}, world{tau.Value, 0.3})
			}
			m := f.measure(all)
			got := f.accumulate(m, worlds)
			holdSums(t, runs, m, got, worlds, f.Prior.DayShares, of.variance, of.excess)
		})
	}
}

// holdSums holds the sums for every world and day share against written matrices.
func holdSums(t *testing.T, runs []run.Run, m *measured, got *accumulated, worlds []world, shares []Weighted, variance, excess float64) {
	t.Helper()
	n, p := len(runs), m.columns()
	x := mat.NewDense(n, p, nil)
	plain := 0
	followed := 0
	for i := range runs {
		c := ConditionsOf(&runs[i])
		x.SetRow(i, m.on(&c, m.rankOf(runs[i].Day())))
		if !runs[i].StoppedByHeat {
			plain++
		}
		if m.start[i].followed {
			followed++
		}
	}
	stops := 0
	for _, day := range got.stopDays {
		stops += len(day.stops)
	}
	if len(m.at) != n || got.plain.n != float64(plain) || stops != n-plain || followed < 3 {
		t.Fatalf("%d runs used, %g plain, %d stopped, %d followed another", len(m.at), got.plain.n, stops, followed)
	}
	var near worst
	hold := func(what string, got, want, size float64) {
		if !near.holds(got/size, want/size, 1e-12) {
			t.Errorf("%s: got %.15g, want %.15g", what, got, want)
		}
	}
	for k, w := range worlds {
		y := mat.NewVecDense(n, nil)
		lnRises := 0.0
		for i := range runs {
			rise, share := writtenRise(runs, i, w)
			y.SetVec(i, math.Log(rise/share))
			if runs[i].StoppedByHeat {
				y.SetVec(i, y.AtVec(i)+excess)
			}
			lnRises += math.Log(rise)
		}
		hold("Σ ln rise", got.jacobian[k], lnRises, math.Abs(lnRises))
		for share, effect := range shares {
			v := mat.NewSymDense(n, nil)
			for i := range n {
				for j := range i + 1 {
					if runs[i].Day() == runs[j].Day() {
						v.SetSym(i, j, effect.Value)
					}
				}
				own := 1.0
				if runs[i].StoppedByHeat {
					own += excess * excess / 9 / variance
				}
				v.SetSym(i, i, own+effect.Value)
			}
			var chol mat.Cholesky
			if !chol.Factorize(v) {
				t.Fatal("V is not positive definite")
			}
			var solvedX, xx mat.Dense
			var solvedY, xy mat.VecDense
			if err := chol.SolveTo(&solvedX, x); err != nil {
				t.Fatal(err)
			}
			if err := chol.SolveVecTo(&solvedY, y); err != nil {
				t.Fatal(err)
			}
			xx.Mul(x.T(), &solvedX)
			xy.MulVec(x.T(), &solvedY)

			s := got.sums(share, variance, excess)
			size := mat.Dot(y, y)
			for i := range p {
				for j := range p {
					hold("XᵀV⁻¹X", s.xx.At(i, j), xx.At(i, j), float64(n))
				}
				hold("XᵀV⁻¹y", s.xy.At(i, k), xy.AtVec(i), size)
			}
			hold("yᵀV⁻¹y", s.yy[k], mat.Dot(y, &solvedY), size)
			hold("ln|V|", s.logDet, chol.LogDet(), 1+math.Abs(chol.LogDet()))
			if s.n != float64(n) {
				t.Errorf("%g runs, want %d", s.n, n)
			}
		}
	}
	t.Logf("sums agree to %.1g of their size", near.off)
}
