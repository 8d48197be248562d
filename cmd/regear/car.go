package main

import "github.com/spf13/cobra"

func newCarCommand(env *environment) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "car",
		Short: "Keep what you would otherwise type each time: gears, tires, limits",
		Long: `car keeps the car file, in which regear finds what you would otherwise type each time:
each car's gears at hand, internal ratio, tires by name, limits and whose they are,
motor, cells, and which pairs of gears its mount takes. Nothing needs the file, and
a flag always comes before it; where an answer uses it, the answer says so.

The car file is a text file that you can edit. It lies in your settings folder as
regear/cars.toml, unless --cars or $` + carsVariable + ` names another.`,
		Example: `  regear car add
  regear car check`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return unknownCommand(cmd, args[0])
			}
			return cmd.Help()
		},
	}
	cmd.AddCommand(newCarAddCommand(env), newCarCheckCommand(env))
	return cmd
}
