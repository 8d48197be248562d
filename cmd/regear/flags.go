package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"regear/analyze/nearest"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
)

func addFlags(cmd *cobra.Command, values ...ask.Value) {
	for _, v := range values {
		cmd.Flags().Var(v, v.Name, v.Usage)
	}
}

func wrongFlag(name, text string, err error) error { return usagef("--%s: %q: %w", name, text, err) }

func newUnitsFlag() *ask.Choice[units.System] {
	return ask.NewChoice(units.System.String, units.Metric, units.US)
}

const unitsUsage = "units of text output, unless the car file says; JSON and CSV are always metric"

// readingFlags say how a log is read.
type readingFlags struct {
	reading runlog.Options
	order   *ask.Choice[runlog.DateOrder]
}

// register adds the flags. remembered ends the usage of those that an import remembers.
func (f *readingFlags) register(cmd *cobra.Command, remembered string) {
	f.reading.Columns, f.order = map[string]string{}, ask.NewChoice(runlog.DateOrder.String, runlog.OrderOfLog, runlog.DayFirst, runlog.MonthFirst)
	cmd.Flags().Var(f.order, "date-order", "how to read dates such as 03/04/2026 where the log's\ndates fit both orders")
	addFlags(cmd,
		ask.Value{Name: "column", Kind: "HEADER=COLUMN", Take: f.addColumn,
			Usage: "read a header of your own as a column, as in 'Temp mot=motor_peak_f'; repeatable" + remembered},
		ask.Value{Name: "constant", Kind: "COLUMN=VALUE", Take: f.addConstant,
			Usage: "take one value where the log says nothing, as in ambient=25C; repeatable" + remembered},
		ask.Value{Name: "file-units", Kind: "metric|us", Take: f.setUnits, Known: []string{units.Metric.String(), units.US.String()},
			Usage: "units of the log where neither its headers nor its cells say them"})
	cmd.Flags().StringVar(&f.reading.Sheet, "sheet", "", "the sheet of a workbook to read, by its `NAME` (default: each one that is a log)")
	cmd.Flags().BoolVar(&f.reading.HeatStops, "heat-stops", false, "a peak that says \"too hot\" or the like in words marks a run that heat ended")
}

func (f *readingFlags) addColumn(mapping string) error {
	header, column, err := runlog.ParseColumn(mapping)
	if err == nil {
		f.reading.Columns[header] = column
	}
	return err
}

func (f *readingFlags) addConstant(text string) error {
	c, err := runlog.ParseConstant(text)
	if err == nil {
		f.reading.Constants = append(f.reading.Constants, c)
	}
	return err
}

func (f *readingFlags) setUnits(name string) error {
	system, err := units.ParseSystem(name)
	if err == nil {
		f.reading.FileUnits = &system
	}
	return err
}

// options returns how to read a log of the driver's own.
func (f *readingFlags) options() runlog.Options {
	opts := f.reading
	opts.Forgiving, opts.DateOrder = true, f.order.Value
	return opts
}

func readOnce(files []string) error {
	if at := slices.Index(files, "-"); at >= 0 && slices.Contains(files[at+1:], "-") {
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

func unknownCommand(root *cobra.Command, name string) error {
	var names []string
	for _, c := range root.Commands() {
		if c.IsAvailableCommand() {
			names = append(names, c.Name())
		}
	}
	return fmt.Errorf("there is no command %q%s; the commands are %s", name, nearest.DidYouMean(name, names), strings.Join(names, ", "))
}

// flagError adds to an unknown flag the one that may have been meant, and words the
// rest as the other messages are.
func flagError(cmd *cobra.Command, err error) error {
	var unknown *pflag.NotExistError
	var invalid *pflag.InvalidValueError
	var missing *pflag.ValueRequiredError
	switch {
	case errors.As(err, &unknown):
		return unknownFlag(cmd, unknown)
	case errors.As(err, &invalid):
		return wrongFlag(invalid.GetFlag().Name, invalid.GetValue(), invalid.Unwrap())
	case errors.As(err, &missing):
		kind, usage := pflag.UnquoteUsage(missing.GetFlag())
		return fmt.Errorf("--%s needs its %s: %s", missing.GetFlag().Name, kind, usage)
	}
	return err
}

func unknownFlag(cmd *cobra.Command, err *pflag.NotExistError) error {
	var names []string
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if !f.Hidden {
			names = append(names, "--"+f.Name)
		}
	})
	name := "--" + err.GetSpecifiedName()
	if short := err.GetSpecifiedShortnames(); short != "" {
		name = "-" + short
	}
	return fmt.Errorf("there is no flag %s%s; see %s --help", name, nearest.DidYouMean(name, names), cmd.CommandPath())
}

func noArguments(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	if cmd.Flags().Lookup("log") == nil {
		return fmt.Errorf("%q belongs to no flag; see %s --help", args[0], cmd.CommandPath())
	}
	return fmt.Errorf("%q belongs to no flag; a log is named with --log, as in %s --log %s", args[0], cmd.CommandPath(), args[0])
}
