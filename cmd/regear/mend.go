package main

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"regear/analyze/logbook"
	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/entry"
	"regear/cmd/regear/internal/report"
)

func newEditCommand(env *environment) *cobra.Command {
	var told runFlags
	cmd := &cobra.Command{
		Use:   "edit RUN",
		Short: "Change one run of the log book",
		Args:  namesRuns(1),
		RunE:  func(_ *cobra.Command, args []string) error { return failed(told.edit(env, args[0])) },
	}
	told.register(cmd)
	return cmd
}

// namesRuns checks that runs are named, no more than most.
func namesRuns(most int) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		switch {
		case len(args) == 0:
			return fmt.Errorf("no run was named: name it by its number in regear runs, as in %s 12", cmd.CommandPath())
		case len(args) > most:
			return fmt.Errorf("%s takes one run at a time: %s", cmd.CommandPath(), strings.Join(args, " "))
		}
		return nil
	}
}

// runNamed returns the one run that a text names.
func runNamed(logs *app.Logs, text string, u units.System) (domain.Run, error) {
	found, err := logs.Find(text)
	switch {
	case errors.Is(err, app.ErrNoRunNamed):
		return domain.Run{}, usagef("%q %w: give the number that regear runs shows", text, err)
	case err != nil:
		return domain.Run{}, fmt.Errorf("%s: %w: regear runs shows what it holds", text, err)
	case len(found) > 1:
		return domain.Run{}, usagef("%s names several runs; give the number of one:\n%s", text, report.RunLines(found, u))
	}
	return found[0], nil
}

func (told *runFlags) edit(env *environment, text string) error {
	book, err := told.book(env)
	if err != nil {
		return err
	}
	a := env.app(book)
	known, err := a.ReadBook()
	if err != nil {
		return err
	}
	told.takeUnits(env)
	old, err := runNamed(known, text, told.units.Value)
	if err != nil {
		return err
	}
	run, err := a.EditRun(known, old)
	if err != nil {
		return err
	}
	asking := env.asker()
	if err := told.change(run, asking); err != nil {
		return err
	}
	read, err := told.check(env, run, asking)
	if err != nil {
		return err
	}
	edited, err := run.SaveEdit(read)
	switch {
	case err != nil:
		return env.bookError(book, err)
	case edited.Conflict != nil:
		return errors.Join(report.EditConflict(edited.Conflict).Text(env.out, report.Style{}.Layout),
			errors.New("the two would be one run, so nothing was changed: give another --date or --car, or delete one of them"))
	}
	return report.Edited(env.out, &edited, told.units.Value)
}

// change enters what is given or, if nothing is, asks for every field and shows what is there.
func (told *runFlags) change(run *app.NewRun, asking *asker) error {
	if len(told.given) == 0 && asking == nil {
		return usagef("nothing is given to change: say it with the flags of regear log, as in --motor-peak 78C")
	}
	asks := len(told.given) == 0
	if asks {
		fmt.Fprintln(asking.out, "Enter keeps what is there, - empties it.")
	}
	for _, f := range entry.Fields {
		var err error
		if _, given := told.given[f.Name]; given {
			err = told.enterField(run, f, nil)
		} else if asks {
			err = told.ask(run, f, asking)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func newDeleteCommand(env *environment) *cobra.Command {
	return env.ofBook(&cobra.Command{
		Use:   "delete RUN...",
		Short: "Delete runs of the log book",
		Args:  namesRuns(math.MaxInt),
	}, func(book logbook.Book, named []string) error { return deleteRuns(env, book, named) })
}

func deleteRuns(env *environment, book logbook.Book, named []string) error {
	known, err := env.app(book).ReadBook()
	if err != nil {
		return err
	}
	shown := env.unitsInFile().Value
	var runs []domain.Run
	numbers := map[int]bool{}
	for _, text := range named {
		r, err := runNamed(known, text, shown)
		if err != nil {
			return err
		}
		if !numbers[r.Number] {
			runs = append(runs, r)
		}
		numbers[r.Number] = true
	}
	if err := book.Delete(runs...); err != nil {
		return env.bookError(book, err)
	}
	return report.Deleted(env.out, runs, len(known.Runs)-len(runs), shown)
}

func newUndoCommand(env *environment) *cobra.Command {
	var list bool
	cmd := &cobra.Command{
		Use:   "undo",
		Short: "Take back the last change of the log book",
		Args:  noArguments,
	}
	cmd.Flags().BoolVar(&list, "list", false, "list the changes that can be undone, newest first, and undo none")
	return env.ofBook(cmd, func(book logbook.Book, _ []string) error { return undo(env, book, list) })
}

func undo(env *environment, book logbook.Book, list bool) error {
	zone := env.now().Location()
	if list {
		changes, err := book.History()
		if err != nil {
			return err
		}
		return report.Changes(changes, zone).Text(env.out, report.Style{}.Layout)
	}
	undone, err := book.Undo(nil)
	if errors.Is(err, logbook.ErrNothingToUndo) {
		return fmt.Errorf("%s: %w", book.Path, err)
	}
	if err != nil {
		return env.bookError(book, err)
	}
	return report.Undone(env.out, &undone, zone)
}
