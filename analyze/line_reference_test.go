package analyze

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// certified returns what NIST certifies of a data set.
func certified(t *testing.T, set string) map[string]float64 {
	t.Helper()
	values := map[string]float64{}
	for _, row := range reference(t, "nist_certified.csv") {
		if row["dataset"] != set || row["certified_value"] == "Infinity" {
			continue
		}
		key := row["quantity"]
		if row["parameter"] != "" {
			key = row["parameter"] + " " + key
		}
		values[key] = row.number(t, "certified_value")
	}
	if len(values) == 0 {
		t.Fatalf("nothing is certified of %q", set)
	}
	return values
}

// TestLineReachesNorris holds the plain line against NIST StRD, Norris.
func TestLineReachesNorris(t *testing.T) {
	want := certified(t, "Norris")
	y, x := points(t, "nist_norris.csv")
	l, err := fitLine(column(x, 0), y)
	if err != nil {
		t.Fatal(err)
	}
	table := newDigitsTable(t)
	table.check("norris", "intercept", l.Intercept, want["B0 estimate"], 12)
	table.check("norris", "se(intercept)", l.InterceptStdErr, want["B0 std_error"], 13)
	table.check("norris", "slope", l.Slope, want["B1 estimate"], 13.5)
	table.check("norris", "se(slope)", l.SlopeStdErr, want["B1 std_error"], 13)
	table.check("norris", "residual sd", l.ResidualSD, want["residual_sd"], 13)
	table.check("norris", "R squared", l.RSquared, want["r_squared"], 14)
	table.log()
	if l.DF != int(want["residual_df"]) || l.N != len(y) || !l.HasRSquared {
		t.Errorf("n %d, df %d, R² given %v; want %d, %g, true", l.N, l.DF, l.HasRSquared, len(y), want["residual_df"])
	}
}

// TestLineReachesR holds the plain line and its two intervals against R's lm() and
// predict() on cars and faithful.
func TestLineReachesR(t *testing.T) {
	table := newDigitsTable(t)
	for _, set := range []string{"cars", "faithful"} {
		y, x := points(t, "r_"+set+".csv")
		l, err := fitLine(column(x, 0), y)
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range reference(t, "r_coefficients.csv") {
			if row["case"] != set {
				continue
			}
			value, stdErr := l.Slope, l.SlopeStdErr
			if row["term"] == "intercept" {
				value, stdErr = l.Intercept, l.InterceptStdErr
			}
			table.check(set, "coefficients", value, row.number(t, "estimate"), 12)
			table.check(set, "their errors", stdErr, row.number(t, "std_error"), 12)
			table.check(set, "residual sd", l.ResidualSD, row.number(t, "residual_sd"), 13)
			table.check(set, "R squared", l.RSquared, row.number(t, "r_squared"), 13)
		}
		for _, row := range reference(t, "r_predictions.csv") {
			if row["case"] != set {
				continue
			}
			interval := l.Mean
			if row["interval"] == "prediction" {
				interval = l.NextRun
			}
			got := interval(row.number(t, "x"), row.number(t, "level"))
			table.check(set, row["interval"], got.Value, row.number(t, "fit"), 11)
			table.check(set, row["interval"], got.Low, row.number(t, "lower"), 11)
			table.check(set, row["interval"], got.High, row.number(t, "upper"), 11)
		}
	}
	table.log()
}

// TestLineReachesStudent holds how wide the slope's interval is, in standard errors, against
// 20-digit quantiles of Student's t, for lines through 3 to 1002 points.
func TestLineReachesStudent(t *testing.T) {
	table := newDigitsTable(t)
	for _, q := range reference(t, "student_t_quantiles.csv") {
		df, p := q.number(t, "df"), q.number(t, "p")
		if df != math.Trunc(df) || df > 1000 || p <= 0.5 {
			continue
		}
		x, y := make([]float64, int(df)+2), make([]float64, int(df)+2)
		for i := range x {
			x[i], y[i] = float64(i), math.Sin(float64(i))
		}
		l, err := fitLine(x, y)
		if err != nil {
			t.Fatal(err)
		}
		got := l.SlopeInterval(2*p - 1)
		table.check("slope", "quantile", (got.High-got.Low)/2/l.SlopeStdErr, q.number(t, "quantile"), 11.5)
	}
	table.log()
}

// TestLineSlopeInterval holds the slope's interval against confint(), which is
// estimate ± qt(·, df)·se: here with R's estimate, error and 20-digit quantiles.
func TestLineSlopeInterval(t *testing.T) {
	y, x := points(t, "r_cars.csv")
	l, err := fitLine(column(x, 0), y)
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range reference(t, "student_t_quantiles.csv") {
		p := q.number(t, "p")
		if q["df"] != "48" || p <= 0.5 {
			continue
		}
		for _, row := range reference(t, "r_coefficients.csv") {
			if row["case"] != "cars" || row["term"] != "speed" {
				continue
			}
			half := q.number(t, "quantile") * row.number(t, "std_error")
			got := l.SlopeInterval(2*p - 1)
			if apart(got.Low, row.number(t, "estimate")-half) > 1e-11 || apart(got.High, row.number(t, "estimate")+half) > 1e-11 {
				t.Errorf("level %g: %v, want ± %g", 2*p-1, got, half)
			}
		}
	}
}

// TestLineRefuses asks for lines through points that determine none.
func TestLineRefuses(t *testing.T) {
	for _, c := range []struct {
		name string
		x, y []float64
	}{
		{"nothing", nil, nil},
		{"one point", []float64{1}, []float64{2}},
		{"two points", []float64{1, 2}, []float64{2, 3}},
		{"one place", []float64{4, 4, 4, 4}, []float64{1, 2, 3, 4}},
	} {
		if l, err := fitLine(c.x, c.y); !errors.Is(err, ErrNoLine) {
			t.Errorf("%s: %+v, %v", c.name, l, err)
		}
	}
}

// TestLineLaws asks what must hold of any least-squares line: it runs through the
// middle, its residuals have no sum and no slope of their own, moving the points
// moves the line along, and one further run is less sure than the mean of many.
func TestLineLaws(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	for range 200 {
		n := 3 + random.IntN(20)
		x, y := make([]float64, n), make([]float64, n)
		movedX, movedY := make([]float64, n), make([]float64, n)
		var meanX, meanY float64
		for i := range x {
			x[i] = 20 + 10*random.NormFloat64()
			y[i] = 50 + random.NormFloat64()*20 - x[i]
			movedX[i], movedY[i] = x[i]+1e4, 1.8*y[i]+32
			meanX += x[i] / float64(n)
			meanY += y[i] / float64(n)
		}
		l, err := fitLine(x, y)
		if err != nil {
			t.Fatal(err)
		}
		var sum, moment, squares float64
		for i := range x {
			r := y[i] - l.Intercept - l.Slope*x[i]
			sum += r
			moment += r * (x[i] - meanX)
			squares += r * r
		}
		size := 1e-10 * float64(n) * (1 + math.Abs(meanY)) * (1 + math.Abs(meanX))
		if math.Abs(sum) > size || math.Abs(moment) > size {
			t.Errorf("residuals add up to %g with moment %g", sum, moment)
		}
		if apart(l.ResidualSD*l.ResidualSD*float64(l.DF), squares) > 1e-8 {
			t.Errorf("residual sd %g, squares %g", l.ResidualSD, squares)
		}
		if at := l.Mean(meanX, 0.8); apart(at.Value, meanY) > 1e-9 {
			t.Errorf("at the middle %g, want %g", at.Value, meanY)
		}
		for _, at := range []float64{0, meanX, 60} {
			mean, next := l.Mean(at, 0.8), l.NextRun(at, 0.8)
			if !(next.Low < mean.Low && mean.Low < mean.High && mean.High < next.High) {
				t.Errorf("at %g the mean lies in %v, the next run in %v", at, mean, next)
			}
		}
		moved, err := fitLine(movedX, movedY)
		if err != nil {
			t.Fatal(err)
		}
		if apart(moved.Slope, 1.8*l.Slope) > 1e-7 || math.Abs(moved.RSquared-l.RSquared) > 1e-7 {
			t.Errorf("moved: slope %g, R² %g; before %g, %g", moved.Slope, moved.RSquared, l.Slope, l.RSquared)
		}
	}
}

// TestLineWithoutScatter fits points that lie on a line, and points all of one height.
func TestLineWithoutScatter(t *testing.T) {
	x := []float64{1, 2, 3, 4}
	l, err := fitLine(x, []float64{3, 5, 7, 9})
	if err != nil || l.Slope != 2 || l.Intercept != 1 || l.ResidualSD != 0 || l.RSquared != 1 {
		t.Errorf("on a line: %+v, %v", l, err)
	}
	l, err = fitLine(x, []float64{5, 5, 5, 5})
	if err != nil || l.Slope != 0 || l.HasRSquared {
		t.Errorf("flat: %+v, %v", l, err)
	}
}
