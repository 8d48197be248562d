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
	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/internal/wholefile"
)

// carAddOptions is what `regear car add` was told by flags.
type carAddOptions struct {
	answers carAnswers
	told    bool // a flag was given, so nothing is asked
}

// carAnswers is a car in the making.
type carAnswers struct {
	carfile.Draft
	system units.System // that answers are shown in, for a new file
}

// carQuestion is one thing to know of a car. It is a flag, and a question where no
// flag was given.
type carQuestion struct {
	flag, kind, ask, usage string
	take                   func(a *carAnswers, answer string) error
}

var carQuestions = []carQuestion{
	{"name", "TEXT", "Name of the car, as your log has it", "name of the car, as the log has it",
		func(a *carAnswers, s string) error { a.Name = s; return nil }},
	{"units", "metric|us", "Show answers in metric or us units", "units that answers are shown in, for a new file",
		func(a *carAnswers, s string) error {
			flag := newUnitsFlag()
			err := flag.Set(s)
			a.system = flag.Value
			return err
		}},
	{"pinions", "LIST", "Pinions that you own, as in 13,15,17 or 11-16", "pinions at hand, as in 11-16 or 11,13,15",
		func(a *carAnswers, s string) (err error) { a.Pinions, err = ask.Gears.Parse(s); return err }},
	{"spurs", "LIST", "Spurs that you own, as in 68,72", "spurs at hand",
		func(a *carAnswers, s string) (err error) { a.Spurs, err = ask.Gears.Parse(s); return err }},
	{"pitch", "PITCH", `Pitch of their teeth, as in "module 0.8" or "48 dp"`, `pitch of the gears' teeth, as in "module 0.8" or "48 dp"`,
		func(a *carAnswers, s string) error { _, err := drivetrain.ParsePitch(s); a.Pitch = s; return err }},
	{"internal-ratio", "RATIO", "Internal ratio behind the spur; 1 if there is none", "internal ratio behind the spur",
		func(a *carAnswers, s string) (err error) { a.Internal, err = numberAbove0(s); return err }},
	{tiresFlag, "NAME=LENGTH,...", "Tires by name and diameter, as in big=118mm, small=104mm", "tires by name and diameter, as in big=118mm,small=104mm",
		takeTires},
	{"mount", "LEAST-MOST", "Least and most teeth of pinion and spur together that the mount takes, as in 80-90",
		"least and most teeth of pinion and spur together that the mount takes, as in 80-90", takeMount},
	{"kv", "N", "Motor kV (unloaded turns a minute for each volt)", "motor's unloaded turns a minute for each volt",
		func(a *carAnswers, s string) (err error) { a.KV, err = numberAbove0(s); return err }},
	{"cells", "N", "Battery cells in series", "battery cells in series",
		func(a *carAnswers, s string) error {
			_, err := ask.Cells.Parse(s)
			a.Cells = s
			return err
		}},
	{"motor-limit", "TEMP, WHOSE", `Motor's limit and whose it is, as in "80C, the maker's sheet"`, `motor's limit and whose it is, as in "80C, the maker's sheet"`,
		func(a *carAnswers, s string) error { return takeLimit(s, &a.Motor, &a.MotorWhose) }},
	{"esc-limit", "TEMP, WHOSE", "ESC's limit and whose it is", "ESC's limit and whose it is",
		func(a *carAnswers, s string) error { return takeLimit(s, &a.ESC, &a.ESCWhose) }},
	{"battery-limit", "TEMP, WHOSE", "Battery's limit and whose it is", "battery's limit and whose it is",
		func(a *carAnswers, s string) error { return takeLimit(s, &a.Battery, &a.BatteryWhose) }},
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

func takeTires(a *carAnswers, text string) error {
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

const tiresFlag = "tires"

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

func takeMount(a *carAnswers, text string) error {
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

// takeLimit reads a temperature and, behind a comma and a blank, whose limit it is.
func takeLimit(text string, under, whose *string) error {
	limit, owner, _ := strings.Cut(text, ", ")
	if _, err := carfile.ParseLimit(limit); err != nil {
		return err
	}
	*under, *whose = strings.TrimSpace(limit), strings.TrimSpace(owner)
	return nil
}

// answerFlag is a question as a flag.
type answerFlag struct {
	carQuestion
	opts *carAddOptions
}

func (f answerFlag) String() string { return "" }
func (f answerFlag) Type() string   { return f.kind }

func (f answerFlag) Set(text string) error {
	f.opts.told = true
	return f.take(&f.opts.answers, strings.TrimSpace(text))
}

func newCarAddCommand(env *environment) *cobra.Command {
	var opts carAddOptions
	cmd := &cobra.Command{
		Use:   "add",
		Short: "Add a car to the car file by answering a few questions",
		Long: `add asks for what is worth keeping of a car and adds it to the car file, with remarks
that say what each line means. Enter skips a question; a line can be filled in later
with any text editor. With flags it asks nothing and takes what they say.`,
		Example: `  regear car add
  regear car add --name heron --pinions 13-17 --spurs 68 --internal-ratio 2.5 --tires big=118mm`,
		Args: noArguments,
		RunE: func(*cobra.Command, []string) error {
			if opts.told && opts.answers.Name == "" {
				return errors.New("no car was named: add --name NAME")
			}
			return failed(runCarAdd(env, &opts))
		},
	}
	cmd.Flags().SortFlags = false
	for _, q := range carQuestions {
		cmd.Flags().Var(answerFlag{q, &opts}, q.flag, q.usage)
	}
	return cmd
}

func runCarAdd(env *environment, opts *carAddOptions) error {
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
	if opts.told {
		if err := env.confirm(env.asker(), opts.answers.rims(), "Add it all the same?"); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(env.errOut, "A car for %s. Enter alone skips a question.\n", path)
		if err := askAll(env, known, &opts.answers); err != nil {
			return err
		}
	}
	if known.Cars[opts.answers.Name] != nil {
		return fmt.Errorf("%s: car %q is in it already; change it there with a text editor", path, opts.answers.Name)
	}
	after := opts.answers.addedTo(before)
	if _, err := carfile.Read(path, bytes.NewReader(after)); err != nil {
		return fmt.Errorf("the car can't be added, and nothing was changed:\n%w", err)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return withoutCall(err)
	}
	if err := wholefile.Write(path, after); err != nil {
		return err
	}
	_, err = fmt.Fprintf(env.out, "%s: car %q was added. Look over it with any text editor, or with: regear car check\n", path, opts.answers.Name)
	return err
}

// addedTo returns a car file with the car behind what it held before.
func (a *carAnswers) addedTo(before []byte) []byte {
	if len(bytes.TrimSpace(before)) > 0 {
		return slices.Concat(before, []byte("\n"+a.Text()))
	}
	return []byte(carfile.Heading(a.system) + a.Text())
}

// askAll asks every question until its answer can be used. Enter alone skips a question,
// but for the name.
func askAll(env *environment, known *carfile.File, a *carAnswers) error {
	asking := newAsker(env.in, env.errOut)
	for i, q := range carQuestions {
		if q.flag == "units" && len(known.Cars) > 0 {
			continue
		}
		err := asking.until(q.ask, func(answer string) (sure string, err error) {
			switch {
			case answer == "" && i == 0:
				return "", errors.New("a car needs a name")
			case answer == "":
				return "", nil
			}
			if err := q.take(a, answer); err != nil || q.flag != tiresFlag {
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

// rimQuestion asks whether the tires are meant that have the size of a rim, "" if none has.
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
