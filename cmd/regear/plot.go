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

type drawer func(a *advise.Advice, part domain.Part, s units.System) (*plotting.Figure, error)

var drawers = map[string]drawer{
	"ratio":   plotting.Ratio,
	"rollout": plotting.Rollout,
	"minutes": plotting.Minutes,
	"chance": func(a *advise.Advice, _ domain.Part, s units.System) (*plotting.Figure, error) {
		return plotting.Chance(a, s), nil
	},
}

var figureNames = []string{"ratio", "rollout", "minutes", "chance"}

func newPlotCommand(env *environment) *cobra.Command {
	var asked nextFlags
	var part ask.Optional[domain.Part]
	out, system := newPicture(), newUnitsFlag()
	cmd := &cobra.Command{
		Use:       "plot " + strings.Join(figureNames, "|"),
		Short:     "Draw the runs, the forecast and the limit",
		ValidArgs: figureNames,
		Args:      oneFigure,
		RunE: func(_ *cobra.Command, args []string) error {
			return failed(fillNamed(env, out, system.Value, func() (*plotting.Figure, filled, error) {
				return env.plot(drawers[args[0]], &asked, part, system.Value)
			}))
		},
	}
	asked.register(env, cmd)
	addFlags(cmd, ask.Part.Value("part", "part whose peak is drawn: motor, esc or battery (default: the one that decides)", &part))
	cmd.Flags().Var(out, "out", "picture to write, ending in .png, .svg or .pdf")
	cmd.Flags().Var(system, "units", "units of the figure")
	return cmd
}

func oneFigure(_ *cobra.Command, args []string) error {
	names := strings.Join(figureNames, ", ")
	if len(args) != 1 {
		return fmt.Errorf("name one figure: %s", names)
	}
	if drawers[args[0]] == nil {
		return fmt.Errorf("there is no figure %q%s; the figures are %s", args[0], nearest.DidYouMean(args[0], figureNames), names)
	}
	return nil
}

func (e *environment) plot(draw drawer, asked *nextFlags, said ask.Optional[domain.Part], u units.System) (*plotting.Figure, filled, error) {
	answer, err := e.answered(asked, false)
	if err != nil {
		return nil, filled{}, err
	}
	part, _ := said.OrElse(answer.Binding, advise.Default)
	fig, err := draw(answer.Advice, part, u)
	if errors.Is(err, plotting.ErrNotMeasured) {
		err = fmt.Errorf("the log has no reading of the %s to draw", part)
	}
	if err != nil {
		return nil, filled{}, err
	}
	return fig, filled{fig.Title, answer.Warnings}, nil
}
