package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"github.com/spf13/cobra"

	"regear/advise/carfile"
	"regear/analyze/logbook"
	"regear/analyze/logbook/wholefile"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/report"
)

func newBookCommand(env *environment) *cobra.Command {
	cmd := env.ofBook(&cobra.Command{
		Use:   "book",
		Short: "Say where the log book lies, save it, restore it",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return unknownCommand(cmd, args[0])
			}
			return nil
		},
	}, func(book logbook.Book, _ []string) error { return showBook(env, book) })
	cmd.AddCommand(
		env.ofBook(&cobra.Command{
			Use:   "save FILE",
			Short: "Copy log book, history, car file and remembered headers into one zip file",
			Args:  oneFile,
		}, func(book logbook.Book, args []string) error { return saveBook(env, book, args[0]) }),
		env.ofBook(&cobra.Command{
			Use:   "restore FILE",
			Short: "Put back what regear book save wrote",
			Args:  oneFile,
		}, func(book logbook.Book, args []string) error { return restoreBook(env, book, args[0]) }))
	return cmd
}

func showBook(env *environment, book logbook.Book) error {
	snapshot, err := book.Snapshot(runlog.Options{})
	if err != nil {
		return withoutCall(err)
	}
	changes, err := book.History()
	if err != nil {
		return err
	}
	remembered, err := book.Remembered()
	if err != nil {
		return err
	}
	cars, err := readCars(book.CarFile)
	if errors.Is(err, fs.ErrNotExist) {
		cars, err = new(carfile.File), nil
	}
	if err != nil {
		return withoutCall(err)
	}
	return report.Book(&report.BookPlaces{
		Book: book.Path, Runs: snapshot.Log.Runs, History: book.HistoryPlace(), Changes: len(changes),
		Cars: book.CarFile, CarCount: len(cars.Cars), Columns: book.ColumnsPlace(), ColumnCount: len(remembered.Columns) + len(remembered.Constants),
	}).Text(env.out, report.Style{}.Layout)
}

// oneFile checks that one file is named.
func oneFile(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return fmt.Errorf("%s takes the name of one file, as in %s club.zip", cmd.CommandPath(), cmd.CommandPath())
	}
	return nil
}

func saveBook(env *environment, book logbook.Book, to string) error {
	if _, err := os.Lstat(to); err == nil {
		return fmt.Errorf("%s: is there already, and may be an older copy: name another file", to)
	}
	var archive bytes.Buffer
	err := book.Save(&archive)
	if errors.Is(err, fs.ErrNotExist) {
		err = emptyBook(book.Path)
	}
	if err == nil {
		err = wholefile.Write(to, to, archive.Bytes())
	}
	if err != nil {
		return withoutCall(err)
	}
	_, err = fmt.Fprintf(env.out, "Saved %s with its history, the car file and remembered headers as %s.\nregear book restore %s brings them back.\n", book.Path, to, to)
	return err
}

func restoreBook(env *environment, book logbook.Book, from string) error {
	file, err := env.file(from).Open()
	if err != nil {
		return withoutCall(err)
	}
	defer file.Close()
	data, err := io.ReadAll(file)
	if err != nil {
		return withoutCall(err)
	}
	restored, err := book.Restore(from, data)
	if err != nil {
		return env.bookError(book, err)
	}
	return report.Restored(env.out, from, &restored)
}
