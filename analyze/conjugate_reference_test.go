package analyze

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// sumsOf returns the regression's sums over rows of independent responses.
func sumsOf(y []float64, rows [][]float64) sums {
	p := len(rows[0])
	s := sums{xx: mat.NewSymDense(p, nil), xy: mat.NewVecDense(p, nil), n: float64(len(y))}
	for i, row := range rows {
		x := mat.NewVecDense(p, row)
		s.xx.SymRankOne(s.xx, 1, x)
		s.xy.AddScaledVec(s.xy, y[i], x)
		s.yy += y[i] * y[i]
	}
	return s
}

// flatPrior is the limit p(β, σ²) ∝ 1/σ² in which the conjugate regression is
// ordinary least squares: no precision, shape -p/2, rate 0.
func flatPrior(p int) normalInverseGamma {
	return normalInverseGamma{mean: mat.NewVecDense(p, nil), precision: mat.NewSymDense(p, nil), shape: -float64(p) / 2}
}

// scaling brings one regressor to (x-middle)/width, as the fit's own columns are
// brought to the log's middle.
type scaling struct{ middle, width float64 }

// leastSquares is a flat-prior posterior over a constant and scaled regressors.
type leastSquares struct {
	*posterior
	scales []scaling
}

// newLeastSquares fits y by a constant and the columns of x.
func newLeastSquares(t *testing.T, y []float64, x [][]float64) leastSquares {
	t.Helper()
	l := leastSquares{scales: make([]scaling, len(x[0]))}
	for j := range l.scales {
		for i := range x {
			l.scales[j].middle += x[i][j] / float64(len(x))
		}
		for i := range x {
			l.scales[j].width = math.Max(l.scales[j].width, math.Abs(x[i][j]-l.scales[j].middle))
		}
	}
	rows := make([][]float64, len(x))
	for i := range x {
		rows[i] = l.row(x[i])
	}
	l.posterior = flatUpdate(t, y, rows)
	return l
}

func flatUpdate(t *testing.T, y []float64, rows [][]float64) *posterior {
	t.Helper()
	post, err := flatPrior(len(rows[0])).update(sumsOf(y, rows))
	if err != nil {
		t.Fatal(err)
	}
	return post
}

// row returns the regression's row at x.
func (l leastSquares) row(x []float64) []float64 {
	row := []float64{1}
	for j, s := range l.scales {
		row = append(row, (x[j]-s.middle)/s.width)
	}
	return row
}

// coefficient returns the combination of the scaled coefficients that is the
// coefficient of x_j in its own unit, or the intercept at j = -1.
func (l leastSquares) coefficient(j int) []float64 {
	c := make([]float64, len(l.scales)+1)
	if j >= 0 {
		c[j+1] = 1 / l.scales[j].width
		return c
	}
	c[0] = 1
	for i, s := range l.scales {
		c[i+1] = -s.middle / s.width
	}
	return c
}

// nistDigits are the significant digits that one NIST set has to reach.
type nistDigits struct {
	estimate, stdErr, residualSD float64
}

// checkNIST holds the combinations that give the certified coefficients, in their
// order, against what NIST certifies.
func checkNIST(t *testing.T, table *digitsTable, set string, y []float64, post *posterior, combinations [][]float64, names []string, least nistDigits) {
	t.Helper()
	want := certified(t, set)
	for i, c := range combinations {
		value, scale2 := post.along(c)
		table.check(set, "estimates", value, want[names[i]+" estimate"], least.estimate)
		if want["residual_sd"] > 0 {
			table.check(set, "their errors", math.Sqrt(scale2), want[names[i]+" std_error"], least.stdErr)
		}
	}
	if want["residual_sd"] > 0 {
		table.check(set, "residual sd", math.Sqrt(post.variance()), want["residual_sd"], least.residualSD)
	} else if sd := math.Sqrt(post.variance()); sd > 1e-7*floats.Norm(y, math.Inf(1)) {
		// A sum of squares that should be 0 keeps the rounding of Σ y², so its root keeps
		// half the digits.
		t.Errorf("%s: residual sd %g where none is certified", set, sd)
	}
	if post.df() != want["residual_df"] {
		t.Errorf("%s: df %g, want %g", set, post.df(), want["residual_df"])
	}
}

// TestConjugateReachesNIST holds the conjugate regression in its flat limit against
// the NIST StRD sets for linear regression. It works on sums, as normal equations
// do, so the digits fall with the square of the design's condition; what is asked
// is what is reached, less a digit at most.
func TestConjugateReachesNIST(t *testing.T) {
	table := newDigitsTable(t)

	y, x := points(t, "nist_norris.csv")
	norris := newLeastSquares(t, y, x)
	checkNIST(t, table, "Norris", y, norris.posterior, [][]float64{norris.coefficient(-1), norris.coefficient(0)},
		[]string{"B0", "B1"}, nistDigits{11, 10, 10})

	y, x = points(t, "nist_longley.csv")
	longley := newLeastSquares(t, y, x)
	combinations, names := [][]float64{longley.coefficient(-1)}, []string{"B0"}
	for j := range x[0] {
		combinations = append(combinations, longley.coefficient(j))
		names = append(names, "B"+string(rune('1'+j)))
	}
	checkNIST(t, table, "Longley", y, longley.posterior, combinations, names, nistDigits{10, 11, 11})

	for _, set := range []struct {
		name, file string
		least      nistDigits
	}{
		{"NoInt1", "nist_noint1.csv", nistDigits{14, 13, 13}},
		{"NoInt2", "nist_noint2.csv", nistDigits{14, 13, 13}},
	} {
		y, x := points(t, set.file)
		checkNIST(t, table, set.name, y, flatUpdate(t, y, x), [][]float64{{1}}, []string{"B1"}, set.least)
	}

	for _, set := range []struct {
		name, file string
		degree     int
		least      nistDigits
	}{
		{"Pontius", "nist_pontius.csv", 2, nistDigits{11, 8, 8}},
		{"Wampler1", "nist_wampler1.csv", 5, nistDigits{estimate: 7.5}},
		{"Wampler2", "nist_wampler2.csv", 5, nistDigits{estimate: 10.5}},
		{"Wampler3", "nist_wampler3.csv", 5, nistDigits{7.5, 10, 10}},
		{"Wampler4", "nist_wampler4.csv", 5, nistDigits{7.5, 13, 14}},
		{"Wampler5", "nist_wampler5.csv", 5, nistDigits{7.5, 13, 14}},
	} {
		y, x := points(t, set.file)
		z := newLeastSquares(t, y, x).scales[0]
		rows := make([][]float64, len(x))
		for i := range x {
			rows[i] = powers((x[i][0]-z.middle)/z.width, set.degree)
		}
		combinations, names := make([][]float64, set.degree+1), make([]string, set.degree+1)
		for k := range combinations {
			combinations[k] = z.power(k, set.degree)
			names[k] = "B" + string(rune('0'+k))
		}
		checkNIST(t, table, set.name, y, flatUpdate(t, y, rows), combinations, names, set.least)
	}
	table.log()
}

// powers returns 1, z, z², …, z^degree.
func powers(z float64, degree int) []float64 {
	p := []float64{1}
	for len(p) <= degree {
		p = append(p, p[len(p)-1]*z)
	}
	return p
}

// power returns how the coefficients of 1, z, z², … with z = (x-middle)/width add up
// to the coefficient of x^k, by the binomial theorem.
func (s scaling) power(k, degree int) []float64 {
	c := make([]float64, degree+1)
	for j := k; j <= degree; j++ {
		choose := 1.0
		for i := range k {
			choose = choose * float64(j-i) / float64(i+1)
		}
		c[j] = choose * math.Pow(-s.middle, float64(j-k)) / math.Pow(s.width, float64(j))
	}
	return c
}

// TestConjugateReachesR holds the flat limit against R's lm() and predict(): the
// coefficients, their errors and both intervals, at 80 and 95 %.
func TestConjugateReachesR(t *testing.T) {
	table := newDigitsTable(t)
	coefficients, predictions := reference(t, "r_coefficients.csv"), reference(t, "r_predictions.csv")
	for _, set := range []struct {
		name                    string
		coefficients, intervals float64 // digits asked
	}{
		{"cars", 13.5, 12.5}, {"faithful", 13.5, 13}, {"trees", 13, 13.5}, {"rock", 12.5, 13},
		{"mtcars", 11.5, 12.5}, {"stackloss", 13.5, 13.5}, {"women", 10.5, 12}, {"longley", 10, 12},
	} {
		y, x := points(t, "r_"+set.name+".csv")
		l := newLeastSquares(t, y, x)
		j := -1
		for _, row := range coefficients {
			if row["case"] != set.name {
				continue
			}
			value, scale2 := l.along(l.coefficient(j))
			table.check(set.name, "coefficients", value, row.number(t, "estimate"), set.coefficients)
			table.check(set.name, "their errors", math.Sqrt(scale2), row.number(t, "std_error"), set.coefficients)
			j++
		}
		for _, row := range predictions {
			if row["case"] != set.name {
				continue
			}
			value, scale2 := l.along(l.row(parseVector(t, row["x"])))
			if row["interval"] == "prediction" {
				scale2 += l.variance()
			}
			student := distuv.StudentsT{Sigma: 1, Nu: l.df()}
			half := student.Quantile((1+row.number(t, "level"))/2) * math.Sqrt(scale2)
			table.check(set.name, row["interval"], value, row.number(t, "fit"), set.intervals)
			table.check(set.name, row["interval"], value-half, row.number(t, "lower"), set.intervals)
			table.check(set.name, row["interval"], value+half, row.number(t, "upper"), set.intervals)
		}
	}
	table.log()
}

// TestConjugateReachesWorkedPosteriors holds proper priors against conjugate.R, which
// finds the posterior by QR on the data with prior pseudo-rows and the evidence by
// the multivariate t density: after the first four rows, after all at once, and after
// the rest on top of the first four.
func TestConjugateReachesWorkedPosteriors(t *testing.T) {
	table := newDigitsTable(t)
	states := reference(t, "conjugate_states.csv")
	state := func(set, stage string) map[string]float64 {
		values := map[string]float64{}
		for _, row := range states {
			if row["case"] == set && row["stage"] == stage {
				values[row["quantity"]] = row.number(t, "value")
			}
		}
		return values
	}
	for _, set := range []struct {
		name, file string
		least      float64
	}{{"small", "conjugate_small.csv", 13.5}, {"trees", "r_trees.csv", 10.8}} {
		y, x := points(t, set.file)
		rows := make([][]float64, len(x))
		for i := range x {
			rows[i] = append([]float64{1}, x[i]...)
		}
		prior := distributionOf(t, state(set.name, "prior"))
		update := func(from normalInverseGamma, y []float64, rows [][]float64) *posterior {
			post, err := from.update(sumsOf(y, rows))
			if err != nil {
				t.Fatal(err)
			}
			return post
		}
		early := update(prior, y[:4], rows[:4])
		checkState(table, set.name, "first 4", early, state(set.name, "after the first 4"), set.least)
		table.check(set.name, "evidence", early.logEvidence, state(set.name, "after the first 4")["log_evidence"], set.least)

		late := update(early.normalInverseGamma, y[4:], rows[4:])
		all := update(prior, y, rows)
		want := state(set.name, "after all")
		checkState(table, set.name, "in two steps", late, want, set.least)
		checkState(table, set.name, "at once", all, want, set.least)
		table.check(set.name, "evidence", early.logEvidence+late.logEvidence, want["log_evidence"], set.least)
		table.check(set.name, "evidence", all.logEvidence, want["log_evidence"], set.least)

		for _, row := range reference(t, "conjugate_predictions.csv") {
			if row["case"] != set.name {
				continue
			}
			location, scale2 := all.along(append([]float64{1}, parseVector(t, row["x"])...))
			scale := math.Sqrt(all.variance() + scale2)
			table.check(set.name, "prediction", location, row.number(t, "location"), set.least)
			table.check(set.name, "prediction", scale, row.number(t, "scale"), set.least)
			table.check(set.name, "prediction", all.df(), row.number(t, "df"), set.least)
			student := distuv.StudentsT{Mu: location, Sigma: scale, Nu: all.df()}
			for column, q := range map[string]float64{"lower80": 0.1, "upper80": 0.9, "lower95": 0.025, "upper95": 0.975} {
				table.check(set.name, "prediction", student.Quantile(q), row.number(t, column), set.least)
			}
		}
	}
	table.log()
}

// symmetricOf returns the matrix whose lower triangle is held under "V_i_j".
func symmetricOf(state map[string]float64, p int) *mat.SymDense {
	v := mat.NewSymDense(p, nil)
	for i := range p {
		for j := range i + 1 {
			v.SetSym(i, j, state["V_"+string(rune('1'+i))+"_"+string(rune('1'+j))])
		}
	}
	return v
}

// distributionOf returns a prior given by mean, covariance over σ², shape and rate.
func distributionOf(t *testing.T, state map[string]float64) normalInverseGamma {
	t.Helper()
	var mean []float64
	for j := 1; ; j++ {
		m, ok := state["m_"+string(rune('0'+j))]
		if !ok {
			break
		}
		mean = append(mean, m)
	}
	var chol mat.Cholesky
	if !chol.Factorize(symmetricOf(state, len(mean))) {
		t.Fatal("the prior's covariance is singular")
	}
	d := normalInverseGamma{mean: mat.NewVecDense(len(mean), mean), precision: mat.NewSymDense(len(mean), nil), shape: state["a"], rate: state["b"]}
	if err := chol.InverseTo(d.precision); err != nil {
		t.Fatal(err)
	}
	return d
}

// checkState holds a posterior against mean, covariance over σ², shape and rate.
func checkState(table *digitsTable, set, quantity string, post *posterior, want map[string]float64, least float64) {
	p := post.mean.Len()
	var covariance mat.SymDense
	if err := post.chol.InverseTo(&covariance); err != nil {
		table.t.Fatal(err)
	}
	v := symmetricOf(want, p)
	for i := range p {
		table.check(set, quantity, post.mean.AtVec(i), want["m_"+string(rune('1'+i))], least)
		for j := range i + 1 {
			table.check(set, quantity, covariance.At(i, j), v.At(i, j), least)
		}
	}
	table.check(set, quantity, post.shape, want["a"], least)
	table.check(set, quantity, post.rate, want["b"], least)
}

// TestConjugateRefusesTheUndetermined asks for coefficients that neither data nor
// prior determine.
func TestConjugateRefusesTheUndetermined(t *testing.T) {
	rows := [][]float64{{1, 2}, {1, 2}, {1, 2}}
	if post, err := flatPrior(2).update(sumsOf([]float64{1, 2, 3}, rows)); err == nil {
		t.Errorf("got %v", post.mean)
	}
}
