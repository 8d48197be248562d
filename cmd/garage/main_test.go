package main

import (
	"bytes"
	"strings"
	"testing"
)

func garageCommand(args ...string) (code int, out, errOut string) {
	var o, e bytes.Buffer
	code = run(args, &o, &e)
	return code, o.String(), e.String()
}

func TestCommandPrintsTables(t *testing.T) {
	code, out, _ := garageCommand("--garages", "22", "--set", "a", "--kinds")
	if code != exitDone {
		t.Fatalf("exit code %d", code)
	}
	wanted := []string{"set a, usual kinds: 14 garages", "set a, hard kinds: 8 garages", "reliability"}
	for _, a := range advisers {
		wanted = append(wanted, a.name, a.name+", by kind of log")
	}
	for k := range numKinds {
		wanted = append(wanted, k.String())
	}
	for _, w := range wanted {
		if !strings.Contains(out, w) {
			t.Errorf("no %q in\n%s", w, out)
		}
	}
	if strings.Contains(out, "NaN") || strings.Contains(out, "Inf") {
		t.Errorf("a number that is none in\n%s", out)
	}
	if _, again, _ := garageCommand("--set", "a", "--kinds", "--garages", "22"); again != out {
		t.Errorf("another run prints\n%s\nafter\n%s", again, out)
	}
	if _, other, _ := garageCommand("--set", "b", "--kinds", "--garages", "22"); other == out {
		t.Error("both sets print the same")
	}
}

func TestCommandPrintsExponents(t *testing.T) {
	code, out, _ := garageCommand("exponents", "--garages", "5")
	if code != exitDone || !strings.Contains(out, "exponent on rollout") || !strings.Contains(out, "set b: 5 cars") {
		t.Errorf("exit code %d, printed\n%s", code, out)
	}
}

func TestCommandUsage(t *testing.T) {
	tests := []struct {
		args string
		code int
		says string
	}{
		{"--set c", exitUsage, `"c"`},
		{"--garages 0", exitUsage, "at least 1"},
		{"--garages", exitUsage, "needs an argument"},
		{"fly", exitUsage, `"fly"`},
		{"demo", exitUsage, "demo DIR"},
		{"exponents all", exitUsage, `"exponents all"`},
		{"--help", exitDone, "-seed"},
		{"demo main.go/demo", exitFailed, "main.go"},
	}
	for _, tt := range tests {
		code, out, errOut := garageCommand(strings.Fields(tt.args)...)
		if code != tt.code || out != "" || !strings.Contains(errOut, tt.says) {
			t.Errorf("%s: exit code %d, out %q, error %q; want %d and %q", tt.args, code, out, errOut, tt.code, tt.says)
		}
	}
}
