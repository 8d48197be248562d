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
	s := newSums(p, 1)
	s.n = float64(len(y))
	for i, row := range rows {
		x := mat.NewVecDense(p, row)
		s.xx.SymRankOne(s.xx, 1, x)
		s.xy.RankOne(s.xy, y[i], x, mat.NewVecDense(1, []float64{1}))
		s.yy[0] += y[i] * y[i]
	}
	return s
}

// regress returns the posterior of independent responses under a known scatter.
func regress(t *testing.T, prior []Belief, y []float64, rows [][]float64, scatter float64) posterior {
	t.Helper()
	data := sumsOf(y, rows)
	base, err := newBasis(prior, data.xx)
	if err != nil {
		t.Fatal(err)
	}
	return base.update(base.pulls(&data, 0), scatter*scatter)
}

// of returns mean and spread of a combination of the coefficients.
func (p *posterior) of(x []float64) (mean, sd float64) {
	mean, variance := p.along(p.basis.at(x))
	return mean, math.Sqrt(variance)
}

// flat is the spread of a belief so wide, in units of the largest response, that it holds
// nothing: the regression is then ordinary least squares, to about the square of scatter
// over response over flat.
const flat = 1e9

// scaling brings one regressor to (x-middle)/width, as the fit's own columns are
// brought to the log's middle.
type scaling struct{ middle, width float64 }

// leastSquares is a flat-prior posterior over a constant and scaled regressors.
type leastSquares struct {
	posterior
	scales []scaling
}

// newLeastSquares fits y by a constant and the columns of x.
func newLeastSquares(t *testing.T, y []float64, x [][]float64, scatter float64) leastSquares {
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
	l.posterior = regressFlat(t, y, rows, scatter)
	return l
}

func regressFlat(t *testing.T, y []float64, rows [][]float64, scatter float64) posterior {
	t.Helper()
	prior := make([]Belief, len(rows[0]))
	for j := range prior {
		prior[j].SD = flat * floats.Norm(y, math.Inf(1))
	}
	return regress(t, prior, y, rows, scatter)
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
	estimate, stdErr float64
}

// scatterOf returns the residual SD that NIST certifies of a set, or 1 where the points lie
// on the curve: estimates don't depend on it.
func scatterOf(t *testing.T, set string) float64 {
	t.Helper()
	if sd := certified(t, set)["residual_sd"]; sd > 0 {
		return sd
	}
	return 1
}

// checkNIST holds the combinations that give the certified coefficients, in their
// order, against what NIST certifies.
func checkNIST(t *testing.T, table *digitsTable, set string, post *posterior, combinations [][]float64, names []string, least nistDigits) {
	t.Helper()
	want := certified(t, set)
	for i, c := range combinations {
		value, sd := post.of(c)
		table.check(set, "estimates", value, want[names[i]+" estimate"], least.estimate)
		if want["residual_sd"] > 0 {
			table.check(set, "their errors", sd, want[names[i]+" std_error"], least.stdErr)
		}
	}
}

// TestRegressionReachesNIST holds the regression in its flat limit, with the certified
// residual SD as its scatter, against the NIST StRD sets for linear regression. It works on
// sums, as normal equations do, so the digits fall with the square of the design's
// condition; what is asked is what is reached, less a digit at most.
func TestRegressionReachesNIST(t *testing.T) {
	table := newDigitsTable(t)

	y, x := points(t, "nist_norris.csv")
	norris := newLeastSquares(t, y, x, scatterOf(t, "Norris"))
	checkNIST(t, table, "Norris", &norris.posterior, [][]float64{norris.coefficient(-1), norris.coefficient(0)},
		[]string{"B0", "B1"}, nistDigits{11.5, 14})

	y, x = points(t, "nist_longley.csv")
	longley := newLeastSquares(t, y, x, scatterOf(t, "Longley"))
	combinations, names := [][]float64{longley.coefficient(-1)}, []string{"B0"}
	for j := range x[0] {
		combinations = append(combinations, longley.coefficient(j))
		names = append(names, "B"+string(rune('1'+j)))
	}
	checkNIST(t, table, "Longley", &longley.posterior, combinations, names, nistDigits{10, 11.5})

	for _, set := range []struct {
		name, file string
		least      nistDigits
	}{
		{"NoInt1", "nist_noint1.csv", nistDigits{14, 14}},
		{"NoInt2", "nist_noint2.csv", nistDigits{14, 14}},
	} {
		y, x := points(t, set.file)
		post := regressFlat(t, y, x, scatterOf(t, set.name))
		checkNIST(t, table, set.name, &post, [][]float64{{1}}, []string{"B1"}, set.least)
	}

	for _, set := range []struct {
		name, file string
		degree     int
		least      nistDigits
	}{
		{"Pontius", "nist_pontius.csv", 2, nistDigits{11, 14}},
		{"Wampler1", "nist_wampler1.csv", 5, nistDigits{estimate: 7.5}},
		{"Wampler2", "nist_wampler2.csv", 5, nistDigits{estimate: 10.5}},
		{"Wampler3", "nist_wampler3.csv", 5, nistDigits{7.5, 13}},
		{"Wampler4", "nist_wampler4.csv", 5, nistDigits{7.5, 13}},
		{"Wampler5", "nist_wampler5.csv", 5, nistDigits{7.5, 13}},
	} {
		y, x := points(t, set.file)
		z := newLeastSquares(t, y, x, 1).scales[0]
		rows := make([][]float64, len(x))
		for i := range x {
			rows[i] = powers((x[i][0]-z.middle)/z.width, set.degree)
		}
		combinations, names := make([][]float64, set.degree+1), make([]string, set.degree+1)
		for k := range combinations {
			combinations[k] = z.power(k, set.degree)
			names[k] = "B" + string(rune('0'+k))
		}
		post := regressFlat(t, y, rows, scatterOf(t, set.name))
		checkNIST(t, table, set.name, &post, combinations, names, set.least)
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

// TestRegressionReachesR holds the flat limit, with R's residual SD as its scatter, against
// R's lm() and predict(): the coefficients, their errors, the fits and their errors.
func TestRegressionReachesR(t *testing.T) {
	table := newDigitsTable(t)
	coefficients, predictions := reference(t, "r_coefficients.csv"), reference(t, "r_predictions.csv")
	for _, set := range []struct {
		name                      string
		coefficients, predictions float64 // digits asked
	}{
		{"cars", 13.5, 13}, {"faithful", 13.5, 13.5}, {"trees", 13, 14}, {"rock", 12.5, 13.5},
		{"mtcars", 12.5, 14}, {"stackloss", 13.5, 13.5}, {"women", 11.5, 12.5}, {"longley", 10, 12},
	} {
		y, x := points(t, "r_"+set.name+".csv")
		var l leastSquares
		j := -1
		for _, row := range coefficients {
			if row["case"] != set.name {
				continue
			}
			if j == -1 {
				l = newLeastSquares(t, y, x, row.number(t, "residual_sd"))
			}
			value, sd := l.of(l.coefficient(j))
			table.check(set.name, "coefficients", value, row.number(t, "estimate"), set.coefficients)
			table.check(set.name, "their errors", sd, row.number(t, "std_error"), set.coefficients)
			j++
		}
		for _, row := range predictions {
			if row["case"] != set.name {
				continue
			}
			value, sd := l.of(l.row(parseVector(t, row["x"])))
			table.check(set.name, "predictions", value, row.number(t, "fit"), set.predictions)
			table.check(set.name, "their errors", sd, row.number(t, "se_fit"), set.predictions)
		}
	}
	table.log()
}

// TestRegressionReachesWorkedPosteriors holds proper priors against normal.R, which finds
// the posterior by QR on the data with prior pseudo-rows and the evidence by the multivariate
// normal density: after the first four rows and after all.
func TestRegressionReachesWorkedPosteriors(t *testing.T) {
	table := newDigitsTable(t)
	states := reference(t, "normal_states.csv")
	state := func(set, stage string) map[string]float64 {
		values := map[string]float64{}
		for _, row := range states {
			if row["case"] == set && row["stage"] == stage {
				values[row["quantity"]] = row.number(t, "value")
			}
		}
		if len(values) == 0 {
			t.Fatalf("nothing is known of %s %s", set, stage)
		}
		return values
	}
	for _, set := range []struct {
		name, file string
		least      float64
	}{{"small", "normal_small.csv", 14}, {"trees", "r_trees.csv", 11}} {
		y, x := points(t, set.file)
		rows := make([][]float64, len(x))
		for i := range x {
			rows[i] = append([]float64{1}, x[i]...)
		}
		before := state(set.name, "prior")
		prior := make([]Belief, len(rows[0]))
		for j := range prior {
			index := string(rune('1' + j))
			prior[j] = Belief{before["m_"+index], before["sd_"+index]}
		}
		early := regress(t, prior, y[:4], rows[:4], before["scatter"])
		checkState(table, set.name, "after 4", &early, state(set.name, "after the first 4"), set.least)
		all := regress(t, prior, y, rows, before["scatter"])
		checkState(table, set.name, "after all", &all, state(set.name, "after all"), set.least)

		for _, row := range reference(t, "normal_predictions.csv") {
			if row["case"] != set.name {
				continue
			}
			location, sd := all.of(append([]float64{1}, parseVector(t, row["x"])...))
			scale := math.Hypot(sd, before["scatter"])
			table.check(set.name, "prediction", location, row.number(t, "location"), set.least)
			table.check(set.name, "prediction", scale, row.number(t, "scale"), set.least)
			normal := distuv.Normal{Mu: location, Sigma: scale}
			for column, q := range map[string]float64{"lower80": 0.1, "upper80": 0.9, "lower95": 0.025, "upper95": 0.975} {
				table.check(set.name, "prediction", normal.Quantile(q), row.number(t, column), set.least)
			}
		}
	}
	table.log()
}

// checkState holds a posterior against means, covariance and evidence.
func checkState(table *digitsTable, set, quantity string, post *posterior, want map[string]float64, least float64) {
	mean := post.coefficients()
	places := make([]place, len(mean))
	for i := range mean {
		unit := make([]float64, len(mean))
		unit[i] = 1
		places[i] = post.basis.at(unit)
		index := string(rune('1' + i))
		table.check(set, quantity, mean[i], want["m_"+index], least)
		for j := range i + 1 {
			table.check(set, quantity, post.together(places[i], places[j]), want["C_"+index+"_"+string(rune('1'+j))], least)
		}
	}
	table.check(set, quantity, post.logEvidence, want["log_evidence"], least)
}

// TestRegressionKeepsThePriorOfTheUndetermined asks for coefficients that the data leave
// open: what they don't tell stays as it was believed.
func TestRegressionKeepsThePriorOfTheUndetermined(t *testing.T) {
	prior := []Belief{{1, 2}, {-3, 0.5}, {4, 7}}
	post := regress(t, prior, []float64{1, 2, 3}, [][]float64{{1, 2, 0}, {1, 2, 0}, {1, 2, 0}}, 0.1)
	if mean, sd := post.of([]float64{0, 0, 1}); math.Abs(mean-4) > 1e-12 || math.Abs(sd-7) > 1e-12 {
		t.Errorf("a column of zeros: %g ± %g, before 4 ± 7", mean, sd)
	}
	// Of the first two, the combination that is uncorrelated with what was measured keeps
	// its spread: cov(b₁+2b₂, c₁b₁+c₂b₂) = c₁2² + 2c₂0.5² = 0 for c = (1, -8).
	if mean, sd := post.of([]float64{1, -8, 0}); math.Abs(mean-25) > 1e-10 || math.Abs(sd-math.Hypot(2, 4)) > 1e-10 {
		t.Errorf("one equation for two: %g ± %g, before 25 ± %g", mean, sd, math.Hypot(2, 4))
	}
	// Columns that are all but one leave a direction open, in which rounding may say anything.
	for _, wide := range []float64{1, 1e3, 1e6, 1e9} {
		alike := make([]Belief, 4)
		rows := make([][]float64, 7)
		for j := range alike {
			alike[j].SD = wide * float64(1+j)
			for i := range rows {
				rows[i] = append(rows[i], float64(1+i*i)*math.Pi*float64(3+j))
			}
		}
		post := regress(t, alike, make([]float64, 7), rows, 0.01)
		for j, v := range post.variance {
			if !(v > 0 && v <= 1) {
				t.Errorf("spreads of %g: variance %g of coordinate %d, before 1", wide, v, j)
			}
		}
	}
	infinite := sumsOf([]float64{1}, [][]float64{{1, 1, math.Inf(1)}})
	if _, err := newBasis(prior, infinite.xx); err == nil {
		t.Error("an infinite sum was taken")
	}
}
