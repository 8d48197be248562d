package analyze

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// TestStudentCDF holds the sums against the table of 20 digits at every whole df that is
// summed, and against gonum between and beyond them.
func TestStudentCDF(t *testing.T) {
	const most = 2e-15
	whole := 0
	for _, r := range reference(t, "student_t_cdf.csv") {
		df, x, want := r.number(t, "df"), r.number(t, "t"), r.number(t, "cdf")
		if df != math.Trunc(df) || df > maxSummedDF {
			continue
		}
		whole++
		if got := studentCDF(x, df); math.Abs(got-want) > most {
			t.Errorf("P(t < %g) at %g df is %.17g, want %.17g", x, df, got, want)
		}
	}
	if whole == 0 {
		t.Error("the table holds no whole df")
	}
	for df := 1.0; df <= 2*maxSummedDF; df++ {
		for x := -9.0; x <= 9; x += 0.37 {
			want := distuv.StudentsT{Sigma: 1, Nu: df}.CDF(x)
			if got := studentCDF(x, df); math.Abs(got-want) > 1e-12 {
				t.Fatalf("P(t < %g) at %g df is %.17g, gonum %.17g", x, df, got, want)
			}
		}
	}
}
