package main

import (
	"errors"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
)

// addFlags makes flags of values.
func addFlags(cmd *cobra.Command, values ...ask.Value) {
	for _, v := range values {
		cmd.Flags().Var(v, v.Name, v.Usage)
	}
}

// wrongFlag words what is wrong with a flag's value, as shows only once the car is known.
func wrongFlag(name, text string, err error) error { return usagef("--%s: %q: %w", name, text, err) }

// newUnitsFlag is --units, the units of text output.
func newUnitsFlag() *ask.Choice[units.System] {
	systems := []units.System{units.Metric, units.US}
	return ask.NewChoice([]string{units.Metric.String(), units.US.String()}, systems...)
}

const unitsUsage = "units of text output, unless the car file says; JSON and CSV are always metric"

// readingFlags say how to read a log.
type readingFlags struct {
	columns map[string]string // headers of your own, each with the column that it is read as
	order   *ask.Choice[runlog.DateOrder]
}

// register adds the flags. column ends the usage of --column.
func (f *readingFlags) register(cmd *cobra.Command, column string) {
	orders := []runlog.DateOrder{runlog.OrderOfLog, runlog.DayFirst, runlog.MonthFirst}
	names := make([]string, len(orders))
	for i, order := range orders {
		names[i] = order.String()
	}
	f.columns, f.order = map[string]string{}, ask.NewChoice(names, orders...)
	cmd.Flags().Var(f.order, "date-order", "how to read dates such as 03/04/2026 where the log's\ndates fit both orders")
	addFlags(cmd, ask.Value{Name: "column", Kind: "HEADER=COLUMN", Take: f.addColumn,
		Usage: "read a header of your own as a column, as in 'Temp mot=motor_peak_f'; repeatable" + column})
}

func (f *readingFlags) addColumn(mapping string) error {
	header, column, err := runlog.ParseColumn(mapping)
	if err == nil {
		f.columns[header] = column
	}
	return err
}

// readOnce refuses standard input among files more than once.
func readOnce(files []string) error {
	stdin := 0
	for _, name := range files {
		if name == "-" {
			stdin++
		}
	}
	if stdin > 1 {
		return errors.New("standard input (-) can be read only once")
	}
	return nil
}

// complete lets a shell complete the flags of a command that take one of a few words, and
// offer no files for what is no file.
func complete(cmd *cobra.Command) {
	for _, c := range cmd.Commands() {
		complete(c)
	}
	if cmd.ValidArgs == nil && cmd.Args != nil {
		cmd.ValidArgsFunction = cobra.NoFileCompletions
	}
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		value, known := f.Value.(interface{ Words() []string })
		if !known {
			return
		}
		directive := cobra.ShellCompDirectiveNoFileComp
		words := value.Words()
		if len(words) > 0 && strings.HasSuffix(words[0], "=") {
			directive |= cobra.ShellCompDirectiveNoSpace // the value comes behind it
		}
		// It fails where a flag has its own completion already.
		_ = cmd.RegisterFlagCompletionFunc(f.Name, cobra.FixedCompletions(words, directive))
	})
}
