package main

import (
	"github.com/spf13/cobra"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/units"
)

// nextRunFlags say what the next run will be like and what is asked of it.
type nextRunFlags struct {
	limits           *limitFlags
	confidence       optional[float64]
	pinions, spurs   optional[[]int]
	ambient          optional[units.Celsius]
	minutes          optional[units.Minutes]
	tire             optional[units.Millimeters]
	cells            optional[int]
	surface, cooling optional[string]
	maxStepUp        optional[int]
}

func (f *nextRunFlags) register(cmd *cobra.Command) {
	f.limits = newLimitFlags()
	f.confidence = optional[float64]{kind: "P", parse: parseConfidence}
	f.pinions = optional[[]int]{kind: "LIST", parse: parseTeeth}
	f.spurs = optional[[]int]{kind: "LIST", parse: parseTeeth}
	f.ambient = optional[units.Celsius]{kind: "TEMP", parse: units.ParseTemperature}
	f.minutes = optional[units.Minutes]{kind: "N", parse: parseRunMinutes}
	f.tire = optional[units.Millimeters]{kind: "LENGTH", parse: parseTire}
	f.cells = optional[int]{kind: "N", parse: parseCount(1)}
	f.surface = optional[string]{kind: "TEXT", parse: parseText}
	f.cooling = optional[string]{kind: "TEXT", parse: parseText}
	f.maxStepUp = optional[int]{kind: "N", parse: parseCount(0)}

	flags := cmd.Flags()
	flags.Var(f.limits, "limit", "temperature that a part should stay under, as in motor=80C, esc=160F or battery=none;\n"+
		"repeatable (default: motor and esc 71C, common practice, no source; battery 60C,\nthe usual LiPo cell specification)")
	flags.Var(&f.confidence, "confidence", "wanted chance of staying under every limit (default 0.8)")
	flags.Var(&f.pinions, "pinions", "pinions to choose from, as in 11-16 or 11,13,15 (default: the last run's ±4)")
	flags.Var(&f.spurs, "spurs", "spurs to choose from (default: the last run's)")
	flags.Var(&f.ambient, "ambient", "air at the next run, as in 30C or 86F (default: as in the last run)")
	flags.Var(&f.minutes, "minutes", "length of the next run, as in 12.5 or 12:30 (default: as in the last run)")
	flags.Var(&f.tire, "tire", "tire diameter in the next run, as in 118mm or 4.65in (default: the last run's)")
	flags.Var(&f.cells, "cells", "battery cells in series in the next run (default: the last run's)")
	flags.Var(&f.surface, "surface", "surface of the next run, as the log names it (default: the last run's)")
	flags.Var(&f.cooling, "cooling", "cooling in the next run, as the log names it (default: the last run's)")
	flags.Var(&f.maxStepUp, "max-step-up", "most teeth above the tallest gearing already run; 0 = no bound (default 2)")
}

// request completes what was asked with the last run and the documented defaults.
func (f *nextRunFlags) request(car *analyze.Car) advise.Request {
	last := analyze.ConditionsOf(car.Last)
	var req advise.Request
	req.Limits = f.limits.limits()
	req.Confidence, _ = f.confidence.orElse(advise.DefaultConfidence, advise.Default)
	req.MaxStepUp, _ = f.maxStepUp.orElse(advise.DefaultMaxStepUp, advise.Default)

	var pinions, spurs []int
	pinions, req.From.Pinions = f.pinions.orElse(advise.PinionsAround(last.Gearing.Pinion), advise.LastRun)
	spurs, req.From.Spurs = f.spurs.orElse([]int{last.Gearing.Spur}, advise.LastRun)
	req.Gearings = advise.Pinions(last.Gearing, pinions, spurs)

	// The next run starts cool, whatever the last one did: see Conditions.Start.
	next := &req.Next
	next.Gearing = last.Gearing
	next.Ambient, req.From.Ambient = f.ambient.orElse(last.Ambient, advise.LastRun)
	next.Minutes, req.From.Minutes = f.minutes.orElse(last.Minutes, advise.LastRun)
	next.Tire, req.From.Tire = f.tire.orElse(last.Tire, advise.LastRun)
	next.Cells, req.From.Cells = f.cells.orElse(last.Cells, advise.LastRun)
	next.Surface, req.From.Surface = f.surface.orElse(last.Surface, advise.LastRun)
	next.Cooling, req.From.Cooling = f.cooling.orElse(last.Cooling, advise.LastRun)
	return req
}
