package analyze

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// TestStudentTReachesTwentyDigits holds the library's Student t, as every fit uses
// it, against 20-digit values: df from 0.5 to a million, fractional ones among them,
// t from -40 to 100, probabilities from 0.001 to 0.9995. A fit has the prior's 4
// degrees of freedom and one more for each run.
func TestStudentTReachesTwentyDigits(t *testing.T) {
	table := newDigitsTable(t)
	for _, row := range reference(t, "student_t_cdf.csv") {
		df := row.number(t, "df")
		student := distuv.StudentsT{Sigma: 1, Nu: df}
		set, least := rangeOf(df)
		table.check(set, "cdf", student.CDF(row.number(t, "t")), row.number(t, "cdf"), least.cdf)
	}
	for _, row := range reference(t, "student_t_quantiles.csv") {
		df := row.number(t, "df")
		student := distuv.StudentsT{Sigma: 1, Nu: df}
		set, least := rangeOf(df)
		table.check(set, "quantile", student.Quantile(row.number(t, "p")), row.number(t, "quantile"), least.quantile)
	}
	table.log()
}

// studentDigits are the digits asked of the library in one range of df.
type studentDigits struct{ cdf, quantile float64 }

// rangeOf sorts degrees of freedom into the ranges for which digits are told.
func rangeOf(df float64) (string, studentDigits) {
	switch {
	case df < 4:
		return "df 0.5-3", studentDigits{14, 12}
	case df <= 1000:
		return "df 4-1000", studentDigits{12, 11.5}
	}
	return "df 1e6", studentDigits{9, 9}
}

// TestStudentTRoundsToPublishedTables holds the library's quantiles against two tables
// of NIST. Entries that the 20-digit values show to be misprinted are named, and
// have to stay wrong, so that a mended table is noticed.
func TestStudentTRoundsToPublishedTables(t *testing.T) {
	misprinted := map[string]bool{
		"upper p0.001 df 1": true, "upper p0.001 df 7": true, "upper p0.001 df 8": true,
		"upper p0.001 df 9": true, "upper p0.001 df 10": true, "upper p0.001 df 11": true,
		"upper p0.001 df 12": true, "central p90 df 35": true,
	}
	// 68.27, 95.45 and 99.73 stand for one, two and three normal standard deviations.
	sigmas := map[string]float64{"68.27": 1, "95.45": 2, "99.73": 3}
	for _, kind := range []string{"upper", "central"} {
		for _, row := range reference(t, "nist_student_t_"+kind+".csv") {
			df := row["df"]
			quantile := distuv.UnitNormal.Quantile
			if df != "Inf" {
				quantile = distuv.StudentsT{Sigma: 1, Nu: row.number(t, "df")}.Quantile
			}
			for column, printed := range row {
				if column == "df" {
					continue
				}
				label := strings.TrimPrefix(column, "p")
				p := 1 - parseNumber(t, label)
				if kind == "central" {
					p = 0.5 + parseNumber(t, label)/200
					if n, ok := sigmas[label]; ok {
						p = distuv.UnitNormal.CDF(n)
					}
				}
				_, decimals, _ := strings.Cut(printed, ".")
				half := 0.5 * math.Pow(10, -float64(len(decimals)))
				got := quantile(p)
				agrees := math.Abs(got-parseNumber(t, printed)) <= half*(1+1e-6)
				if name := kind + " " + column + " df " + df; agrees == misprinted[name] {
					t.Errorf("%s: %s, printed %s", name, strconv.FormatFloat(got, 'g', 8, 64), printed)
				}
			}
		}
	}
}
