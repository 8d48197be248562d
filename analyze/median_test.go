package analyze

import (
	"math/rand/v2"
	"slices"
	"testing"
)

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
				t.Errorf("%d values, %s: not the same values in rising order afterwards", n, shape)
			}
		}
	}
}
