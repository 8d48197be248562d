package main

import (
	"cmp"

	"github.com/spf13/cobra"

	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
	"regear/plotting"
)

// question is a command that answers one question: what it asks, what it computes, and in
// which formats the answer is written. A new one is one constructor.
type question[T any] struct {
	use, short string

	asks    func(cmd *cobra.Command) // adds its flags, in the order of the help
	late    func(cmd *cobra.Command) // those behind --format and --units, nil for none
	formats []report.Format[T]
	usage   string // of --format, "" for the usual one

	// answer answers for people, or for a program.
	answer func(people bool) (T, error)
	// tell tells what goes with an answer: its warnings, and the cautions for people. Nil
	// is nothing.
	tell func(answer T, people bool, s report.Style) error

	// figure is what --plot draws. There is no --plot where it is nil.
	figure    func(answer T, u units.System) (*plotting.Figure, error)
	plotUsage string
}

func (q question[T]) command(env *environment) *cobra.Command {
	names := make([]string, len(q.formats))
	for i, f := range q.formats {
		names[i] = f.Name
	}
	format, system := ask.NewChoice(names, q.formats...), newUnitsFlag()
	plot := newPicture()
	cmd := &cobra.Command{Use: q.use, Short: q.short, Args: noArguments,
		RunE: func(*cobra.Command, []string) error { return failed(q.run(env, format.Value, system.Value, plot)) }}
	q.asks(cmd)
	cmd.Flags().Var(format, "format", cmp.Or(q.usage, "how to write the answer"))
	cmd.Flags().Var(system, "units", unitsUsage)
	if q.late != nil {
		q.late(cmd)
	}
	if q.figure != nil {
		cmd.Flags().Var(plot, "plot", q.plotUsage)
	}
	return cmd
}

func (q question[T]) run(env *environment, format report.Format[T], system units.System, plot *outFile[*plotting.Figure]) error {
	if err := plot.open(); err != nil {
		return err
	}
	defer plot.discard()
	answer, err := q.answer(format.ForPeople)
	if err != nil {
		return err
	}
	// The picture comes first: a pipe that reads the text may be closed early, and that ends
	// the program.
	if err := plot.fill(func() (*plotting.Figure, error) { return q.figure(answer, system) }); err != nil {
		return err
	}
	style := env.style(system)
	if err := format.Write(env.out, answer, style); err != nil || q.tell == nil {
		return err
	}
	return q.tell(answer, format.ForPeople, style)
}
