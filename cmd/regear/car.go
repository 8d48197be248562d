package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"regear/advise/carfile"
	"regear/analyze/drivetrain"
	"regear/analyze/logbook/wholefile"
	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

func newCarCommand(env *environment) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "car",
		Short: "Keep what you would otherwise type each time: gears, tires, limits",
		Args:  cobra.ArbitraryArgs,
		RunE:  helpOfGroup,
	}
	cmd.AddCommand(newCarAddCommand(env), newCarCheckCommand(env))
	return cmd
}

func newCarCheckCommand(env *environment) *cobra.Command {
	return &cobra.Command{
		Use:   "check",
		Short: "Say what is odd or missing in the car file",
		Args:  noArguments,
		RunE:  func(*cobra.Command, []string) error { return failed(runCarCheck(env)) },
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
	return report.Cars(file).Text(env.out, report.Style{}.Layout)
}

type carAnswers struct {
	ask.Car
	system *ask.Choice[units.System] // that answers are shown in, for a new file
}

type carQuestion struct {
	ask.Value
	ask string
}

// carQuestions are what is asked for each value of a car.
var carQuestions = map[string]string{
	ask.CarName:      "Name of the car, as your log has it",
	unitsFlag:        "Show answers in metric or us units",
	"pinions":        "Pinions that you own, as in 13,15,17 or 11-16",
	"spurs":          "Spurs that you own, as in 68,72",
	"pitch":          `Pitch of their teeth, as in "module 0.8" or "48 dp"`,
	"internal-ratio": "Internal ratio, " + strings.ReplaceAll(ask.InternalRatio, "\n", " "),
	ask.CarTires:     "Tires by name and diameter, as in big=118mm, small=104mm",
	"mount":          "Least and most teeth of pinion and spur together that the mount takes, as in 80-90",
	"kv":             "Motor kV (unloaded turns a minute for each volt)",
	"cells":          "Battery cells in series",
	"motor-limit":    `Motor's limit and whose it is, as in "80C, the maker's sheet"`,
	"esc-limit":      "ESC's limit and whose it is",
	"battery-limit":  "Battery's limit and whose it is",
}

const unitsFlag = "units"

func (a *carAnswers) questions() []carQuestion {
	of := ask.Value{Name: unitsFlag, Kind: a.system.Type(), Usage: "units that answers are shown in, for a new file", Take: a.system.Set, Known: a.system.Words()}
	var all []carQuestion
	for _, v := range slices.Insert(a.Values(), 1, of) {
		all = append(all, carQuestion{v, carQuestions[v.Name]})
	}
	return all
}

// rims returns what to ask about the tires: those whose diameter is the size of a rim.
func (a *carAnswers) rims() []domain.Problem {
	var problems []domain.Problem
	for i, size := range a.TireSizes {
		if carfile.IsRimSize(size) {
			problems = append(problems, domain.Problem{Position: domain.Position{File: "--" + ask.CarTires}, Column: a.TireNames[i], Value: size,
				What: drivetrain.RimSize, Do: drivetrain.MeasureAcrossTire})
		}
	}
	return problems
}

func newCarAddCommand(env *environment) *cobra.Command {
	a := &carAnswers{system: newUnitsFlag()}
	cmd := &cobra.Command{
		Use:   "add",
		Short: "Add a car to the car file by answering a few questions",
		Args:  noArguments,
	}
	cmd.Flags().SortFlags = false
	questions := a.questions()
	for _, q := range questions {
		addFlags(cmd, q.Value)
	}
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		told := slices.ContainsFunc(questions, func(q carQuestion) bool { return cmd.Flags().Changed(q.Name) })
		if told && a.Name == "" {
			return errors.New("no car was named: add --name NAME")
		}
		return failed(a.add(env, told))
	}
	return cmd
}

// add adds the car that flags told of or, where none did, that questions are asked about.
func (a *carAnswers) add(env *environment, told bool) error {
	path, _, err := env.carsPath()
	if err != nil {
		return err
	}
	known, err := readCars(path)
	if errors.Is(err, fs.ErrNotExist) {
		known, err = new(carfile.File), nil
	}
	if err != nil {
		return withoutCall(err)
	}
	if told {
		if err := env.confirm(env.asker(), a.rims(), "Add it all the same?"); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(env.errOut, "A car for %s. Enter alone skips a question.\n", path)
		if err := a.askAll(env, known); err != nil {
			return err
		}
	}
	err = wholefile.Change(path, path, func(before []byte) ([]byte, error) {
		now, err := carfile.Read(path, bytes.NewReader(before))
		if err != nil {
			return nil, err
		}
		if now.Cars[a.Name] != nil {
			return nil, fmt.Errorf("%s: car %q is in it already; change it there with a text editor, or on its page in regear serve", path, a.Name)
		}
		after, err := carfile.Add(path, before, a.Draft, a.system.Value)
		if err != nil {
			err = fmt.Errorf("the car can't be added, and nothing was changed:\n%w", err)
		}
		return after, err
	})
	if err != nil {
		return withoutCall(err)
	}
	_, err = fmt.Fprintf(env.out, "%s: car %q was added. Look over it with any text editor, or with: regear car check\n", path, a.Name)
	return err
}

// askAll asks every question until its answer can be used. Enter alone skips a question,
// but for the name.
func (a *carAnswers) askAll(env *environment, known *carfile.File) error {
	asking := newAsker(env.in, env.errOut)
	for _, q := range a.questions() {
		if q.Name == unitsFlag && len(known.Cars) > 0 {
			continue
		}
		err := asking.until(q.ask, func(answer string) (sure string, err error) {
			switch {
			case answer == "" && q.Name == ask.CarName:
				return "", errors.New("a car needs a name")
			case answer == "":
				return "", nil
			}
			if err := q.Set(answer); err != nil || q.Name != ask.CarTires {
				return "", err
			}
			return a.rimQuestion(), nil
		})
		if errors.Is(err, errEnded) {
			return errors.New("the questions were not answered to the end, so nothing was written")
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (a *carAnswers) rimQuestion() string {
	var lines []string
	for _, p := range a.rims() {
		lines = append(lines, fmt.Sprintf("%s: %q %s, %s", p.Column, p.Value, p.What, p.Do))
	}
	if lines == nil {
		return ""
	}
	return strings.Join(append(lines, "Take it all the same?"), "\n  ")
}
