package report

import (
	"path/filepath"
	"slices"
	"strings"

	"regear/analyze/run"
)

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
