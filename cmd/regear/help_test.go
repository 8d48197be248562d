package main

import (
	"io/fs"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"regear/analyze/runlog"
)

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
	if words := strings.Join(differences, ", "); !strings.Contains(cmd.Long, words) {
		t.Errorf("the help of compare does not list %s", words)
	}
}
