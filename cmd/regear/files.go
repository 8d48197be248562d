package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"regear/advise/carfile"
	"regear/analyze/logbook"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

const carsVariable = "REGEAR_CARS"

type carsFile struct {
	flag string
	read *carfile.File
}

func (c *carsFile) register(root *cobra.Command) {
	root.PersistentFlags().StringVar(&c.flag, "cars", "",
		"car file, a TOML `FILE` (default: $"+carsVariable+", else regear/cars.toml in your settings folder)")
}

// carsPath returns where the car file lies, and whether the driver said so.
func (e *environment) carsPath() (path string, named bool, err error) {
	if e.cars.flag != "" {
		return e.cars.flag, true, nil
	}
	if path := e.getenv(carsVariable); path != "" {
		return path, true, nil
	}
	folder, err := os.UserConfigDir()
	if err != nil {
		return "", false, fmt.Errorf("your settings folder can't be found (%w): name the car file with --cars FILE", err)
	}
	return filepath.Join(folder, "regear", "cars.toml"), false, nil
}

// carFile returns the car file, or an empty one where none was named and none lies in
// its usual place: nothing needs it.
func (e *environment) carFile() (*carfile.File, error) {
	if e.cars.read != nil {
		return e.cars.read, nil
	}
	path, named, err := e.carsPath()
	if err != nil {
		return &carfile.File{}, nil // a system without a settings folder has no car file in it
	}
	file, err := readCars(path)
	switch {
	case !named && errors.Is(err, fs.ErrNotExist):
		file = &carfile.File{Name: path}
	case err != nil:
		return nil, withoutCall(err)
	}
	e.cars.read = file
	return file, nil
}

func readCars(path string) (*carfile.File, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return carfile.Read(path, file)
}

// setupOf returns what the car file says of a car, and tells on standard error if that is
// nothing though it has cars.
func (e *environment) setupOf(name string) (*carfile.Car, error) {
	file, err := e.carFile()
	if err != nil {
		return nil, err
	}
	setup, notice := file.Of(name)
	return setup, e.tell(app.Setup{File: file.Name, Note: notice})
}

// tell tells on standard error if the car file says nothing of a car though it has cars.
func (e *environment) tell(setup app.Setup) error {
	if setup.Note == "" {
		return nil
	}
	_, err := fmt.Fprintf(e.errOut, "%s: %s\n", setup.File, setup.Note)
	return err
}

// inFileUnits takes the units of text from the car file where a command has them
// and none were asked for.
func (e *environment) inFileUnits(cmd *cobra.Command, _ []string) error {
	flag := cmd.Flags().Lookup("units")
	if flag == nil || flag.Changed {
		return nil
	}
	system, ok := flag.Value.(*ask.Choice[units.System])
	if !ok {
		return nil // a flag that says what to write in the car file
	}
	file, err := e.carFile()
	if err != nil {
		return failed(err)
	}
	if file.Units != nil {
		system.Value = *file.Units
	}
	return nil
}

// unitsInFile returns the units that the car file says, if it says any. One that can't be read is
// told of elsewhere.
func (e *environment) unitsInFile() (u ask.Optional[units.System]) {
	if file, err := e.carFile(); err == nil && file.Units != nil {
		u = ask.Optional[units.System]{Value: *file.Units, Given: true}
	}
	return u
}

// bookVariable names the log book where no flag does.
const bookVariable = "REGEAR_BOOK"

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
	cars, _, err := env.carsPath()
	if err != nil {
		cars = "" // a system without a settings folder has no car file in it
	}
	return logbook.Book{Path: path, CarFile: cars, Now: env.now}, nil
}

// ofBook completes a command that does something with the log book, and adds the flag that names it.
func (e *environment) ofBook(cmd *cobra.Command, do func(book logbook.Book, args []string) error) *cobra.Command {
	var flag bookFlag
	flag.register(cmd)
	cmd.RunE = func(_ *cobra.Command, args []string) error {
		book, err := flag.book(e)
		if err == nil {
			err = do(book, args)
		}
		return failed(err)
	}
	return cmd
}

func emptyBook(path string) error {
	return fmt.Errorf("%s: %s", path, report.EmptyBook(report.AtCommandLine))
}
