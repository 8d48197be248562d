package analyze

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
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
