package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
	"regear/internal/wholefile"
)

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
	var logs logFlags
	var next ask.NextRun
	var out pageFile
	system := newUnitsFlag()
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
		RunE: func(*cobra.Command, []string) error { return failed(env.report(&logs, &next, &out, system.Value)) },
	}
	logs.register(env, cmd)
	addFlags(cmd, next.Values()...)
	cmd.Flags().Var(&out, "out", "file to write, ending in .html or .md")
	cmd.Flags().Var(system, "units", "units of the report, unless the car file says")
	return cmd
}

func (e *environment) report(logs *logFlags, next *ask.NextRun, out *pageFile, u units.System) error {
	if out.path == "" {
		return usagef("no file was named: add --out FILE, ending in .html or .md")
	}
	file, err := wholefile.Open(out.path, out.path)
	if err != nil {
		return err
	}
	defer file.Discard()
	record, err := e.record(logs, next, u)
	if err != nil {
		return err
	}
	if err := file.Write(func(w io.Writer) error { return out.write(record, w) }); err != nil {
		return err
	}
	if err := e.warn(record.Answer.Warnings, e.style(u)); err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.out, "%s: %s\n", out.path, report.Headline(record.Answer, u))
	return err
}

// record reads, fits, answers and looks back.
func (e *environment) record(logs *logFlags, next *ask.NextRun, u units.System) (*report.Record, error) {
	car, err := e.carOf(logs, false)
	if err != nil {
		return nil, err
	}
	fitted, err := e.fit(logs, car.WithoutFolders())
	if err != nil {
		return nil, err
	}
	all, err := fitted.Report(next)
	if err := e.note(&fitted.Notes, all.Problems); err != nil {
		return nil, err
	}
	if err != nil {
		return nil, inFlags(err, fitted)
	}
	return &report.Record{
		Answer: all.Advice, Hindsight: all.Hindsight, Runs: fitted.Runs, Noticed: fitted.Notes,
		Units: u, Version: version(), Made: e.now(),
	}, nil
}
