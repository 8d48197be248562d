package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"regear/advise/carfile"
	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
)

// answers are those of a driver who mistypes twice, takes a rim for the tire, sees it when
// asked, and skips what is not known.
const answers = "heron\nus\n13-17\n68\n0.8\nmodule 0.8\n2,5\nbig=118\nbig=118mm, small=2.2in\nno\nbig=118mm, small=104mm\n80-90\n\n\n80C, the maker's sheet\n\n140F\n"

// The two ways to add a car write the same file, which is read back as it was told.
func TestCarIsAddedByAskingAndByFlags(t *testing.T) {
	dir := t.TempDir()
	asked, told := filepath.Join(dir, "new folder", "asked.toml"), filepath.Join(dir, "told.toml")
	got := regear(t, answers, "car", "add", "--cars", asked)
	if got.exit != 0 || !strings.Contains(got.stdout, `car "heron" was added`) {
		t.Fatalf("exit %d: %s%s", got.exit, got.stdout, got.stderr)
	}
	for _, mistake := range []string{`"0.8": module or diametral pitch?`, `"118": no unit`, `small: "2.2in" is a rim size, measure across the rubber`} {
		if !strings.Contains(got.stderr, mistake) {
			t.Errorf("the mistake %s was not told: %s", mistake, got.stderr)
		}
	}
	flags := []string{"car", "add", "--cars", told, "--name", "heron", "--units", "us", "--pinions", "13-17", "--spurs", "68", "--pitch", "module 0.8",
		"--internal-ratio", "2,5", "--tires", "big=118mm,small=104mm", "--mount", "80-90", "--motor-limit", "80C, the maker's sheet", "--battery-limit", "140F"}
	if got := regear(t, "", flags...); got.exit != 0 {
		t.Fatal(got.stderr)
	}
	if read(t, asked) != read(t, told) {
		t.Errorf("asked:\n%s\ntold:\n%s", read(t, asked), read(t, told))
	}
	if got := regear(t, "", "car", "check", "--cars", told); !strings.Contains(got.stdout, "5 pinions, 1 spur, 2 tires, 2 limits and a mount for 80 to 90 teeth in all") {
		t.Errorf("check says %s%s", got.stdout, got.stderr)
	}

	// A rim size is taken where it is meant, and told of.
	rims := filepath.Join(dir, "rims.toml")
	if got := regear(t, "heron\n\n\n\n\n\nsmall=2.2in\nyes\n\n\n\n\n\n\n", "car", "add", "--cars", rims); got.exit != 0 || !strings.Contains(read(t, rims), `small = "2.2in"`) {
		t.Errorf("a rim size that is meant: exit %d: %s", got.exit, got.stderr)
	}
	if got := regear(t, "", "car", "add", "--cars", rims, "--name", "gull", "--tires", "small=1.9in"); got.exit != 0 ||
		!strings.Contains(got.stderr, `--tires: small: "1.9in": is a rim size, measure across the rubber`) {
		t.Errorf("a rim size in a flag: exit %d: %s", got.exit, got.stderr)
	}

	// A second car stands behind the first, whose lines stay as they were.
	before := read(t, told)
	if got := regear(t, "", "car", "add", "--cars", told, "--name", "old gull"); got.exit != 0 {
		t.Fatal(got.stderr)
	}
	if after := read(t, told); !strings.HasPrefix(after, before) || !strings.Contains(after, `[cars."old gull"]`) {
		t.Errorf("the file is now:\n%s", after)
	}
}

// What can't be added leaves the file as it was, and no other file behind.
func TestCarThatCannotBeAddedChangesNothing(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "cars.toml")
	const before = "[cars.heron]\ncells = 4\n"
	for name, c := range map[string]struct {
		file, stdin string
		args        []string
		exit        int
		want        string
	}{
		"known":          {before, "", []string{"--name", "heron"}, exitFailed, "is in it already"},
		"no name":        {before, "", []string{"--cells", "4"}, exitUsage, "add --name"},
		"no number":      {before, "", []string{"--name", "gull", "--cells", "four"}, exitUsage, `"four"`},
		"hung up":        {before, "gull\n", nil, exitFailed, "nothing was written"},
		"a broken file":  {"[cars.heron\n", "", []string{"--name", "gull"}, exitFailed, path + ":1:"},
		"an inline file": {"cars = {heron = {cells = 4}}\n", "", []string{"--name", "gull"}, exitFailed, "nothing was changed"},
	} {
		if err := os.WriteFile(path, []byte(c.file), 0o600); err != nil {
			t.Fatal(err)
		}
		got := regear(t, c.stdin, append([]string{"car", "add", "--cars", path}, c.args...)...)
		if got.exit != c.exit || !strings.Contains(got.stderr, c.want) {
			t.Errorf("%s: exit %d, want %d with %s:\n%s", name, got.exit, c.exit, c.want, got.stderr)
		}
		if read(t, path) != c.file {
			t.Errorf("%s: the file was changed to %q", name, read(t, path))
		}
		onlyPictures(t, dir, 1)
	}
}

// The car file's place: a flag before the variable before the settings folder.
func TestCarFileIsFound(t *testing.T) {
	inTopFolder(t)
	dir := t.TempDir()
	folder, err := os.UserConfigDir()
	if err != nil {
		t.Skip(err) // a system without a settings folder
	}
	usual := filepath.Join(folder, "regear", "cars.toml")
	named := filepath.Join(dir, "named.toml")
	t.Cleanup(func() { os.RemoveAll(filepath.Dir(usual)) })
	for _, c := range []struct{ path, units, pinions string }{{usual, "us", "12"}, {named, "metric", "11"}} {
		var args []string
		if c.path != usual {
			args = []string{"--cars", c.path}
		}
		if got := regear(t, "", append(args, "car", "add", "--name", "heron", "--units", c.units, "--pinions", c.pinions)...); got.exit != 0 {
			t.Fatal(got.stderr)
		}
	}
	picks := func(args ...string) string {
		got := regear(t, "", append([]string{"advise", "--log", weekend}, args...)...)
		switch {
		case strings.Contains(got.stdout, "17 to 12:") && strings.Contains(got.stdout, "°F"):
			return "usual"
		case strings.Contains(got.stdout, "17 to 11:") && strings.Contains(got.stdout, "°C"):
			return "named"
		}
		return got.stdout + got.stderr
	}
	if got := picks(); got != "usual" {
		t.Errorf("in its usual place it is not found: %s", got)
	}
	if got := picks("--cars", named); got != "named" {
		t.Errorf("a named one is not taken: %s", got)
	}
	t.Setenv(carsVariable, named)
	if got := picks(); got != "named" {
		t.Errorf("the variable is not taken: %s", got)
	}
	if got := picks("--cars", usual); got != "usual" {
		t.Errorf("a flag does not come before the variable: %s", got)
	}
	if got := regear(t, "", "advise", "--log", weekend, "--cars", filepath.Join(dir, "none.toml")); got.exit != exitFailed || !strings.Contains(got.stderr, "there is no such file") {
		t.Errorf("a named file that is missing: exit %d: %s", got.exit, got.stderr)
	}
	// Flags come before the file.
	if got := regear(t, "", "advise", "--log", weekend, "--pinions", "14", "--units", "metric", "--cars", usual); !strings.Contains(got.stdout, "17 to 14:") || strings.Contains(got.stdout, "°F") {
		t.Errorf("flags do not come before the file: %s", got.stdout)
	}
}

// The page and the command write the car file at once, and no car is lost: each is added or changed
// by somebody, and what they say is what the file says in the end.
func TestCarFileIsWrittenByManyAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "cars.toml")
	if err := os.WriteFile(path, []byte("# Mine.\n[cars.heron]\ncells = 4 # LiPo\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	env := &environment{getenv: func(string) string { return path }}
	page := app.App{ChangeCars: env.changeCars}
	mean := func([]domain.Problem) bool { return true }
	var all sync.WaitGroup
	const many = 6
	for i := range many {
		all.Go(func() {
			name := fmt.Sprintf("page %d", i)
			if err := page.SaveCar(carfile.Draft{Name: name}, carfile.Draft{Name: name, Motor: "80C"}, units.Metric, mean); err != nil {
				t.Error(err)
			}
		})
		all.Go(func() {
			if got := regear(t, "", "car", "add", "--cars", path, "--name", fmt.Sprintf("command %d", i), "--cells", "2"); got.exit != 0 {
				t.Error(got.stderr)
			}
		})
	}
	all.Go(func() {
		heron := carfile.Draft{Name: "heron", Cells: "4"}
		to := heron
		to.Motor, to.MotorWhose = "85C", "own choice"
		if err := page.SaveCar(heron, to, units.Metric, mean); err != nil {
			t.Error(err)
		}
	})
	all.Wait()
	file, err := readCars(path)
	if err != nil || len(file.Cars) != 2*many+1 {
		t.Fatalf("%v\n%s", err, read(t, path))
	}
	for i := range many {
		if got := file.Draft(fmt.Sprintf("page %d", i)).Motor; got != "80C" {
			t.Errorf("car %d of the page has the limit %q", i, got)
		}
		if got := file.Draft(fmt.Sprintf("command %d", i)).Cells; got != "2" {
			t.Errorf("car %d of the command has %q cells", i, got)
		}
	}
	if text := read(t, path); file.Draft("heron").Motor != "85C" || !strings.HasPrefix(text, "# Mine.\n[cars.heron]\ncells = 4 # LiPo\n") {
		t.Errorf("the file is\n%s", text)
	}
	if err := page.SaveCar(carfile.Draft{Name: "heron", Cells: "3"}, carfile.Draft{Name: "heron"}, units.Metric, mean); !errors.Is(err, app.ErrCarChanged) {
		t.Errorf("a car that has changed meanwhile: %v", err)
	}
}
