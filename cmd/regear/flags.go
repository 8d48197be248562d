package main

import (
	"github.com/spf13/cobra"

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
