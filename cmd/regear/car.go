package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"regear/advise/carfile"
	"regear/analyze/drivetrain"
	"regear/analyze/logbook/wholefile"
	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/entry"
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
	carfile.Draft
	system *ask.Choice[units.System] // that answers are shown in, for a new file
}

type carQuestion struct {
	ask.Value
	ask string
}

func (a *carAnswers) questions() []carQuestion {
	return []carQuestion{
		{ask.Value{Name: nameFlag, Kind: "TEXT", Usage: "name of the car, as the log has it", Take: into(ask.Text.Parse, &a.Name)},
			"Name of the car, as your log has it"},
		{ask.Value{Name: unitsFlag, Kind: a.system.Type(), Usage: "units that answers are shown in, for a new file", Take: a.system.Set, Known: a.system.Words()},
			"Show answers in metric or us units"},
		{ask.Value{Name: "pinions", Kind: "LIST", Usage: "pinions at hand, as in 11-16 or 11,13,15", Take: into(ask.Gears.Parse, &a.Pinions)},
			"Pinions that you own, as in 13,15,17 or 11-16"},
		{ask.Value{Name: "spurs", Kind: "LIST", Usage: "spurs at hand", Take: into(ask.Gears.Parse, &a.Spurs)},
			"Spurs that you own, as in 68,72"},
		{ask.Value{Name: "pitch", Kind: "PITCH", Usage: `pitch of the gears' teeth, as in "module 0.8" or "48 dp"`, Take: asText(drivetrain.ParsePitch, &a.Pitch)},
			`Pitch of their teeth, as in "module 0.8" or "48 dp"`},
		{ask.Value{Name: "internal-ratio", Kind: "RATIO", Usage: "internal ratio, " + entry.InternalRatio, Take: into(numberAbove0, &a.Internal)},
			"Internal ratio, " + strings.ReplaceAll(entry.InternalRatio, "\n", " ")},
		{ask.Value{Name: tiresFlag, Kind: "NAME=LENGTH,...", Usage: "tires by name and diameter, as in big=118mm,small=104mm", Take: a.takeTires},
			"Tires by name and diameter, as in big=118mm, small=104mm"},
		{ask.Value{Name: "mount", Kind: "LEAST-MOST", Usage: "least and most teeth of pinion and spur together that the mount takes, as in 80-90", Take: a.takeMount},
			"Least and most teeth of pinion and spur together that the mount takes, as in 80-90"},
		{ask.Value{Name: "kv", Kind: "N", Usage: "motor's unloaded turns a minute for each volt", Take: into(numberAbove0, &a.KV)},
			"Motor kV (unloaded turns a minute for each volt)"},
		{ask.Value{Name: "cells", Kind: "N", Usage: "battery cells in series", Take: asText(ask.Cells.Parse, &a.Cells)},
			"Battery cells in series"},
		{ask.Value{Name: "motor-limit", Kind: "TEMP, WHOSE", Usage: `motor's limit and whose it is, as in "80C, the maker's sheet"`, Take: limit(&a.Motor, &a.MotorWhose)},
			`Motor's limit and whose it is, as in "80C, the maker's sheet"`},
		{ask.Value{Name: "esc-limit", Kind: "TEMP, WHOSE", Usage: "ESC's limit and whose it is", Take: limit(&a.ESC, &a.ESCWhose)},
			"ESC's limit and whose it is"},
		{ask.Value{Name: "battery-limit", Kind: "TEMP, WHOSE", Usage: "battery's limit and whose it is", Take: limit(&a.Battery, &a.BatteryWhose)},
			"Battery's limit and whose it is"},
	}
}

const nameFlag, unitsFlag, tiresFlag = "name", "units", "tires"

func into[T any](parse func(string) (T, error), to *T) func(text string) error {
	return func(text string) (err error) { *to, err = parse(text); return err }
}

func asText[T any](parse func(string) (T, error), to *string) func(text string) error {
	return func(text string) error {
		_, err := parse(text)
		*to = strings.TrimSpace(text)
		return err
	}
}

// numberAbove0 returns the text of a number with a point for its decimal mark, as
// TOML wants it.
func numberAbove0(text string) (string, error) {
	x, err := units.ParseNumber(text)
	if err == nil && x <= 0 {
		err = errors.New("write a number above 0")
	}
	return strings.Replace(strings.TrimPrefix(strings.TrimSpace(text), "+"), ",", ".", 1), err
}

func (a *carAnswers) takeTires(text string) error {
	var names, sizes []string
	for _, item := range strings.Split(text, ",") {
		name, size, found := strings.Cut(item, "=")
		if !found {
			return errors.New("write a name and its diameter, as in big=118mm, small=104mm")
		}
		if _, err := carfile.ParseTire(size); err != nil {
			return fmt.Errorf("%q: %w", size, err)
		}
		choice, err := ask.TireChoice.Parse(name)
		if err != nil || choice.Name == "" {
			return fmt.Errorf("%q: a tire's name begins with a letter", name)
		}
		names, sizes = append(names, choice.Name), append(sizes, strings.TrimSpace(size))
	}
	a.TireNames, a.TireSizes = names, sizes
	return nil
}

// rims returns what to ask about the tires: those whose diameter is the size of a rim.
func (a *carAnswers) rims() []domain.Problem {
	var problems []domain.Problem
	for i, size := range a.TireSizes {
		if carfile.IsRimSize(size) {
			problems = append(problems, domain.Problem{Position: domain.Position{File: "--" + tiresFlag}, Column: a.TireNames[i], Value: size,
				What: drivetrain.RimSize, Do: drivetrain.MeasureAcrossTire})
		}
	}
	return problems
}

func (a *carAnswers) takeMount(text string) error {
	least, most, found := strings.Cut(text, "-")
	l, errL := gearSum.Parse(least)
	m, errM := gearSum.Parse(most)
	if !found || errL != nil || errM != nil || l > m {
		return errors.New("write the least and the most teeth of both gears together, as in 80-90")
	}
	a.LeastTeeth, a.MostTeeth = strings.TrimSpace(least), strings.TrimSpace(most)
	return nil
}

var gearSum = ask.Count("", 2, 2*carfile.MaxTeeth)

func limit(under, whose *string) func(text string) error {
	return func(text string) error {
		degrees, owner, _ := strings.Cut(text, ", ")
		if _, err := carfile.ParseLimit(degrees); err != nil {
			return err
		}
		*under, *whose = strings.TrimSpace(degrees), strings.TrimSpace(owner)
		return nil
	}
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
	before, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return withoutCall(err)
	}
	known, err := carfile.Read(path, bytes.NewReader(before))
	if err != nil {
		return err
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
	if known.Cars[a.Name] != nil {
		return fmt.Errorf("%s: car %q is in it already; change it there with a text editor", path, a.Name)
	}
	after := a.addedTo(before)
	if _, err := carfile.Read(path, bytes.NewReader(after)); err != nil {
		return fmt.Errorf("the car can't be added, and nothing was changed:\n%w", err)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return withoutCall(err)
	}
	if err := wholefile.Write(path, path, after); err != nil {
		return err
	}
	_, err = fmt.Fprintf(env.out, "%s: car %q was added. Look over it with any text editor, or with: regear car check\n", path, a.Name)
	return err
}

func (a *carAnswers) addedTo(before []byte) []byte {
	if len(bytes.TrimSpace(before)) > 0 {
		return slices.Concat(before, []byte("\n"+a.Text()))
	}
	return []byte(carfile.Heading(a.system.Value) + a.Text())
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
			case answer == "" && q.Name == nameFlag:
				return "", errors.New("a car needs a name")
			case answer == "":
				return "", nil
			}
			if err := q.Set(answer); err != nil || q.Name != tiresFlag {
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
