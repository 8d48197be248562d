package analyze

import (
	"regear/analyze/run"
	"regear/analyze/units"
)

// Warning is something that a reader of an answer should know: what was seen, with its
// number. Each kind is a type of its own, and all kinds are in this file. Package report words
// them, and adds what could be behind them and what to do.
type Warning interface {
	Code() Code
	About() Subject
}

// Code names a kind of warning in JSON and CSV.
type Code string

// Subject is what a warning is about, beside the car.
type Subject struct {
	Part   run.Part
	OfPart bool           // about Part alone
	Runs   []run.Position // the runs that show it; empty where no single run does
}

func aboutPart(p run.Part, runs ...run.Position) Subject { return Subject{p, true, runs} }

// ofCar is part of the warnings that are about no part and no run.
type ofCar struct{}

func (ofCar) About() Subject { return Subject{} }

// Kinds holds an empty warning of each kind, in the order in which a log's are told.
var Kinds = []Warning{
	OneRunOnly{}, OneGearingOnly{}, OddRun{}, InfluentialRun{}, RunsHotter{}, SeveralChanges{}, NearAmbient{},
	UnitsLookSwapped{}, HeatStops{}, OtherMotorRuns{}, NotTheLever{}, OutsideTested{}, TireUntested{},
	MinutesUntested{}, AirUntested{}, CellsUntested{}, UnknownLabel{}, WarmStartAssumed{}, CutShortMinutes{},
	VeryHot{}, LimitAssumed{}, PartUnjudged{}, AllTooFarUp{},
}

// ChecksFirst reports whether a warning sends you to the car before any other gearing or run.
func ChecksFirst(w Warning) bool {
	switch w.(type) {
	case VeryHot, NotTheLever, RunsHotter:
		return true
	}
	return false
}

// OneRunOnly says that a part's fit rests on a single run.
type OneRunOnly struct {
	Part      run.Part
	EveryPart bool // true of all the car's parts; Part is the first of them
}

func (OneRunOnly) Code() Code       { return "one_run_only" }
func (w OneRunOnly) About() Subject { return Subject{w.Part, !w.EveryPart, nil} }

// OneGearingOnly says that all of a part's Runs have the same rollout, so that the exponent
// is the general rule and not this car's.
type OneGearingOnly struct {
	Part      run.Part
	EveryPart bool // true of all the car's parts; Part is the first of them
	Runs      int
}

func (OneGearingOnly) Code() Code       { return "one_gearing_only" }
func (w OneGearingOnly) About() Subject { return Subject{w.Part, !w.EveryPart, nil} }

// OddRun says that a run lies far from what the others predict.
type OddRun struct {
	Part           run.Part
	Run            run.Position
	Peak, Expected units.Celsius
	Score          float64 // robust spreads from the middle residual: see OddScore
}

func (OddRun) Code() Code       { return "odd_run" }
func (w OddRun) About() Subject { return aboutPart(w.Part, w.Run) }

// InfluentialRun says that one run decides the exponent.
type InfluentialRun struct {
	Part run.Part
	Run  run.Position
}

func (InfluentialRun) Code() Code       { return "influential_run" }
func (w InfluentialRun) About() Subject { return aboutPart(w.Part, w.Run) }

// RunsHotter says that a part runs hotter than earlier in the log, at equal gearing.
type RunsHotter struct {
	Part   run.Part
	Growth float64 // of the rise over the log, as a share of it
}

func (RunsHotter) Code() Code       { return "runs_hotter" }
func (w RunsHotter) About() Subject { return aboutPart(w.Part) }

// SeveralChanges says that the gearing changed together with something else, and never
// alone, so that no difference in heat is the gearing's alone.
type SeveralChanges struct {
	Run  run.Position // the first after such a change
	With []string     // what changed too: tire, cells, surface, cooling
}

func (SeveralChanges) Code() Code       { return "several_changes" }
func (w SeveralChanges) About() Subject { return Subject{Runs: []run.Position{w.Run}} }

// NearAmbient says that a part was read close to the air after a run of some minutes.
type NearAmbient struct {
	Part      run.Part
	Run       run.Position
	Peak, Air units.Celsius
}

func (NearAmbient) Code() Code       { return "near_ambient" }
func (w NearAmbient) About() Subject { return aboutPart(w.Part, w.Run) }

// UnitsLookSwapped says that most readings of a part make sense on the other temperature
// scale alone.
type UnitsLookSwapped struct {
	Part              run.Part
	Middle, Otherwise units.Celsius // the middle peak, as read and on the other scale
}

func (UnitsLookSwapped) Code() Code       { return "units_look_swapped" }
func (w UnitsLookSwapped) About() Subject { return aboutPart(w.Part) }

// HeatStops says that heat cut some Runs short, and that they count as lower bounds.
type HeatStops struct {
	Part run.Part
	Runs int
}

func (HeatStops) Code() Code       { return "heat_stops" }
func (w HeatStops) About() Subject { return aboutPart(w.Part) }

// OtherMotorRuns says that Runs with another motor than the last run's are left out.
type OtherMotorRuns struct {
	ofCar
	Runs  int
	Motor string // the last run's
}

func (OtherMotorRuns) Code() Code { return "other_motor" }

// NotTheLever says that a part is hot, and that its heat hardly follows the gearing.
type NotTheLever struct {
	Part   run.Part
	Chance float64 // that a tenth less rollout takes less than the share Takes of the rise
	Takes  float64
}

func (NotTheLever) Code() Code       { return "gearing_not_the_lever" }
func (w NotTheLever) About() Subject { return aboutPart(w.Part) }

// OutsideTested says that the pick's rollout lies outside those already run.
type OutsideTested struct {
	ofCar
	Teeth float64 // of the pinion: positive above the tallest, negative below the shortest
}

func (OutsideTested) Code() Code { return "outside_tested_range" }

// TireUntested says that the log has no run on a tire of the next run's diameter.
type TireUntested struct {
	ofCar
	Tested Span // of the diameters in the log
}

func (TireUntested) Code() Code { return "tire_untested" }

// MinutesUntested says that the next run is much longer than any in the log.
type MinutesUntested struct {
	ofCar
	Minutes, Longest units.Minutes
}

func (MinutesUntested) Code() Code { return "minutes_untested" }

// AirUntested says that the next run's air lies well outside the log's.
type AirUntested struct {
	ofCar
	Air, Nearest units.Celsius
}

func (AirUntested) Code() Code { return "air_untested" }

// CellsUntested says that the log holds no run with the next run's cells.
type CellsUntested struct {
	ofCar
	Cells  int
	Logged []int // the numbers that it holds, rising; empty where it says nothing of cells
}

func (CellsUntested) Code() Code { return "cells_untested" }

// UnknownLabel says that the next run's surface or cooling is not in the log.
type UnknownLabel struct {
	ofCar
	Kind   string // surface or cooling
	Label  string
	Logged []string // the labels that the log holds, in its order
}

func (UnknownLabel) Code() Code { return "unknown_label" }

// WarmStartAssumed says that Runs followed another after a short rest, without a start
// reading.
type WarmStartAssumed struct {
	Part     run.Part
	Runs     int
	HeatLeft float64 // the share of the heat that is taken to have been left
}

func (WarmStartAssumed) Code() Code       { return "warm_start_assumed" }
func (w WarmStartAssumed) About() Subject { return aboutPart(w.Part) }

// CutShortMinutes says that heat cut the last run short, so that its length is not the next
// run's.
type CutShortMinutes struct {
	ofCar
	Last, Taken units.Minutes
}

func (CutShortMinutes) Code() Code { return "cut_short_minutes" }

// VeryHot says that a part was read far too hot, or that no gearing to choose from is likely
// to help.
type VeryHot struct {
	Part      run.Part
	Peak      units.Celsius // the highest of the last day
	NoGearing bool          // no gearing is likely to help; Part and Peak are not used
}

func (VeryHot) Code() Code       { return "very_hot" }
func (w VeryHot) About() Subject { return Subject{w.Part, !w.NoGearing, nil} }

// LimitAssumed says that no limit was given for a part.
type LimitAssumed struct {
	Part  run.Part
	Limit units.Celsius // the default that is taken
}

func (LimitAssumed) Code() Code       { return "limit_assumed" }
func (w LimitAssumed) About() Subject { return aboutPart(w.Part) }

// PartUnjudged says that a part has a limit, but was never measured.
type PartUnjudged struct{ Part run.Part }

func (PartUnjudged) Code() Code       { return "part_unjudged" }
func (w PartUnjudged) About() Subject { return aboutPart(w.Part) }

// AllTooFarUp says that every candidate lies beyond the most teeth up.
type AllTooFarUp struct {
	ofCar
	MaxStepUp int
}

func (AllTooFarUp) Code() Code { return "all_too_far_up" }
