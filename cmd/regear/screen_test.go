package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/jedib0t/go-pretty/v6/text"
)

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
