package main

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"github.com/spf13/cobra"

	"regear/advise/carfile"
	"regear/analyze/units"
	"regear/cmd/regear/internal/report"
)

// carsVariable is the environment variable that names the car file.
const carsVariable = "REGEAR_CARS"

// carsFile is where the car file lies, and what it holds once it was read.
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
	return carfile.Read(path, file, nearest)
}

// ownCar returns what the car file says of a car, which is nothing where it does not
// know the car. A log without a car's name is that of the file's only car.
func (e *environment) ownCar(name string) (*carfile.Car, error) {
	file, err := e.carFile()
	if err != nil {
		return nil, err
	}
	own := file.Cars[name]
	if own == nil && name == "" {
		own = file.Only()
	}
	if own != nil {
		return own, nil
	}
	names := slices.Sorted(maps.Keys(file.Cars))
	switch {
	case len(names) == 0:
	case name == "":
		fmt.Fprintf(e.errOut, "%s: which of its cars this is was not said (%s), so nothing is taken from it\n", file.Name, strings.Join(names, ", "))
	default:
		fmt.Fprintf(e.errOut, "%s: no car %q is in it%s, so nothing is taken from it\n", file.Name, name, didYouMean(name, names))
	}
	return &carfile.Car{}, nil
}

// showInOwnUnits takes the units of text from the car file where a command has them
// and none were asked for.
func (e *environment) showInOwnUnits(cmd *cobra.Command, _ []string) error {
	flag := cmd.Flags().Lookup("units")
	if flag == nil || flag.Changed {
		return nil
	}
	system, ok := flag.Value.(*choice[report.Units])
	if !ok {
		return nil // a flag that says what to write in the car file
	}
	file, err := e.carFile()
	if err != nil {
		return failed(err)
	}
	if file.Units == "" {
		return nil
	}
	return system.Set(file.Units)
}

// tireChoice is a tire as a flag names it: by its diameter, or as in the car file.
type tireChoice struct {
	diameter units.Millimeters
	name     string
}

// parseTireChoice takes what begins as a number for a diameter.
func parseTireChoice(text string) (tireChoice, error) {
	text = strings.TrimSpace(text)
	if text == "" || !unicode.IsLetter([]rune(text)[0]) {
		m, err := parseTire(text)
		return tireChoice{diameter: m}, err
	}
	return tireChoice{name: text}, nil
}

// of returns the diameter of a tire that a flag named.
func (t tireChoice) of(own *carfile.Car, flag string) (units.Millimeters, error) {
	if t.name == "" {
		return t.diameter, nil
	}
	if m, ok := own.Tires[t.name]; ok {
		return m, nil
	}
	names := slices.Sorted(maps.Keys(own.Tires))
	if len(names) == 0 {
		return 0, usagef("--%s: %q: write a diameter with its unit, as in 118mm; the car file names no tire of this car", flag, t.name)
	}
	return 0, usagef("--%s: %q: the car file has no such tire%s; it has %s", flag, t.name, didYouMean(t.name, names), strings.Join(names, ", "))
}
