package report

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
)

// This file keeps the books of what the logs hold and of what stands in the way of using
// them. It words nothing but errors, and nothing of it depends on the rest of the package.

// Noticed is what was noticed while the logs were read.
type Noticed struct {
	LeftOut     []run.Problem // rows that could not be used
	Doubtful    []run.Problem // what looks implausible and was used all the same
	CountedOnce []run.Problem // runs that stand in more than one log
}

// Of leaves out what was noticed in rows of other cars.
func (n Noticed) Of(car string) Noticed {
	own := func(of []run.Problem) []run.Problem {
		return slices.DeleteFunc(slices.Clone(of), func(p run.Problem) bool {
			return p.Car != "" && run.Fold(p.Car) != run.Fold(car)
		})
	}
	return Noticed{own(n.LeftOut), own(n.Doubtful), own(n.CountedOnce)}
}

// WithoutFolders returns runs and what was noticed under the names of their files alone.
// A record is made to be passed on, and the folders of whoever made it are no concern of
// its reader. Names that would be the same stay as they are.
func WithoutFolders(runs []run.Run, n Noticed) ([]run.Run, Noticed) {
	short := shortNames(runs, n)
	runs = slices.Clone(runs)
	for i := range runs {
		runs[i].File = short[runs[i].File]
	}
	shorten := func(problems []run.Problem) []run.Problem {
		problems = slices.Clone(problems)
		for i := range problems {
			p := &problems[i]
			p.File = short[p.File]
			for file, name := range short {
				p.What = strings.ReplaceAll(p.What, file+":", name+":") // as in "is the run of FILE:LINE"
			}
		}
		return problems
	}
	return runs, Noticed{shorten(n.LeftOut), shorten(n.Doubtful), shorten(n.CountedOnce)}
}

// shortNames returns each file's name without its folder, or whole where another has the same.
func shortNames(runs []run.Run, n Noticed) map[string]string {
	short := map[string]string{}
	for i := range runs {
		short[runs[i].File] = filepath.Base(runs[i].File)
	}
	for _, p := range slices.Concat(n.LeftOut, n.Doubtful, n.CountedOnce) {
		short[p.File] = filepath.Base(p.File)
	}
	short[""] = "" // what stands in no file
	like := map[string]int{}
	for _, name := range short {
		like[name]++
	}
	for file, name := range short {
		if like[name] > 1 {
			short[file] = file
		}
	}
	return short
}

// Import is what became of an import.
type Import struct {
	Book string // where it lies; "" where the reader need not know
	Logs []ImportedLog
	logbook.Merged
	DryRun      bool
	Rejects     string   // where refused rows were asked for, "" if nowhere
	RejectFiles []string // where they were written
}

// ImportedLog is one log of an import.
type ImportedLog struct {
	*runlog.Log
	Contents logbook.Contents
}

// Contents returns what the logs of an import hold.
func Contents(logs []ImportedLog) []logbook.Contents {
	all := make([]logbook.Contents, len(logs))
	for i, l := range logs {
		all[i] = l.Contents
	}
	return all
}

// ToAsk returns what to ask about before the logs of an import are taken.
func ToAsk(logs []ImportedLog) []run.Problem {
	var all []run.Problem
	for _, l := range logs {
		for _, w := range l.Warnings {
			if w.Ask {
				all = append(all, w)
			}
		}
	}
	return all
}

// AnyRun returns an error if no log of an import has a run that can be used.
func AnyRun(logs []ImportedLog) error {
	if slices.ContainsFunc(logs, func(l ImportedLog) bool { return len(l.Contents.Entries) > 0 }) {
		return nil
	}
	return errors.New("no usable run: nothing was imported")
}

// Rejects returns the refused rows of an import's logs, each table with the name of its
// file: that of the first is as given, and the others are numbered.
func Rejects(logs []ImportedLog, name string) (names []string, tables []logbook.RejectTable) {
	read := make([]*runlog.Log, len(logs))
	for i, l := range logs {
		read[i] = l.Log
	}
	tables = logbook.Rejects(read)
	ending := filepath.Ext(name)
	for i := range tables {
		numbered := name
		if i > 0 {
			numbered = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(name, ending), i+1, ending)
		}
		names = append(names, numbered)
	}
	return names, tables
}

// Undecided is the error of an import that was stopped by conflicts.
func Undecided(n int) error {
	runs, disagree := "runs", "disagree"
	if n == 1 {
		runs, disagree = "run", "disagrees"
	}
	return fmt.Errorf("%d %s %s with what the log book or another row has, so nothing was changed: mend the log, "+
		"or decide with --replace (the log's values, but not between rows of one log) or --keep-both", n, runs, disagree)
}
