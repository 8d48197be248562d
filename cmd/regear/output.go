package main

import (
	"io"
	"os"

	"golang.org/x/term"

	"regear/analyze"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// newUnitsFlag is --units, the units of text output.
func newUnitsFlag() *ask.Choice[units.System] {
	return ask.NewChoice([]string{"metric", "us"}, units.Metric, units.US)
}

const unitsUsage = "units of text output, unless the car file says; JSON and CSV are always metric"

// Prose is laid out between these widths on a terminal: narrower is unreadable, wider
// is tiring.
const narrowest, widest = 40, 100

// style returns how text for standard output is laid out: as wide as the terminal,
// with the pick in bold there unless NO_COLOR says otherwise.
func (e *environment) style(u units.System) report.Style {
	s := report.Style{Units: u}
	file, ok := e.out.(*os.File)
	if !ok || !term.IsTerminal(int(file.Fd())) {
		return s
	}
	if width, _, err := term.GetSize(int(file.Fd())); err == nil {
		s.Width = min(max(width, narrowest), widest)
	}
	s.Bold = e.getenv("NO_COLOR") == "" && e.getenv("TERM") != "dumb"
	return s
}

// warn writes warnings on standard error, and a blank line behind them.
func (e *environment) warn(warnings []analyze.Warning, s report.Style) error {
	if len(warnings) == 0 {
		return nil
	}
	if err := report.WarningNotes(warnings, s.Units, report.AtCommandLine).Text(e.errOut, s.Layout); err != nil {
		return err
	}
	_, err := io.WriteString(e.errOut, "\n")
	return err
}
