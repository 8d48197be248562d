package main

import (
	"io"
	"path/filepath"
	"strings"
	"testing"
)

// BenchmarkAdvise is the whole program on a log of 30 runs, with and without a plot.
func BenchmarkAdvise(b *testing.B) {
	log := filepath.Join("..", "..", "testdata", "demo", "season.csv")
	for name, args := range map[string][]string{
		"text":     {"advise", "--log", log},
		"with SVG": {"advise", "--log", log, "--plot", filepath.Join(b.TempDir(), "a.svg")},
		"with PNG": {"advise", "--log", log, "--plot", filepath.Join(b.TempDir(), "a.png")},
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if exit := run(args, strings.NewReader(""), io.Discard, io.Discard); exit != exitAnswered {
					b.Fatalf("exit %d", exit)
				}
			}
		})
	}
}
