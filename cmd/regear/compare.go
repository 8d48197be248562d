package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"regear/analyze/nearest"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

type otherRuns []string

func (f *otherRuns) add(text string) error {
	if err := change(new(ask.NextRun), text); err != nil {
		return err
	}
	if len(*f)+1 >= ask.MostCompared {
		return fmt.Errorf("%d other runs at most fit beside the next one", ask.MostCompared-1)
	}
	*f = append(*f, strings.TrimSpace(text))
	return nil
}

func change(next *ask.NextRun, different string) error {
	for _, item := range strings.Split(different, ",") {
		name, value, found := strings.Cut(item, "=")
		if !found {
			return errors.New("write what is different, as in ambient=35C,minutes=15 (with a decimal point)")
		}
		name, value = strings.ToLower(strings.TrimSpace(name)), strings.TrimSpace(value)
		if !slices.Contains(ask.Circumstances, name) {
			return fmt.Errorf("there is no circumstance %q%s; there are %s", name, nearest.DidYouMean(name, ask.Circumstances), strings.Join(ask.Circumstances, ", "))
		}
		if err := next.Set(name, value); err != nil {
			return fmt.Errorf("%s: %q: %w", name, value, err)
		}
	}
	return nil
}

func newCompareCommand(env *environment) *cobra.Command {
	var asked nextFlags
	var others otherRuns
	return question[report.Compared]{
		use:   "compare",
		short: "The pick under several next runs, side by side: a hotter day, another tire",
		asks: func(cmd *cobra.Command) {
			asked.register(env, cmd, ask.Value{Name: "next", Kind: "NAME=VALUE,...", Take: others.add, Known: strings.Fields(strings.Join(ask.Circumstances, "= ") + "="),
				Usage: "another next run by what is different, as in ambient=35C,minutes=15; repeatable"})
		},
		formats: report.CompareFormats,
		answer:  func(bool) (report.Compared, error) { return env.compare(&asked, others) },
		tell: func(c report.Compared, people bool, s report.Style) error {
			return env.warnAndCaution(report.WarningsOfAll(c.Runs), people, s)
		},
	}.command(env)
}

func (e *environment) compare(asked *nextFlags, others otherRuns) (report.Compared, error) {
	var all report.Compared
	if len(others) == 0 {
		return all, usagef("nothing to compare with: add --next with what is different, as in --next ambient=35C,minutes=15")
	}
	fitted, err := e.fitted(&asked.logFlags, false)
	if err != nil {
		return all, err
	}
	for _, different := range append(otherRuns{""}, others...) {
		run := asked.next
		if different != "" {
			if err := change(&run, different); err != nil {
				return all, usageError{err}
			}
		}
		advice, err := e.answer(fitted, &run)
		if err != nil && different != "" {
			err = fmt.Errorf("--next %s: %w", different, err)
		}
		if err != nil {
			return all, err
		}
		all.Runs = append(all.Runs, report.NextRun{Different: different, Advice: advice})
	}
	all.Notes = fitted.Notes
	return all, nil
}
