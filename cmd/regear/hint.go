package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"regear/analyze/nearest"
)

// unknownCommand says that there is no such command, and what may have been meant.
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
		return fmt.Errorf("--%s: %q: %w", invalid.GetFlag().Name, invalid.GetValue(), invalid.Unwrap())
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

// noArguments refuses arguments that are not flags, and guesses what they were for.
func noArguments(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	if cmd.Flags().Lookup("log") == nil {
		return fmt.Errorf("%q belongs to no flag; see %s --help", args[0], cmd.CommandPath())
	}
	return fmt.Errorf("%q belongs to no flag; a log is named with --log, as in %s --log %s", args[0], cmd.CommandPath(), args[0])
}
