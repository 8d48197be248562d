package main

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"regear/analyze/nearest"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// compareOptions is what `regear compare` was asked.
type compareOptions struct {
	logFlags
	next   ask.NextRun
	others otherRuns
	format *ask.Choice[compareFormat]
	units  *ask.Choice[units.System]
}

// compareFormat is one way to write answers side by side.
type compareFormat struct {
	write     func(w io.Writer, all []report.NextRun, n report.Noticed, s report.Style) error
	forPeople bool
}

// otherRuns is --next: next runs by what is different about them.
type otherRuns []otherRun

type otherRun struct {
	text     string
	settings []setting
}

type setting struct{ name, value string }

// mostRuns is how many next runs fit beside each other on a page.
const mostRuns = 4

func (f *otherRuns) String() string { return "" }
func (f *otherRuns) Type() string   { return "NAME=VALUE,..." }

func (f *otherRuns) Set(text string) error {
	run := otherRun{text: strings.TrimSpace(text)}
	for _, item := range strings.Split(text, ",") {
		name, value, found := strings.Cut(item, "=")
		if !found {
			return errors.New("write what is different, as in ambient=35C,minutes=15 (with a decimal point)")
		}
		run.settings = append(run.settings, setting{strings.ToLower(strings.TrimSpace(name)), strings.TrimSpace(value)})
	}
	if err := change(new(ask.NextRun), run.settings); err != nil {
		return err
	}
	if len(*f)+1 >= mostRuns {
		return fmt.Errorf("%d other runs at most fit beside the next one", mostRuns-1)
	}
	*f = append(*f, run)
	return nil
}

// differences are the names that --next takes, in the order of the help.
var differences = []string{"ambient", "minutes", "tire", "cells", "surface", "cooling"}

// change sets circumstances of a next run by their names.
func change(next *ask.NextRun, settings []setting) error {
	for _, s := range settings {
		if !slices.Contains(differences, s.name) {
			return fmt.Errorf("there is no circumstance %q%s; there are %s", s.name, nearest.DidYouMean(s.name, differences), strings.Join(differences, ", "))
		}
		if err := next.Set(s.name, s.value); err != nil {
			return fmt.Errorf("%s: %q: %w", s.name, s.value, err)
		}
	}
	return nil
}

func newCompareCommand(env *environment) *cobra.Command {
	var opts compareOptions
	cmd := &cobra.Command{
		Use:   "compare",
		Short: "The pick under several next runs, side by side: a hotter day, another tire",
		Long: `compare answers as advise does for the next run and, beside it, for up to three others
that differ from it: a hotter day, a longer run, another tire, a fan. Each --next names
one of them by what is different: ` + strings.Join(differences, ", ") + `.`,
		Example: `  regear compare --log weekend.csv --next ambient=35C --next 'ambient=35C,minutes=15'
  regear compare --log weekend.csv --limit motor=80C --next tire=104mm --next cooling=fan`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := opts.logFlags.settle(cmd); err != nil {
				return err
			}
			if len(opts.others) == 0 {
				return errors.New("nothing to compare with: add --next with what is different, as in --next ambient=35C,minutes=15")
			}
			return failed(runCompare(env, &opts))
		},
	}
	opts.logFlags.register(cmd)
	cmd.Flags().Var(&opts.others, "next", "another next run by what is different, as in ambient=35C,minutes=15; repeatable")
	addFlags(cmd, opts.next.Values()...)
	opts.format = ask.NewChoice([]string{"text", "json"}, compareFormat{report.CompareText, true}, compareFormat{report.CompareJSON, false})
	opts.units = newUnitsFlag()
	cmd.Flags().Var(opts.format, "format", "how to write the answer")
	cmd.Flags().Var(opts.units, "units", unitsUsage)
	return cmd
}

func runCompare(env *environment, opts *compareOptions) error {
	car, noticed, err := env.fitCar(&opts.logFlags)
	if err != nil {
		return err
	}
	own, err := env.ownCar(car.Name)
	if err != nil {
		return err
	}
	var all []report.NextRun
	for _, other := range append([]otherRun{{}}, opts.others...) {
		next := opts.next
		if err := change(&next, other.settings); err != nil {
			return usageError{err}
		}
		if err := env.notice(&noticed, next.Doubts(own)); err != nil {
			return err
		}
		answer, err := answerFor(car, own, &next)
		if err != nil && other.text != "" {
			err = fmt.Errorf("--next %s: %w", other.text, err)
		}
		if err != nil {
			return err
		}
		all = append(all, report.NextRun{Different: other.text, Advice: answer})
	}
	style := env.style(opts.units.Value)
	if err := opts.format.Value.write(env.out, all, noticed, style); err != nil {
		return err
	}
	if err := env.warn(report.WarningsOfAll(all), style); err != nil || !opts.format.Value.forPeople {
		return err
	}
	return report.CautionNotes(style.Units).Text(env.out, style.Layout)
}
