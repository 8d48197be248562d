package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// unknownCommand says that there is no such command, and what may have been meant.
func unknownCommand(root *cobra.Command, name string) error {
	var names []string
	for _, c := range root.Commands() {
		if c.IsAvailableCommand() {
			names = append(names, c.Name())
		}
	}
	return fmt.Errorf("there is no command %q%s; the commands are %s", name, didYouMean(name, names), strings.Join(names, ", "))
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
	return fmt.Errorf("there is no flag %s%s; see %s --help", name, didYouMean(name, names), cmd.CommandPath())
}

// noArguments refuses arguments that are not flags, and guesses what they were for.
func noArguments(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	return fmt.Errorf("%q belongs to no flag; a log is named with --log, as in %s --log %s", args[0], cmd.CommandPath(), args[0])
}

// didYouMean returns the hint at the nearest name, or nothing.
func didYouMean(name string, names []string) string {
	if near := nearest(name, names); near != "" {
		return fmt.Sprintf(" (did you mean %s?)", near)
	}
	return ""
}

// nearest returns the name that takes the fewest typing errors to become what was
// typed, where these are few enough to be typing errors; else "".
func nearest(typed string, names []string) string {
	typed = strings.ToLower(typed)
	best, fewest := "", 1+len(typed)/3
	for _, name := range names {
		if d := typingErrors(typed, strings.ToLower(name)); d <= fewest {
			if best == "" || d < fewest {
				best, fewest = name, d
			}
		}
	}
	return best
}

// typingErrors counts the letters inserted, left out, mistaken or swapped with their
// neighbour between a and b (optimal string alignment).
func typingErrors(a, b string) int {
	from, to := []rune(a), []rune(b)
	rows := make([][]int, len(from)+1)
	for i := range rows {
		rows[i] = make([]int, len(to)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(from); i++ {
		for j := 1; j <= len(to); j++ {
			mistaken := 1
			if from[i-1] == to[j-1] {
				mistaken = 0
			}
			rows[i][j] = min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+mistaken)
			if i > 1 && j > 1 && from[i-1] == to[j-2] && from[i-2] == to[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return rows[len(from)][len(to)]
}
