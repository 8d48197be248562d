package main

import (
	"errors"
	"fmt"
	"io/fs"

	"github.com/spf13/cobra"

	"regear/cmd/regear/internal/report"
)

func newCarCheckCommand(env *environment) *cobra.Command {
	return &cobra.Command{
		Use:   "check",
		Short: "Say what is odd or missing in the car file",
		Long: `check reads the car file and lists its cars, and then what is odd or missing, each with
its line. Nothing is changed.`,
		Example: `  regear car check
  regear car check --cars club.toml`,
		Args: noArguments,
		RunE: func(*cobra.Command, []string) error { return failed(runCarCheck(env)) },
	}
}

func runCarCheck(env *environment) error {
	path, _, err := env.carsPath()
	if err != nil {
		return err
	}
	file, err := readCars(path)
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: there is no car file yet; begin one with: regear car add", path)
	}
	if err != nil {
		return withoutCall(err)
	}
	return report.CarsText(env.out, file)
}
