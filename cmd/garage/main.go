// Command garage measures how honest an adviser's chances are, on many random cars
// that it never saw.
//
//	go run ./cmd/garage [--garages 660] [--set a|b|both] [--seed 1] [--kinds]
//	go run ./cmd/garage exponents [the same]
//	go run ./cmd/garage demo DIR
//
// Every garage is a car, a driver and a log of some kind, made by a time-stepped
// electric drivetrain and thermal network (package internal/physics) that shares
// no formula with the fit. Advisers see the log and are asked what the next run will
// read with each pinion; the physics then runs it many hundred times. Equal
// flags print equal tables; how long it took goes to standard error.
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"strings"

	"regear/cmd/garage/internal/physics"
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

// Exit codes, as regear's own.
const (
	exitDone = iota
	exitFailed
	exitUsage
)

func run(args []string, out, errOut io.Writer) int {
	flags := flag.NewFlagSet("garage", flag.ContinueOnError)
	flags.SetOutput(errOut)
	garages := flags.Int("garages", 660, "how many garages of each set, shared among the kinds of log (for exponents: cars)")
	setName := flags.String("set", "both", "population of cars: a, b or both")
	seed := flags.Uint64("seed", 1, "seed of everything random")
	kinds := flags.Bool("kinds", false, "print each adviser's scores by kind of log as well")
	command, err := parse(flags, args)
	switch {
	case errors.Is(err, flag.ErrHelp):
		return exitDone
	case err != nil:
		return exitUsage
	}
	sets, ok := map[string][]physics.Set{
		"a": {physics.A}, "b": {physics.B}, "both": {physics.A, physics.B},
	}[*setName]
	if !ok || *garages < 1 {
		fmt.Fprintf(errOut, "garage: --set takes a, b or both (got %q), --garages a number of at least 1 (got %d)\n", *setName, *garages)
		return exitUsage
	}
	switch {
	case len(command) == 0:
		err = compare(out, errOut, sets, *garages, *seed, *kinds)
	case len(command) == 1 && command[0] == "exponents":
		err = characters(out, sets, *garages, *seed)
	case len(command) == 2 && command[0] == "demo":
		err = writeDemo(command[1])
	default:
		fmt.Fprintf(errOut, "garage: %q is no command: there are exponents and demo DIR\n", strings.Join(command, " "))
		return exitUsage
	}
	if err != nil {
		fmt.Fprintln(errOut, "garage:", err)
		return exitFailed
	}
	return exitDone
}

// parse takes flags before, between and behind the words of a command.
func parse(flags *flag.FlagSet, args []string) (command []string, err error) {
	for {
		if err := flags.Parse(args); err != nil {
			return nil, err
		}
		if args = flags.Args(); len(args) == 0 {
			return command, nil
		}
		command, args = append(command, args[0]), args[1:]
	}
}

// compare prints the tables of the judged advisers.
func compare(out, errOut io.Writer, sets []physics.Set, n int, seed uint64, kinds bool) error {
	for i, set := range sets {
		if i > 0 {
			fmt.Fprintln(out)
		}
		hard := n * len(hardKinds.kinds) / int(numKinds)
		if err := compareGroup(out, errOut, set, usualKinds, n-hard, seed, kinds); err != nil {
			return err
		}
		if hard == 0 {
			continue
		}
		fmt.Fprintln(out)
		if err := compareGroup(out, errOut, set, hardKinds, hard, seed, kinds); err != nil {
			return err
		}
	}
	return nil
}

// compareGroup prints the tables of one set and group.
func compareGroup(out, errOut io.Writer, set physics.Set, of group, n int, seed uint64, kinds bool) error {
	all := measure(set, of, n, seed, advisers())
	fmt.Fprintf(out, "set %v, %s: %d garages, wanted confidence %.0f %%, seed %d\n", set, of.name, n, 100*wantedConfidence, seed)
	if err := printScores(out, all); err != nil {
		return err
	}
	if kinds {
		if err := printKinds(out, all); err != nil {
			return err
		}
	}
	if err := printReliability(out, all); err != nil {
		return err
	}
	printTimes(errOut, all, n)
	return nil
}

// characters prints how heat scales in the sets.
func characters(out io.Writer, sets []physics.Set, n int, seed uint64) error {
	for i, set := range sets {
		if i > 0 {
			fmt.Fprintln(out)
		}
		if err := printCharacters(out, set, n, seed); err != nil {
			return err
		}
	}
	return nil
}
