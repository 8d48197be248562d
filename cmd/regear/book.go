package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"regear/analyze/logbook"
)

// bookVariable names the log book where no flag does.
const bookVariable = "REGEAR_BOOK"

// bookFlag is --book.
type bookFlag struct{ path string }

func (f *bookFlag) register(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.path, "book", "", "the log book's `FILE` (default: $"+bookVariable+", else book.csv in your data folder)")
}

// book returns the log book: the one that the flag names, or the environment, or the
// one in the user's data folder.
func (f *bookFlag) book(env *environment) (logbook.Book, error) {
	path := f.path
	if path == "" {
		path = env.getenv(bookVariable)
	}
	if path == "" {
		var err error
		if path, err = logbook.DefaultPath(env.getenv); err != nil {
			return logbook.Book{}, err
		}
	}
	return logbook.Book{Path: path}, nil
}

// noBook says what to do where there is no log book yet.
func noBook(path string) error {
	return fmt.Errorf("%s: there is no log book yet: put your logs into it with regear import FILE, or name a log with --log FILE", path)
}
