package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"regear/analyze"
	domain "regear/analyze/run"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// listed is what `regear runs` lists: runs, or what keeps runs out of the fits.
type listed struct {
	runs     []domain.Run
	problems []report.RunProblem
	problem  bool // the problems are listed
}

func listFormats() []report.Format[listed] {
	formats := make([]report.Format[listed], len(report.RunsFormats))
	for i, runs := range report.RunsFormats {
		formats[i] = report.Format[listed]{Name: runs.Name, ForPeople: runs.ForPeople, Write: func(w io.Writer, l listed, s report.Style) error {
			if l.problem {
				return report.ProblemFormats[i].Write(w, l.problems, s)
			}
			return runs.Write(w, l.runs, s)
		}}
	}
	return formats
}

func newRunsCommand(env *environment) *cobra.Command {
	var logs logFlags
	var filter ask.RunFilter
	var problems bool
	return question[listed]{
		use:   "runs",
		short: "List the runs of the log book, with totals by car",
		asks: func(cmd *cobra.Command) {
			logs.register(env, cmd)
			cmd.Flags().Lookup("car").Usage = "only runs of the car of this `NAME` (default: all cars)"
			addFlags(cmd, filter.Values()...)
			cmd.Flags().BoolVar(&problems, "problems", false, "list what keeps runs out of the fits")
		},
		formats: listFormats(),
		answer:  func(bool) (listed, error) { return env.list(&logs, &filter, problems) },
	}.command(env)
}

func (e *environment) list(flags *logFlags, filter *ask.RunFilter, problems bool) (listed, error) {
	logs, err := flags.read(e)
	if err != nil {
		return listed{}, errors.Join(e.print(logs.Notes), err)
	}
	cars, runs := logs.Names, logs.Runs
	if !flags.anyCar {
		car, err := flags.choose(logs)
		if err != nil {
			return listed{}, err
		}
		cars, runs = []string{car.Name}, car.Runs
	}
	if problems {
		return listed{problems: findProblems(logs, cars, filter), problem: true}, nil
	}
	return listed{runs: filter.Of(runs)}, e.print(logs.Notes)
}

// findProblems lists what keeps rows and runs of cars out of the fits. The fits are those of
// all runs of each car; the filter chooses what is listed of them.
func findProblems(logs *app.Logs, cars []string, filter *ask.RunFilter) []report.RunProblem {
	found := report.RowProblems(logs.Notes)
	for _, name := range cars {
		runs := logs.ByCar[name]
		wanted := map[domain.Position]bool{}
		for _, r := range filter.Of(runs) {
			wanted[r.Position] = true
		}
		fit, err := analyze.FitCar(runs)
		if err != nil {
			found = append(found, report.RunProblem{Car: name, Why: report.NoUsableRun(fmt.Sprintf("no run of %q", name))})
			continue
		}
		for _, p := range report.LeftOutOf(fit) {
			if wanted[p.Position] {
				found = append(found, p)
			}
		}
	}
	return found
}
