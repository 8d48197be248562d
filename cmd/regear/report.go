package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
	"regear/internal/wholefile"
)

// reportOptions is what `regear report` was asked.
type reportOptions struct {
	logFlags
	next  ask.NextRun
	out   pageFile
	units *ask.Choice[units.System]
}

// pageFile is a flag that names the file of a page.
type pageFile struct {
	path  string
	write func(*report.Record, io.Writer) error
}

var errPageEnding = errors.New("a report's file name must end in .html or .md")

func (f *pageFile) String() string { return f.path }
func (f *pageFile) Type() string   { return "FILE" }

func (f *pageFile) Set(path string) error {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".html":
		f.write = (*report.Record).HTML
	case ".md":
		f.write = (*report.Record).Markdown
	default:
		return errPageEnding
	}
	f.path = path
	return nil
}

func newReportCommand(env *environment) *cobra.Command {
	var opts reportOptions
	cmd := &cobra.Command{
		Use:   "report",
		Short: "Write all there is to say into one file to keep",
		Long: `report writes one file to keep, to print or to pass on: the answer that advise gives to
the same flags, its plots, how heat follows the gearing, hindsight, the runs, what was
assumed, every warning, and how to read it all for somebody who has never seen regear.

The file's ending says how it is written: .html is a page with its plots in it, which
needs no other file and no network; .md is Markdown, which tells the plots in words.`,
		Example: `  regear report --log weekend.csv --limit motor=80C --out weekend.html
  regear report --car heron --ambient 86F --minutes 12 --units us --out heron.md`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := opts.logFlags.settle(cmd); err != nil {
				return err
			}
			if opts.out.path == "" {
				return errors.New("no file was named: add --out FILE, ending in .html or .md")
			}
			return failed(runReport(env, &opts))
		},
	}
	opts.logFlags.register(cmd)
	addFlags(cmd, opts.next.Values()...)
	opts.units = newUnitsFlag()
	cmd.Flags().Var(&opts.out, "out", "file to write, ending in .html or .md")
	cmd.Flags().Var(opts.units, "units", "units of the report, unless the car file says")
	return cmd
}

func runReport(env *environment, opts *reportOptions) error {
	file, err := wholefile.Open(opts.out.path, opts.out.path)
	if err != nil {
		return err
	}
	defer file.Discard()
	record, err := opts.record(env)
	if err != nil {
		return err
	}
	if err := file.Write(func(w io.Writer) error { return opts.out.write(record, w) }); err != nil {
		return err
	}
	if err := env.warn(record.Answer.Warnings, env.style(opts.units.Value)); err != nil {
		return err
	}
	_, err = fmt.Fprintf(env.out, "%s: %s\n", opts.out.path, report.Headline(record.Answer, opts.units.Value))
	return err
}

// record reads, fits, answers and looks back.
func (o *reportOptions) record(env *environment) (*report.Record, error) {
	runs, noticed, err := env.runsOfCar(&o.logFlags)
	if err != nil {
		return nil, err
	}
	runs, noticed = report.WithoutFolders(runs, noticed)
	car, err := o.fit(runs)
	if err != nil {
		return nil, err
	}
	own, err := env.ownCar(car.Name)
	if err != nil {
		return nil, err
	}
	if err := env.notice(&noticed, o.next.Doubts(own)); err != nil {
		return nil, err
	}
	answer, err := answerFor(car, own, &o.next)
	if err != nil {
		return nil, err
	}
	hindsight, err := analyze.LookBack(runs, advise.Temperatures(answer.Limits))
	if err != nil && !errors.Is(err, analyze.ErrTooFewRuns) {
		return nil, err
	}
	return &report.Record{
		Answer: answer, Hindsight: hindsight, Runs: runs, Noticed: noticed,
		Units: o.units.Value, Version: version(), Made: env.now(),
	}, nil
}
