package analyze

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// referenceDir holds the values that others computed; its SOURCES.md says who.
const referenceDir = "../testdata/reference"

// readTable returns the header and the rows of a CSV file.
func readTable(t *testing.T, path string) (header []string, rows [][]string) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 2 {
		t.Fatalf("%s holds no rows", path)
	}
	return all[0], all[1:]
}

// referenceRow is one row of a reference table, by column.
type referenceRow map[string]string

// reference returns the rows of a table in referenceDir.
func reference(t *testing.T, name string) []referenceRow {
	t.Helper()
	header, cells := readTable(t, filepath.Join(referenceDir, name))
	rows := make([]referenceRow, len(cells))
	for i := range cells {
		rows[i] = referenceRow{}
		for j, column := range header {
			rows[i][column] = cells[i][j]
		}
	}
	return rows
}

// number returns a cell that must hold a number.
func (r referenceRow) number(t *testing.T, column string) float64 {
	t.Helper()
	text, ok := r[column]
	if !ok {
		t.Fatalf("no column %q", column)
	}
	return parseNumber(t, text)
}

func parseNumber(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// parseVector returns the numbers of a cell that holds several.
func parseVector(t *testing.T, text string) []float64 {
	t.Helper()
	var v []float64
	for _, field := range strings.Fields(text) {
		v = append(v, parseNumber(t, field))
	}
	return v
}

// points returns a data set: the response, which stands first, and the regressors.
func points(t *testing.T, name string) (y []float64, x [][]float64) {
	t.Helper()
	_, rows := readTable(t, filepath.Join(referenceDir, name))
	for _, cells := range rows {
		y = append(y, parseNumber(t, cells[0]))
		row := make([]float64, len(cells)-1)
		for j := range row {
			row[j] = parseNumber(t, cells[j+1])
		}
		x = append(x, row)
	}
	return y, x
}

// column returns one regressor of all points.
func column(x [][]float64, j int) []float64 {
	c := make([]float64, len(x))
	for i := range x {
		c[i] = x[i][j]
	}
	return c
}

// apart returns how far got lies from want, as a share of want; absolutely where
// want is 0.
func apart(got, want float64) float64 {
	if want == 0 {
		return math.Abs(got)
	}
	return math.Abs(got-want) / math.Abs(want)
}

// digits returns to how many significant digits got is want, 15 at most: that is
// what a reference value carries.
func digits(got, want float64) float64 {
	return math.Min(15, -math.Log10(apart(got, want)))
}

// digitsTable collects to how many digits each quantity of each set is reached, and
// fails the test where that is fewer than asked.
type digitsTable struct {
	t     *testing.T
	worst map[string]float64
	order []string
}

func newDigitsTable(t *testing.T) *digitsTable {
	return &digitsTable{t: t, worst: map[string]float64{}}
}

// check holds got against want.
func (d *digitsTable) check(set, quantity string, got, want, least float64) {
	d.t.Helper()
	reached := digits(got, want)
	if !(reached >= least) {
		d.t.Errorf("%s %s: got %.15g, want %.15g: %.1f digits, fewer than %g", set, quantity, got, want, reached, least)
	}
	key := fmt.Sprintf("%-11s %-16s", set, quantity)
	before, seen := d.worst[key]
	if !seen {
		d.order = append(d.order, key)
		before = math.Inf(1)
	}
	d.worst[key] = math.Min(before, reached)
}

// log writes the table.
func (d *digitsTable) log() {
	var b strings.Builder
	for _, key := range d.order {
		fmt.Fprintf(&b, "\n%s %5.1f", key, d.worst[key])
	}
	d.t.Logf("digits reached:%s", b.String())
}

// TestRAgrees makes every R-made figure of testdata/reference anew with the scripts
// that stand there, and holds it against the figure kept. The table of Student t was made
// elsewhere, with 20 digits, so there R confirms it.
func TestRAgrees(t *testing.T) {
	rscript, err := exec.LookPath("Rscript")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("CI has to install R (package r-base-core): without it nobody confirms the reference values")
		}
		t.Skip("Rscript is not on the path: install R to have the reference values made anew")
	}
	out := t.TempDir()
	run := exec.Command(rscript, "--vanilla", "regenerate.R", out)
	run.Dir = referenceDir
	if text, err := run.CombinedOutput(); err != nil {
		t.Fatalf("regenerate.R: %v\n%s", err, text)
	}

	// The relative tolerance of each file; R on another machine may round otherwise.
	tolerance := map[string]float64{
		"r_cars.csv": 1e-14, "r_faithful.csv": 1e-14, "r_women.csv": 1e-14, "r_stackloss.csv": 1e-14,
		"r_longley.csv": 1e-14, "r_trees.csv": 1e-14, "r_rock.csv": 1e-14, "r_mtcars.csv": 1e-14,
		"r_coefficients.csv": 1e-9, "r_predictions.csv": 1e-9,
		"normal_small.csv": 0, "normal_states.csv": 1e-9, "normal_predictions.csv": 1e-9,
		"student_t_quantiles.csv": 1e-11,
		"model_probabilities.csv": 1e-9, "model_exponents.csv": 1e-9, "model_fits.csv": 1e-9, "model_joint.csv": 1e-9, "model_narrowing.csv": 1e-9,
	}
	made, err := os.ReadDir(out)
	if err != nil {
		t.Fatal(err)
	}
	for _, entry := range made {
		if _, known := tolerance[entry.Name()]; !known {
			t.Errorf("regenerate.R makes %s, which has no tolerance here", entry.Name())
		}
	}
	for name, tol := range tolerance {
		t.Run(name, func(t *testing.T) {
			gotHeader, got := readTable(t, filepath.Join(out, name))
			wantHeader, want := readTable(t, filepath.Join(referenceDir, name))
			if !slices.Equal(gotHeader, wantHeader) || len(got) != len(want) {
				t.Fatalf("made %d rows of %v, kept %d rows of %v", len(got), gotHeader, len(want), wantHeader)
			}
			for i := range want {
				for j := range want[i] {
					if !sameCell(got[i][j], want[i][j], tol) {
						t.Errorf("row %d, %s: made %s, kept %s", i+1, wantHeader[j], got[i][j], want[i][j])
					}
				}
			}
		})
	}
}

// sameCell reports whether two cells hold the same text or, to a relative
// tolerance, the same number.
func sameCell(got, want string, tolerance float64) bool {
	if got == want {
		return true
	}
	g, errG := strconv.ParseFloat(got, 64)
	w, errW := strconv.ParseFloat(want, 64)
	return errG == nil && errW == nil && apart(g, w) <= tolerance
}
