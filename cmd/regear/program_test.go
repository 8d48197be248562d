package main

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
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
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
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
