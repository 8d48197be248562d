package analyze

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"regear/analyze/runlog"
	"regear/analyze/units"
)

// TestDaySumsReachWrittenMatrices holds the sums of a season under every day share
// against XᵀV⁻¹X, XᵀV⁻¹y, yᵀV⁻¹y and ln|V| with the n × n matrix V = I + λ [same day]
// written out and solved.
func TestDaySumsReachWrittenMatrices(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 1))
	var runs []runlog.Run
	for day, count := range []int{1, 7, 2, 1, 12, 3} {
		for range count {
			c := driven(13+random.IntN(5), units.Minutes(5+10*random.Float64()), 20)
			c.Surface = []string{"clay", "turf", "gravel"}[random.IntN(3)]
			if random.IntN(2) == 0 {
				c = after(35, c)
			}
			runs = append(runs, ran(c, aDay(day+1), units.Celsius(60+20*random.Float64())))
		}
	}
	used := make([]*runlog.Run, len(runs))
	for i := range runs {
		used[i] = &runs[i]
	}
	all := newRows(used)
	f := &Fit{Part: runlog.Motor, Prior: PriorOf(runlog.Motor), design: all.design}
	f.Prior.DayShares = []Weighted{{0, 1}, {0.35, 1}, {1, 1}, {40, 1}}
	got, bounds := f.accumulate(f.measure(all))
	if len(bounds) != 0 {
		t.Fatalf("%d bounds in a log without heat stops", len(bounds))
	}

	n, p := len(runs), f.design.columns()
	x := mat.NewDense(n, p, nil)
	for i := range runs {
		c := ConditionsOf(used[i])
		x.SetRow(i, f.design.on(&c, f.design.rankOf(runs[i].Day())))
	}
	worst := 0.0
	hold := func(what string, got, want, size float64) {
		off := math.Abs(got-want) / size
		worst = math.Max(worst, off)
		if !(off <= 1e-13) {
			t.Errorf("%s: got %.15g, want %.15g", what, got, want)
		}
	}
	for k, tau := range f.Prior.TimeConstants {
		y := mat.NewVecDense(n, nil)
		lnRises := 0.0
		for i := range runs {
			peak, _ := runs[i].Peak.Of(runlog.Motor)
			rise, reached := riseOf(ConditionsOf(used[i]), peak, tau.Value)
			y.SetVec(i, math.Log(rise/reached))
			lnRises += math.Log(rise)
		}
		hold("Σ ln rise", got.jacobian[k], lnRises, math.Abs(lnRises))
		for share, effect := range f.Prior.DayShares {
			lambda := effect.Value
			v := mat.NewSymDense(n, nil)
			for i := range n {
				for j := range i + 1 {
					if runs[i].Day() == runs[j].Day() {
						v.SetSym(i, j, lambda)
					}
				}
				v.SetSym(i, i, 1+lambda)
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

			s := got.sums(k, share)
			size := mat.Dot(y, y)
			for i := range p {
				for j := range p {
					hold("XᵀV⁻¹X", s.xx.At(i, j), xx.At(i, j), float64(n))
				}
				hold("XᵀV⁻¹y", s.xy.AtVec(i), xy.AtVec(i), size)
			}
			hold("yᵀV⁻¹y", s.yy, mat.Dot(y, &solvedY), size)
			hold("ln|V|", s.logDet, chol.LogDet(), 1+math.Abs(chol.LogDet()))
			if s.n != float64(n) {
				t.Errorf("%g runs, want %d", s.n, n)
			}
		}
	}
	t.Logf("sums agree to %.1g of their size", worst)
}
