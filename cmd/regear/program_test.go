package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/spf13/cobra"

	"regear/analyze/runlog"
	"regear/cmd/regear/internal/ask"
)

// Each picture is of the kind that its name says: the signatures are those of the
// PNG specification (W3C), PDF (ISO 32000-1, 7.5.2) and SVG's root element (W3C).
func TestPicturesAreWhatTheirNamesSay(t *testing.T) {
	inTopFolder(t)
	dir := t.TempDir()
	for name, signature := range map[string]string{"a.png": "\x89PNG\r\n\x1a\n", "a.pdf": "%PDF-", "a.svg": "<svg"} {
		for _, figure := range figureNames {
			path := filepath.Join(dir, name)
			got := regear(t, "", "plot", figure, "--log", weekend, "--out", path)
			if got.exit != 0 {
				t.Fatalf("%s %s: %s", figure, name, got.stderr)
			}
			if !strings.HasPrefix(got.stdout, path+": ") {
				t.Errorf("%s: standard output is %q", figure, got.stdout)
			}
			if picture := read(t, path); !strings.Contains(picture[:min(len(picture), 200)], signature) {
				t.Errorf("%s: %s does not begin with %q", figure, name, signature)
			}
		}
	}
	onlyPictures(t, dir, 3)
}

// onlyPictures checks that nothing half-written is left in a folder.
func onlyPictures(t *testing.T, dir string, n int) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != n {
		t.Errorf("the folder holds %v", entries)
	}
}

// Where no answer can be given, a picture that was there stays as it was.
func TestPictureAppearsWholeOrNotAtAll(t *testing.T) {
	inTopFolder(t)
	dir := t.TempDir()
	path := filepath.Join(dir, "a.svg")
	if err := os.WriteFile(path, []byte("before"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"advise", "--log", weekend, "--limit", "motor=20C", "--plot", path},
		{"advise", "--log", "testdata/no-such.csv", "--plot", path},
		{"plot", "ratio", "--log", "testdata/golden/own-headers/log.csv", "--column", "Temp mot=motor_peak_f", "--part", "battery", "--out", path},
	} {
		if got := regear(t, "", args...); got.exit != exitFailed {
			t.Errorf("%q: exit %d: %s", args, got.exit, got.stderr)
		}
		if read(t, path) != "before" {
			t.Errorf("%q: the picture was changed", args)
		}
		onlyPictures(t, dir, 1)
	}
	if got := regear(t, "", "advise", "--log", weekend, "--plot", path); got.exit != 0 {
		t.Fatal(got.stderr)
	}
	if !strings.Contains(read(t, path), "<svg") {
		t.Error("the picture was not replaced")
	}
	// Windows has no such permissions.
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 && runtime.GOOS != "windows" {
		t.Errorf("the picture's permissions changed: %v %v", info.Mode(), err)
	}
	onlyPictures(t, dir, 1)
}

// fullDisk is a standard output that takes nothing.
type fullDisk struct{}

var errFull = errors.New("no space left")

func (fullDisk) Write([]byte) (int, error) { return 0, errFull }

// An answer that can't be written is none.
func TestUnwrittenAnswerIsAFailure(t *testing.T) {
	inTopFolder(t)
	for _, args := range [][]string{
		{"advise", "--log", weekend}, {"advise", "--log", weekend, "--format", "json"}, {"advise", "--log", weekend, "--format", "csv"},
		{"fit", "--log", weekend}, {"fit", "--log", weekend, "--format", "json"},
	} {
		var errOut bytes.Buffer
		if exit := run(args, strings.NewReader(""), fullDisk{}, &errOut); exit != exitFailed || !strings.Contains(errOut.String(), errFull.Error()) {
			t.Errorf("%q: exit %d: %s", args, exit, errOut.String())
		}
	}
}

func TestVersionNamesTheBuild(t *testing.T) {
	got := regear(t, "", "--version")
	if !regexp.MustCompile(`^regear (devel|v\d\S*)\n$`).MatchString(got.stdout) || got.exit != 0 {
		t.Errorf("exit %d: %q", got.exit, got.stdout)
	}
}

func TestCompletionIsThereForEveryShell(t *testing.T) {
	for _, shell := range []string{"bash", "zsh", "fish", "powershell"} {
		if got := regear(t, "", "completion", shell); got.exit != 0 || !strings.Contains(got.stdout, "regear") {
			t.Errorf("%s: exit %d: %s", shell, got.exit, got.stderr)
		}
	}
	got := regear(t, "", "__complete", "plot", "")
	for _, figure := range figureNames {
		if !strings.Contains(got.stdout, figure+"\n") {
			t.Errorf("completing plot does not offer %s: %s", figure, got.stdout)
		}
	}
}

// What is piped is plain text, and the prose keeps to its width.
func TestPipedTextIsPlain(t *testing.T) {
	inTopFolder(t)
	for _, args := range [][]string{{"advise", "--log", weekend}, {"fit", "--log", weekend}, {"advise", "--help"}} {
		if got := regear(t, "", args...); strings.ContainsAny(got.stdout+got.stderr, "\x1b\r\t") {
			t.Errorf("%q: control characters in %q", args, got.stdout)
		}
	}
}

// TestMain keeps the tester's own car file and logs out of every test, wherever
// the system has them.
func TestMain(m *testing.M) {
	os.Exit(inEmptyHome(m))
}

func inEmptyHome(m *testing.M) int {
	home, err := os.MkdirTemp("", "regear")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(home)
	for _, name := range []string{"HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "AppData", "LocalAppData"} {
		os.Setenv(name, home)
	}
	os.Unsetenv(carsVariable)
	os.Unsetenv(bookVariable)
	return m.Run()
}

// A command without a file panics, so it is the files without a command that are looked for.
func TestEveryHelpHasItsCommand(t *testing.T) {
	files, err := fs.Glob(helpFiles, "help/*")
	if err != nil {
		t.Fatal(err)
	}
	var commands []string
	var list func(*cobra.Command)
	list = func(cmd *cobra.Command) {
		name := strings.TrimPrefix(cmd.CommandPath(), "regear ")
		commands = append(commands, "help/"+strings.ReplaceAll(name, " ", "-")+".txt")
		if cmd.Long == "" || cmd.Example == "" {
			t.Errorf("%s: has no help or no example", name)
		}
		for _, c := range cmd.Commands() {
			list(c)
		}
	}
	list(newRootCommand(&environment{}))
	slices.Sort(commands)
	if !slices.Equal(files, commands) {
		t.Errorf("there are the files\n%q\nof the commands\n%q", files, commands)
	}
}

// The help of regear names the columns that a log can't do without, in the order of the table,
// and the internal ratio, which is 1 where it is absent.
func TestHelpNamesTheColumnsThatCount(t *testing.T) {
	_, listed, _ := strings.Cut(newRootCommand(&environment{}).Long, "The columns that count:\n\n")
	listed, _, _ = strings.Cut(listed, "\n\n")
	otherUnit := regexp.MustCompile(` \(or _\w+\)`)
	got := regexp.MustCompile(`\w+`).FindAllString(otherUnit.ReplaceAllString(listed, ""), -1)
	var want []string
	for _, c := range runlog.Columns() {
		if slices.Contains([]string{"yes", "at least one", "1 where it is absent"}, c.Need) {
			want = append(want, c.Name())
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("the help names %q, and a log needs %q", got, want)
	}
}

// The help of compare lists what can differ.
func TestHelpOfCompareListsDifferences(t *testing.T) {
	cmd := newCompareCommand(&environment{})
	addHelp(cmd)
	if words := strings.Join(ask.Circumstances, ", "); !strings.Contains(cmd.Long, words) {
		t.Errorf("the help of compare does not list %s", words)
	}
}

// A short answer fits a usual terminal, its warnings and cautions included, and the prompt
// below it: every golden log that has one is asked.
func TestAdviceFitsOneScreen(t *testing.T) {
	inTopFolder(t)
	const columns, lines = 80, 24
	cases, err := filepath.Glob("testdata/golden/*/args")
	if err != nil {
		t.Fatal(err)
	}
	asked := 0
	for _, file := range cases {
		args := strings.Split(strings.TrimSuffix(read(t, file), "\n"), "\n")
		other := func(arg string) bool {
			return strings.HasPrefix(arg, "--format") || arg == "--full" || arg == "--help" || arg == "-"
		}
		if args[0] != "advise" || slices.ContainsFunc(args, other) {
			continue
		}
		if _, err := os.Stat(filepath.Join(filepath.Dir(file), "stdin")); err == nil {
			continue
		}
		got := regear(t, "", args...)
		if got.exit != exitAnswered {
			continue
		}
		asked++
		all := strings.Split(strings.TrimSuffix(got.stdout+got.stderr, "\n"), "\n")
		tall := 0
		for _, line := range all {
			wide := text.StringWidth(line)
			// What begins with a place in a file is for editors too, and left to the terminal.
			if place := strings.HasPrefix(line, "testdata/"); wide > columns && !place {
				t.Errorf("%s: %d columns: %s", file, wide, line)
			}
			tall += 1 + max(0, wide-1)/columns
		}
		if tall >= lines {
			t.Errorf("%s: %d lines", file, tall)
		}
	}
	if asked < 20 {
		t.Errorf("only %d answers were looked at", asked)
	}
}

// around lists a command line of each command around the pinion.
var around = [][]string{
	{"start", "--log", weekend, "--tire", "130mm"},
	{"start", "--pinion", "17", "--spur", "68", "--from-tire", "104mm", "--tire", "118mm"},
	{"rest", "--log", weekend, "--start", "motor=45C"},
	{"compare", "--log", weekend, "--next", "ambient=35C"},
	{"table", "--pinions", "13-17", "--spurs", "68", "--tire", "118mm"},
}

// An answer that can't be written is none, in every format; and every JSON document is
// one, of the schema.
func TestAnswersAroundThePinion(t *testing.T) {
	inTopFolder(t)
	for _, args := range around {
		for _, format := range []string{"text", "json"} {
			args := append(append([]string{}, args...), "--format", format)
			var errOut bytes.Buffer
			if exit := run(args, strings.NewReader(""), fullDisk{}, &errOut); exit != exitFailed || !strings.Contains(errOut.String(), errFull.Error()) {
				t.Errorf("%q: exit %d: %s", args, exit, errOut.String())
			}
		}
		got := regear(t, "", append(append([]string{}, args...), "--format", "json")...)
		var doc struct {
			Schema int `json:"schema"`
		}
		if err := json.Unmarshal([]byte(got.stdout), &doc); err != nil || doc.Schema != 1 {
			t.Errorf("%q: schema %d (%v)", args, doc.Schema, err)
		}
	}
}

// compare answers for each run what advise answers for it alone.
func TestCompareIsAdviceSideBySide(t *testing.T) {
	inTopFolder(t)
	got := regear(t, "", "compare", "--log", weekend, "--limit", "motor=80C", "--next", "ambient=35C,minutes=15", "--next", "tire=104mm", "--format", "json")
	var doc struct {
		Runs []struct {
			Advice json.RawMessage `json:"advice"`
		} `json:"next_runs"`
	}
	if err := json.Unmarshal([]byte(got.stdout), &doc); err != nil || len(doc.Runs) != 3 {
		t.Fatalf("%d runs: %v", len(doc.Runs), err)
	}
	for i, flags := range [][]string{nil, {"--ambient", "35C", "--minutes", "15"}, {"--tire", "104mm"}} {
		alone := regear(t, "", append([]string{"advise", "--log", weekend, "--limit", "motor=80C", "--format", "json"}, flags...)...)
		var one, want bytes.Buffer
		if err := json.Compact(&one, doc.Runs[i].Advice); err != nil {
			t.Fatal(err)
		}
		if err := json.Compact(&want, []byte(alone.stdout)); err != nil {
			t.Fatal(err)
		}
		if one.String() != want.String() {
			t.Errorf("%q: compare says %s\nadvise says %s", flags, one.String(), want.String())
		}
	}
}

// start, rest and the table agree with advise on what a gearing is.
func TestStartForeseesWhatAdviseForesees(t *testing.T) {
	inTopFolder(t)
	type gearing struct {
		Pinion  int      `json:"pinion_teeth"`
		Rollout float64  `json:"rollout_mm"`
		Chance  *float64 `json:"probability_under_limits"`
	}
	var start struct {
		Gearings []gearing `json:"gearings"`
	}
	var advice struct {
		Candidates []gearing `json:"candidates"`
	}
	flags := []string{"--log", weekend, "--tire", "130mm", "--ambient", "31C", "--minutes", "9", "--pinions", "12-18", "--format", "json"}
	for name, into := range map[string]any{"start": &start, "advise": &advice} {
		got := regear(t, "", append([]string{name}, flags...)...)
		if err := json.Unmarshal([]byte(got.stdout), into); err != nil {
			t.Fatalf("%s: %v: %s", name, err, got.stderr)
		}
	}
	compared := 0
	for _, s := range start.Gearings {
		for _, a := range advice.Candidates {
			if s.Pinion == a.Pinion {
				compared++
				if s.Rollout != a.Rollout || *s.Chance != *a.Chance {
					t.Errorf("pinion %d: start says %g mm and %g, advise %g mm and %g", s.Pinion, s.Rollout, *s.Chance, a.Rollout, *a.Chance)
				}
			}
		}
	}
	if compared < 3 {
		t.Errorf("only %d gearings were compared", compared)
	}
}
