package main

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

var update = flag.Bool("update", false, "rewrite testdata/golden and the README's outputs from what the program does now")

// result is what one run of the program left behind.
type result struct {
	stdout, stderr string
	exit           int
}

// regear runs the program as a shell in the repository's top folder would.
func regear(t *testing.T, stdin string, args ...string) result {
	t.Helper()
	var out, errOut bytes.Buffer
	env := &environment{in: strings.NewReader(stdin), out: &out, errOut: &errOut, getenv: os.Getenv, now: fixedNow}
	exit := env.run(args)
	return result{out.String(), errOut.String(), exit}
}

// fixedNow is the moment in which every test of a whole command line takes place.
func fixedNow() time.Time { return time.Date(2026, 5, 18, 19, 4, 0, 0, time.UTC) }

// inTopFolder runs a test in the repository's top folder, from which all its paths are.
func inTopFolder(t *testing.T) {
	t.Helper()
	t.Chdir(filepath.Join("..", ".."))
}

// TestGolden runs whole command lines. A case is a folder testdata/golden/NAME with
// args (one argument a line), stdin, stdout, stderr and exit; a missing file is an
// empty one, and a missing exit is 0. The log book is a copy of the case's book.csv in
// a folder that args and outputs call BOOK-FOLDER, and book-after.csv is what becomes of
// it. -update rewrites what the program writes; the laws that answers must obey are tests
// of their own.
func TestGolden(t *testing.T) {
	inTopFolder(t)
	cases, err := filepath.Glob("testdata/golden/*/args")
	if err != nil || len(cases) == 0 {
		t.Fatalf("no golden cases: %v", err)
	}
	for _, args := range cases {
		dir := filepath.Dir(args)
		t.Run(filepath.Base(dir), func(t *testing.T) {
			book := newGoldenBook(t, dir)
			got := book.hide(regear(t, golden(t, dir, "stdin"), lines(book.show(golden(t, dir, "args")))...))
			exit := strconv.Itoa(got.exit) + "\n"
			if *update {
				keep(t, dir, "stdout", got.stdout)
				keep(t, dir, "stderr", got.stderr)
				keep(t, dir, "exit", strings.TrimPrefix(exit, "0\n"))
				book.keep(t)
				return
			}
			wantExit := golden(t, dir, "exit")
			if wantExit == "" {
				wantExit = "0\n"
			}
			compare(t, "stdout", got.stdout, golden(t, dir, "stdout"))
			compare(t, "stderr", got.stderr, golden(t, dir, "stderr"))
			compare(t, "exit", exit, wantExit)
			book.compare(t)
		})
	}
}

// golden returns a file of a case, or "" if it has none.
func golden(t *testing.T, dir, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	return string(text)
}

// keep writes a file of a case, or removes it if it would be empty.
func keep(t *testing.T, dir, name, text string) {
	t.Helper()
	path := filepath.Join(dir, name)
	if text == "" {
		if err := os.Remove(path); err != nil && !os.IsNotExist(err) {
			t.Fatal(err)
		}
		return
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// lines splits a file of arguments. An empty line is an empty argument.
func lines(text string) []string {
	if text == "" {
		return nil
	}
	return strings.Split(strings.TrimSuffix(text, "\n"), "\n")
}

// compare reports the first line in which two texts differ.
func compare(t *testing.T, what, got, want string) {
	t.Helper()
	if got == want {
		return
	}
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range max(len(g), len(w)) {
		var gotLine, wantLine string
		if i < len(g) {
			gotLine = g[i]
		}
		if i < len(w) {
			wantLine = w[i]
		}
		if gotLine != wantLine {
			t.Errorf("%s differs at line %d (rewrite it with -update if the change is meant):\n got: %s\nwant: %s", what, i+1, gotLine, wantLine)
			return
		}
	}
}
