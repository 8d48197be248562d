package analyze

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
)

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
