package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
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
