package main

import (
	"slices"

	"github.com/spf13/cobra"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/units"
	"regear/cmd/regear/internal/report"
)

// nextRunFlags say what the next run will be like and what is asked of it.
type nextRunFlags struct {
	limits           *limitFlags
	confidence       optional[float64]
	pinions, spurs   optional[[]int]
	ambient          optional[units.Celsius]
	minutes          optional[units.Minutes]
	tire             optional[tireChoice]
	cells            optional[int]
	surface, cooling optional[string]
	maxStepUp        optional[int]
}

// newNextRunFlags returns flags of which none was given.
func newNextRunFlags() *nextRunFlags {
	f := &nextRunFlags{}
	f.limits = newLimitFlags()
	f.confidence = optional[float64]{kind: "P", parse: parseConfidence}
	f.pinions = optional[[]int]{kind: "LIST", parse: parseTeeth}
	f.spurs = optional[[]int]{kind: "LIST", parse: parseTeeth}
	f.ambient = optional[units.Celsius]{kind: "TEMP", parse: parseAir}
	f.minutes = optional[units.Minutes]{kind: "N", parse: parseRunMinutes}
	f.tire = optional[tireChoice]{kind: "LENGTH|NAME", parse: parseTireChoice}
	f.cells = optional[int]{kind: "N", parse: parseCount(fewestCells, mostCells)}
	f.surface = optional[string]{kind: "TEXT", parse: parseText}
	f.cooling = optional[string]{kind: "TEXT", parse: parseText}
	f.maxStepUp = optional[int]{kind: "N", parse: parseCount(0, mostTeethUp)}
	return f
}

func (f *nextRunFlags) register(cmd *cobra.Command) {
	*f = *newNextRunFlags()
	flags := cmd.Flags()
	flags.Var(f.limits, "limit", "temperature that a part should stay under, as in motor=80C, esc=160F or battery=none;\n"+
		"repeatable (default: the car file's, else motor and esc 71C, common practice, no\nsource; battery 60C, the usual LiPo cell specification)")
	flags.Var(&f.confidence, "confidence", "wanted chance of staying under every limit (default 0.8)")
	flags.Var(&f.pinions, "pinions", "pinions to choose from, as in 11-16 or 11,13,15 (default: the car file's,\nelse the last run's ±4)")
	flags.Var(&f.spurs, "spurs", "spurs to choose from (default: the car file's, else the last run's)")
	flags.Var(&f.ambient, "ambient", "air at the next run, as in 30C or 86F (default: as in the last run)")
	flags.Var(&f.minutes, "minutes", "length of the next run, as in 12.5 or 12:30 (default: as in the last run)")
	flags.Var(&f.tire, "tire", "tire diameter in the next run, as in 118mm or 4.65in, or its name in the car\nfile (default: the last run's)")
	flags.Var(&f.cells, "cells", "battery cells in series in the next run (default: the car file's, else the\nlast run's)")
	flags.Var(&f.surface, "surface", "surface of the next run, as the log names it (default: the last run's)")
	flags.Var(&f.cooling, "cooling", "cooling in the next run, as the log names it (default: the last run's)")
	flags.Var(&f.maxStepUp, "max-step-up", "most teeth above the tallest gearing already run; 0 = no bound (default 2)")
}

// request completes what was asked with the car file, the last run and the documented
// defaults, in this order.
func (f *nextRunFlags) request(car *analyze.Car, own *carfile.Car) (advise.Request, error) {
	last := analyze.ConditionsOf(car.Last)
	var req advise.Request
	req.Limits = f.limits.limits(own)
	req.Confidence, _ = f.confidence.orElse(advise.DefaultConfidence, advise.Default)
	req.MaxStepUp, _ = f.maxStepUp.orElse(advise.DefaultMaxStepUp, advise.Default)
	f.chooseGears(&req, last.Gearing, own)
	req.MotorKV = own.KV

	// The next run starts cool, whatever the last one did: see Conditions.Start.
	next := &req.Next
	next.Gearing = last.Gearing
	next.Ambient, req.From.Ambient = f.ambient.orElse(last.Ambient, advise.LastRun)
	next.Minutes, req.From.Minutes = f.minutes.orElse(last.Minutes, advise.LastRun)
	next.Tire, req.From.Tire = last.Tire, advise.LastRun
	next.Cells, req.From.Cells = f.cells.orElse(carFileOr(own.Cells, last.Cells))
	next.Surface, req.From.Surface = f.surface.orElse(last.Surface, advise.LastRun)
	next.Cooling, req.From.Cooling = f.cooling.orElse(last.Cooling, advise.LastRun)
	if len(req.Gearings) == 0 {
		return req, report.NothingFits(req.Excluded)
	}
	if !f.tire.given {
		return req, nil
	}
	var err error
	next.Tire, err = f.tire.value.of(own, "tire")
	req.From.Tire = advise.Given
	return req, err
}

// chooseGears fills in what there is to choose from.
func (f *nextRunFlags) chooseGears(req *advise.Request, fitted drivetrain.Gearing, own *carfile.Car) {
	gears := gearsAtHand(own, &f.pinions, &f.spurs)
	main := &gears.Boxes[0]
	main.Pinions, req.From.Pinions = f.pinions.orElse(gearsOr(main.Pinions, advise.PinionsAround(fitted.Pinion)))
	main.Spurs, req.From.Spurs = f.spurs.orElse(gearsOr(main.Spurs, []int{fitted.Spur}))
	// Whoever names both wants to see each of them.
	gears.Collapse = req.From.Pinions == advise.CarFile || req.From.Spurs == advise.CarFile
	req.Gearings, req.Excluded = advise.Combine(fitted, gears)
}

// gearsAtHand returns the gears that were named, or else the car file's. There is a
// first box always, though it may be empty; gears that were named have its pitch.
func gearsAtHand(own *carfile.Car, pinions, spurs *optional[[]int]) advise.Gears {
	gears := advise.Gears{Boxes: slices.Clone(own.Boxes), Mount: own.Mount}
	if len(gears.Boxes) == 0 {
		gears.Boxes = []drivetrain.Box{{}}
	}
	if pinions.given || spurs.given {
		gears.Boxes = gears.Boxes[:1]
	}
	main := &gears.Boxes[0]
	main.Pinions, _ = pinions.orElse(main.Pinions, advise.CarFile)
	main.Spurs, _ = spurs.orElse(main.Spurs, advise.CarFile)
	return gears
}

// carFileOr returns what the car file says, or the last run's value where it says
// nothing.
func carFileOr[T comparable](own, last T) (T, advise.Origin) {
	var absent T
	if own != absent {
		return own, advise.CarFile
	}
	return last, advise.LastRun
}

// gearsOr does the same for gears.
func gearsOr(own, last []int) ([]int, advise.Origin) {
	if len(own) > 0 {
		return own, advise.CarFile
	}
	return last, advise.LastRun
}
