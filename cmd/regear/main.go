// Command regear reads run logs of electric RC cars and says which pinion to run
// next so that motor, ESC and battery stay under their limits.
//
//	regear advise --log weekend.csv --limit motor=80C --ambient 30C --minutes 12
//
// Standard output carries the answer alone; what was noticed on the way goes to
// standard error. The exit code is 0 if an answer was given, whatever it says, 1 if
// it could not be given, and 2 on a command line that can't be understood.
package main

import (
	"embed"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/spf13/cobra"

	domain "regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/report"
)

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// subcommands builds each subcommand, in the order of the help. To add one, write
// its file and its help, and name its constructor here.
var subcommands = []func(*environment) *cobra.Command{
	newAdviseCommand,
	newFitCommand,
	newPlotCommand,
	newHindsightCommand,
	newReportCommand,
	newCarCommand,
	newStartCommand,
	newRestCommand,
	newCompareCommand,
	newTableCommand,
	newImportCommand,
	newRunsCommand,
	newLogCommand,
	newEditCommand,
	newDeleteCommand,
	newUndoCommand,
	newBookCommand,
	newServeCommand,
}

// run is the program: it carries out one command line and returns the exit code.
func run(args []string, in io.Reader, out, errOut io.Writer) int {
	return (&environment{in: in, out: out, errOut: errOut, getenv: os.Getenv, now: time.Now}).run(args)
}

func (e *environment) run(args []string) int {
	e.args = args
	root := newRootCommand(e)
	root.SetArgs(append([]string{}, args...)) // never nil, which would mean os.Args
	err := root.Execute()
	if err == nil {
		return exitAnswered
	}
	fmt.Fprintln(e.errOut, message(err, args))
	if errors.As(err, new(failure)) {
		return exitFailed
	}
	return exitUsage
}

// message words an error. One that begins with its place in a log goes without the
// program's name, so that editors can jump there.
func message(err error, args []string) string {
	var header *runlog.HeaderError
	switch {
	case errors.As(err, &header):
		return header.Worded(func(try *runlog.Options) string { return tryWords(try, args, len(header.Missing) > 0) })
	case errors.As(err, new(domain.Problem)):
		return err.Error()
	}
	return "regear: " + err.Error()
}

// tryWords words what would read a log as a command line to paste.
func tryWords(try *runlog.Options, args []string, lacks bool) string {
	switch {
	case try == nil && lacks:
		return "what was never logged can't be worked out: add the missing columns, fill in what you know, and log them from the next run on"
	case try == nil:
		return "rename the columns in the log"
	}
	line := "regear"
	for _, arg := range slices.Concat(args, report.Flags(try)) {
		line += " " + quotedForShell(arg)
	}
	own := ""
	if len(try.Constants) > 0 {
		own = ", with your own values behind --constant"
	}
	return "this reads it" + report.IfTrue(try) + own + ":\n  " + line
}

// quotedForShell quotes an argument where a shell would not take it as it is (POSIX shells, single
// quotes).
func quotedForShell(arg string) string {
	plain := func(r rune) bool {
		return unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune("-_./=,:+%@", r)
	}
	if arg != "" && strings.IndexFunc(arg, func(r rune) bool { return !plain(r) }) < 0 {
		return arg
	}
	return "'" + strings.ReplaceAll(arg, "'", `'\''`) + "'"
}

const (
	exitAnswered = iota
	exitFailed
	exitUsage
)

// failure is an error of a command line that was understood and could not be
// answered. Every other error is one of usage.
type failure struct{ error }

func (f failure) Unwrap() error { return f.error }

// failed marks an error as a failure, unless it already says what it is.
func failed(err error) error {
	if err == nil || errors.As(err, new(usageError)) {
		return err
	}
	return failure{err}
}

// usageError is a wrong command line that shows only once the logs are read.
type usageError struct{ error }

func usagef(format string, args ...any) error {
	return usageError{fmt.Errorf(format, args...)}
}

// environment is all that the program takes from outside its arguments and files.
type environment struct {
	args        []string
	in          io.Reader
	out, errOut io.Writer
	getenv      func(string) string
	now         func() time.Time
	cars        carsFile
}

func newRootCommand(env *environment) *cobra.Command {
	root := &cobra.Command{
		Use:           "regear",
		Short:         "Which pinion to run next, from the runs you logged",
		Version:       version(),
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.ArbitraryArgs,
		RunE:          helpOfGroup,
	}
	root.SetIn(env.in)
	root.SetOut(env.out)
	root.SetErr(env.errOut)
	root.SetVersionTemplate("regear {{.Version}}\n")
	root.SetFlagErrorFunc(flagError)
	env.cars.register(root)
	root.PersistentPreRunE = env.inFileUnits
	root.SetHelpCommand(newHelpCommand())
	for _, build := range subcommands {
		cmd := build(env)
		cmd.Flags().SortFlags = false // the help keeps the order of what a driver thinks of first
		root.AddCommand(cmd)
		complete(cmd)
	}
	addHelp(root)
	return root
}

// helpOfGroup is what a command does that only groups others.
func helpOfGroup(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return unknownCommand(cmd, args[0])
	}
	return cmd.Help()
}

//go:embed help
var helpFiles embed.FS

// addHelp gives a command and those below it the help of their files: help/car-add.txt has that
// of regear car add, with its examples behind a line of their own.
func addHelp(cmd *cobra.Command) {
	name := strings.ReplaceAll(strings.TrimPrefix(cmd.CommandPath(), "regear "), " ", "-")
	text, err := helpFiles.ReadFile("help/" + name + ".txt")
	if err != nil {
		panic(err) // it is embedded
	}
	long, examples, _ := strings.Cut(string(text), "\n\nExamples:\n")
	cmd.Long, cmd.Example = long, strings.TrimSuffix(examples, "\n")
	for _, c := range cmd.Commands() {
		addHelp(c)
	}
}

// newHelpCommand is cobra's, but an unknown topic is an error with a hint.
func newHelpCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "help [command]",
		Short: "Help about any command",
		RunE: func(cmd *cobra.Command, args []string) error {
			topic, rest, err := cmd.Root().Find(args)
			if err != nil || len(rest) > 0 {
				return unknownCommand(cmd.Root(), args[0])
			}
			topic.InitDefaultHelpFlag()
			return topic.Help()
		},
	}
}

func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" || info.Main.Version == "(devel)" {
		return "devel"
	}
	return info.Main.Version
}
