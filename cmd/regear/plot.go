package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"regear/advise"
	"regear/analyze/nearest"
	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/plotting"
)

// plotOptions is what `regear plot` was asked.
type plotOptions struct {
	logFlags
	next  ask.NextRun
	draw  drawer
	part  ask.Optional[domain.Part]
	out   picture
	units *ask.Choice[units.System]
}

// drawer makes one kind of figure.
type drawer func(a *advise.Advice, part domain.Part, s units.System) (*plotting.Figure, error)

var drawers = map[string]drawer{
	"ratio":   plotting.Ratio,
	"rollout": plotting.Rollout,
	"minutes": plotting.Minutes,
	"chance": func(a *advise.Advice, _ domain.Part, s units.System) (*plotting.Figure, error) {
		return plotting.Chance(a, s), nil
	},
}

// figureNames are the kinds of figures, in the order of the help.
var figureNames = []string{"ratio", "rollout", "minutes", "chance"}

func newPlotCommand(env *environment) *cobra.Command {
	var opts plotOptions
	cmd := &cobra.Command{
		Use:   "plot " + strings.Join(figureNames, "|"),
		Short: "Draw the runs, the forecast and the limit",
		Long: `plot draws one figure of the answer that advise gives to the same flags:

  ratio    peak temperature against final drive ratio, with the runs moved to the
           next run's air and length, the forecast's middle, the range of 80 % of
           runs, the limit, every candidate pinion, and the pick set apart
  rollout  the same against rollout, which also compares tires
  minutes  peak temperature against run length, for the pick and the gearing fitted
  chance   chance of staying under the limits, by pinion

The file's ending says how it is drawn: .png, .svg or .pdf.`,
		Example: `  regear plot ratio --log weekend.csv --limit motor=80C --ambient 30C --out weekend.svg
  regear plot minutes --log weekend.csv --part battery --out minutes.png
  regear plot chance --log weekend.csv --pinions 12-18 --out chance.pdf`,
		ValidArgs: figureNames,
		Args:      opts.settleFigure,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := opts.logFlags.settle(cmd); err != nil {
				return err
			}
			if !opts.out.wanted() {
				return errors.New("no picture file was named: add --out FILE, ending in .png, .svg or .pdf")
			}
			return failed(runPlot(env, &opts))
		},
	}
	opts.logFlags.register(cmd)
	addFlags(cmd, opts.next.Values()...)
	opts.units = newUnitsFlag()
	addFlags(cmd, ask.Part.Value("part", "part whose peak is drawn: motor, esc or battery (default: the one that decides)", &opts.part))
	cmd.Flags().Var(&opts.out, "out", "picture to write, ending in .png, .svg or .pdf")
	cmd.Flags().Var(opts.units, "units", "units of the figure")
	return cmd
}

// settleFigure finds the figure that is named on the command line.
func (o *plotOptions) settleFigure(_ *cobra.Command, args []string) error {
	if len(args) != 1 {
		return fmt.Errorf("name one figure: %s", strings.Join(figureNames, ", "))
	}
	draw, ok := drawers[args[0]]
	if !ok {
		return fmt.Errorf("there is no figure %q%s; the figures are %s", args[0], nearest.DidYouMean(args[0], figureNames), strings.Join(figureNames, ", "))
	}
	o.draw = draw
	return nil
}

func runPlot(env *environment, opts *plotOptions) error {
	if err := opts.out.open(); err != nil {
		return err
	}
	defer opts.out.discard()
	answer, _, err := advice(env, &opts.logFlags, &opts.next)
	if err != nil {
		return err
	}
	part, _ := opts.part.OrElse(answer.Binding, advise.Default)
	fig, err := opts.draw(answer, part, opts.units.Value)
	if errors.Is(err, plotting.ErrNotMeasured) {
		return fmt.Errorf("the log has no reading of the %s to draw", part)
	}
	if err != nil {
		return err
	}
	if err := opts.out.write(fig); err != nil {
		return err
	}
	if err := env.warn(answer.Warnings, env.style(opts.units.Value)); err != nil {
		return err
	}
	_, err = fmt.Fprintf(env.out, "%s: %s\n", opts.out.path, fig.Title)
	return err
}
