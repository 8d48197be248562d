// Command garage measures how honest the chances are that an adviser states, on many
// random cars that it has never seen.
//
//	go run ./cmd/garage [--garages 660] [--set a|b|both] [--seed 1] [--kinds]
//	go run ./cmd/garage exponents [the same]
//	go run ./cmd/garage demo DIR
//
// Every garage is a car, a driver and a log of some kind, made by a time-stepped
// electric drivetrain and thermal network (package internal/physics) that shares
// no formula with the fit. Advisers see the log and are asked what the next run will
// read with each pinion; the physics then drives that run several hundred times. Equal
// flags print equal tables; how long it took goes to standard error.
package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/pflag"

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
	flags := pflag.NewFlagSet("garage", pflag.ContinueOnError)
	flags.SetOutput(errOut)
	garages := flags.Int("garages", 660, "how many garages of each set, shared among the kinds of log (for exponents: cars)")
	setName := flags.String("set", "both", "population of cars: a, b or both")
	seed := flags.Uint64("seed", 1, "seed of the random draws")
	kinds := flags.Bool("kinds", false, "print each adviser's scores by kind of log as well")
	if err := flags.Parse(args); errors.Is(err, pflag.ErrHelp) {
		return exitDone
	} else if err != nil {
		fmt.Fprintln(errOut, "garage:", err)
		return exitUsage
	}
	sets := map[string][]physics.Set{"a": {physics.A}, "b": {physics.B}, "both": {physics.A, physics.B}}[*setName]
	if sets == nil || *garages < 1 {
		fmt.Fprintf(errOut, "garage: --set must be a, b or both (got %q), --garages at least 1 (got %d)\n", *setName, *garages)
		return exitUsage
	}
	var print func(set physics.Set) error
	switch command := flags.Args(); {
	case len(command) == 0:
		print = func(set physics.Set) error { return compare(out, errOut, set, *garages, *seed, *kinds) }
	case len(command) == 1 && command[0] == "exponents":
		print = func(set physics.Set) error { return printCharacters(out, set, *garages, *seed) }
	case len(command) == 2 && command[0] == "demo":
		sets, print = sets[:1], func(physics.Set) error { return writeDemo(command[1]) }
	default:
		fmt.Fprintf(errOut, "garage: unknown command %q: the commands are exponents and demo DIR\n", strings.Join(command, " "))
		return exitUsage
	}
	for i, set := range sets {
		if i > 0 {
			fmt.Fprintln(out)
		}
		if err := print(set); err != nil {
			fmt.Fprintln(errOut, "garage:", err)
			return exitFailed
		}
	}
	return exitDone
}

// compare prints the tables of the judged advisers: of the usual kinds, and of the hard
// ones if there are garages enough for them.
func compare(out, errOut io.Writer, set physics.Set, n int, seed uint64, kinds bool) error {
	hard := n * int(hardKinds.end-hardKinds.first) / int(numKinds)
	err := compareGroup(out, errOut, set, usualKinds, n-hard, seed, kinds)
	if hard > 0 && err == nil {
		fmt.Fprintln(out)
		err = compareGroup(out, errOut, set, hardKinds, hard, seed, kinds)
	}
	return err
}

func compareGroup(out, errOut io.Writer, set physics.Set, of group, n int, seed uint64, kinds bool) error {
	start := time.Now()
	all := measure(set, of, n, seed)
	fmt.Fprintf(errOut, "%d garages took %v\n", n, time.Since(start).Round(time.Millisecond))
	fmt.Fprintf(out, "set %v, %s: %d garages, wanted confidence %.0f %%, seed %d\n", set, of.name, n, 100*wantedConfidence, seed)
	return printScores(out, all, kinds)
}
