package analyze

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestRootReachesKnownZeros holds the root finder against zeros that are known in
// closed form or found in another way.
func TestRootReachesKnownZeros(t *testing.T) {
	fixed := 1.0 // cos(cos(… 1))
	for range 200 {
		fixed = math.Cos(fixed)
	}
	for _, c := range []struct {
		name      string
		f         func(float64) float64
		low, high float64
		want      float64
		most      int // calls: few where the function is smooth, as the secant's
	}{
		{"a line", func(x float64) float64 { return x - 3 }, -100, 100, 3, 18},
		{"a square root", func(x float64) float64 { return x*x - 2 }, 0, 2, math.Sqrt2, 18},
		{"cosine", math.Cos, 0, 3, math.Pi / 2, 18},
		{"cos x = x", func(x float64) float64 { return math.Cos(x) - x }, 0, 1, fixed, 18},
		{"falling", func(x float64) float64 { return math.Exp(-x) - 0.5 }, 0, 50, math.Ln2, 18},
		{"a steep step", func(x float64) float64 { return math.Tanh(1e6 * (x - 0.3)) }, 0, 1, 0.3, 300},
		{"x³ = 2 from far away", func(x float64) float64 { return x*x*x - 2 }, 0, 1e6, math.Cbrt(2), 300},
		{"all but flat at one end", func(x float64) float64 { return math.Expm1(x - 1) }, -1, 700, 1, 300},
		{"a flat zero", func(x float64) float64 { return (x - 1) * (x - 1) * (x - 1) }, 0, 5, 1, 300},
		{"at the low end", func(x float64) float64 { return x }, 0, 1, 0, 2},
		{"at the high end", func(x float64) float64 { return x - 1 }, 0, 1, 1, 2},
		{"equal ends", func(x float64) float64 { return x - 1 }, 1, 1, 1, 2},
		{"ends the other way round", func(x float64) float64 { return x*x - 2 }, 2, 0, math.Sqrt2, 18},
	} {
		calls := 0
		got := Root(func(x float64) float64 { calls++; return c.f(x) }, c.low, c.high, 1e-12)
		if math.Abs(got-c.want) > 1e-11*math.Max(1, math.Abs(c.want)) {
			t.Errorf("%s: %.16g, want %.16g", c.name, got, c.want)
		}
		// A bisection every five steps at the least halves the widest bracket 60 times.
		if calls > c.most {
			t.Errorf("%s: %d calls", c.name, calls)
		}
	}
}

// TestRootLaws asks of random monotone functions that the root lies in the bracket, is
// as near as the width says, and does not depend on the functions' scale.
func TestRootLaws(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 0))
	for range 2000 {
		at := 1 + 9*random.Float64()
		steep := math.Exp(6*random.Float64() - 3)
		f := func(x float64) float64 { return math.Sinh(steep*(x-at)) + steep*(x-at) }
		low, high := at*random.Float64(), at*(1+random.Float64())
		got := Root(f, low, high, 1e-9)
		if got < low || got > high {
			t.Fatalf("%g lies outside %g to %g", got, low, high)
		}
		if math.Abs(got-at) > 1e-8*at {
			t.Fatalf("%.15g, want %.15g", got, at)
		}
		if scaled := Root(func(x float64) float64 { return -1e-3 * f(x) }, low, high, 1e-9); math.Abs(scaled-got) > 1e-8*at {
			t.Fatalf("%.15g, but %.15g after scaling", got, scaled)
		}
	}
}

// TestRootWithoutCrossing asks for the better end where rounding leaves no crossing.
func TestRootWithoutCrossing(t *testing.T) {
	if got := Root(func(x float64) float64 { return 1 + x }, 0, 1, 1e-9); got != 0 {
		t.Errorf("%g, want the low end", got)
	}
	if got := Root(func(x float64) float64 { return 2 - x }, 0, 1, 1e-9); got != 1 {
		t.Errorf("%g, want the high end", got)
	}
}

// TestMedianByHand holds median against what anyone would say.
func TestMedianByHand(t *testing.T) {
	for _, c := range []struct {
		values []float64
		want   float64
	}{{[]float64{3}, 3}, {[]float64{4, 1}, 2.5}, {[]float64{5, 1, 2}, 2}, {[]float64{7, 1, 7, 1}, 4}, {[]float64{9, -1, 100, 2, 2}, 2}} {
		if got := median(slices.Clone(c.values)); got != c.want {
			t.Errorf("the median of %v is %g, want %g", c.values, got, c.want)
		}
	}
}

// TestMedianOfManyShapes holds median against the definition, on values of every order.
// (No quantile of gonum's is the median: [stat.LinInterp] puts
// that of 1, 2, 3 at 1.5.)
func TestMedianOfManyShapes(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 1))
	for _, n := range []int{1, 2, 3, 4, 5, 6, 17, 100, 1001} {
		for shape, value := range map[string]func(i int) float64{
			"scattered":    func(int) float64 { return random.NormFloat64() },
			"rising":       func(i int) float64 { return float64(i) },
			"falling":      func(i int) float64 { return float64(-i) },
			"all the same": func(int) float64 { return 3 },
			"few values":   func(int) float64 { return float64(random.IntN(3)) },
			"a gable":      func(i int) float64 { return float64(min(i, n-i)) },
			"a comb":       func(i int) float64 { return float64(i % 2 * i) },
		} {
			v := make([]float64, n)
			for i := range v {
				v[i] = value(i)
			}
			sorted := slices.Sorted(slices.Values(v))
			want := (sorted[(n-1)/2] + sorted[n/2]) / 2
			if got := median(v); got != want {
				t.Errorf("%d values, %s: median %g, want %g", n, shape, got, want)
			}
			if !slices.Equal(v, sorted) {
				t.Errorf("%d values, %s: left in the order %v", n, shape, v)
			}
		}
	}
}
