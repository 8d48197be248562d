package analyze

import (
	"regear/analyze/run"
	"regear/analyze/units"
)

// Code names a kind of warning. Its text form is what the JSON carries.
type Code uint8

// The codes. Each says which fields of a Warning it fills beside Code.
const (
	// OneRunOnly: the part's fit rests on a single run. Part.
	OneRunOnly Code = iota
	// OneGearingOnly: every run used has the same rollout, so the exponent is the
	// general rule and not this car's. Part; Score is the number of runs.
	OneGearingOnly
	// OddRun: a run lies far from what the others predict. Part, Runs; Seen and
	// Expected are its peak and the fit's; Score is the robust score and Threshold
	// the one from which a run is odd.
	OddRun
	// InfluentialRun: a lone run decides the exponent. Part, Runs; Score is the share
	// of the exponent's information that is this run's, and Threshold the share from
	// which it is told.
	InfluentialRun
	// RunsHotter: the car runs hotter than its own history at equal gearing. Part;
	// Score is by how much of the rise, as a share; Threshold as in Thresholds.
	RunsHotter
	// SeveralChanges: the gearing changed together with something else, and never
	// alone, so that heat can't be credited to the gearing. Runs is the first run
	// after; Names lists what changed with it.
	SeveralChanges
	// NearAmbient: a peak close to the air after a run of some minutes. Part, Runs;
	// Seen is the peak, Expected the air; Threshold is the rise in kelvin below which
	// it is told.
	NearAmbient
	// UnitsLookSwapped: most readings of a part are of the size that the other
	// temperature scale would give. Part; Seen is the middle peak as read, Expected
	// the middle peak if it had been the other scale.
	UnitsLookSwapped
	// HeatStops: runs cut short by heat count as lower bounds. Part; Score is how many.
	HeatStops
	// OtherMotorRuns: runs with another motor are left out. Score is how many; Names
	// holds the motor of the last run.
	OtherMotorRuns
	// NotTheLever: the part is hot, and its heat hardly follows the gearing. Part; Score
	// is the probability that a tenth less rollout takes less than Threshold from its rise.
	NotTheLever
	// OutsideTested: the pick's rollout lies outside those already run. Score is by
	// how many teeth of the pinion, above positive, below negative.
	OutsideTested
	// TireUntested: the next run's tire is none that the log has seen. Low and High
	// are the diameters seen.
	TireUntested
	// MinutesUntested: the next run is much longer than any in the log. Score is its
	// minutes, Threshold the longest run's.
	MinutesUntested
	// AirUntested: the next run's air lies well outside the log's. Seen is the next run's,
	// Expected the nearest that was logged.
	AirUntested
	// CellsUntested: the log holds no run with the next run's cells. Score is how many;
	// Names are those that it holds, none where it says nothing of cells.
	CellsUntested
	// UnknownLabel: the next run's surface or cooling is not in the log. Names are the
	// kind, the label, and those that the log holds, the nearest first.
	UnknownLabel
	// WarmStartAssumed: runs followed another after a short rest, without a start reading.
	// Part; Score is how many, Threshold the share of the heat that is taken to be left.
	WarmStartAssumed
	// CutShortMinutes: heat cut the last run short, so that its length is not the next
	// run's. Score is its minutes, Threshold those taken instead.
	CutShortMinutes
	// VeryHot: a part read far too much, or no gearing to choose from is likely to help.
	// Part and Seen are the reading, if there is one.
	VeryHot
	// LimitAssumed: the driver gave no limit for the part. Part; Seen is the default.
	LimitAssumed
	// PartUnjudged: the part has a limit, but was never measured. Part.
	PartUnjudged
	// AllTooFarUp: every candidate lies beyond the most teeth up. Threshold is that
	// many.
	AllTooFarUp
	numCodes
)

var codeNames = [numCodes]string{
	OneRunOnly:       "one_run_only",
	OneGearingOnly:   "one_gearing_only",
	OddRun:           "odd_run",
	InfluentialRun:   "influential_run",
	RunsHotter:       "runs_hotter",
	SeveralChanges:   "several_changes",
	NearAmbient:      "near_ambient",
	UnitsLookSwapped: "units_look_swapped",
	HeatStops:        "heat_stops",
	OtherMotorRuns:   "other_motor",
	NotTheLever:      "gearing_not_the_lever",
	OutsideTested:    "outside_tested_range",
	TireUntested:     "tire_untested",
	MinutesUntested:  "minutes_untested",
	AirUntested:      "air_untested",
	CellsUntested:    "cells_untested",
	UnknownLabel:     "unknown_label",
	WarmStartAssumed: "warm_start_assumed",
	CutShortMinutes:  "cut_short_minutes",
	VeryHot:          "very_hot",
	LimitAssumed:     "limit_assumed",
	PartUnjudged:     "part_unjudged",
	AllTooFarUp:      "all_too_far_up",
}

// ChecksFirst reports whether a warning sends you to the car before any other gearing or run.
func (c Code) ChecksFirst() bool { return c == VeryHot || c == NotTheLever || c == RunsHotter }

// String returns the code's name in JSON.
func (c Code) String() string { return codeNames[c] }

// Codes lists every code, so that a test can ask of each whether every format tells it.
func Codes() []Code {
	all := make([]Code, numCodes)
	for i := range all {
		all[i] = Code(i)
	}
	return all
}

// Warning is something that a reader of an answer should know: what was seen, with
// its number. Its wording, which adds what it could be and what to do, is the
// report's. Which fields are filled is said at the codes.
type Warning struct {
	Code             Code
	Part             run.Part // meaningful where OfPart
	OfPart           bool
	Runs             []run.Position
	Seen, Expected   units.Celsius
	Score, Threshold float64
	Low, High        units.Millimeters
	Names            []string
}

// Thresholds are the limits at which a result is doubted.
type Thresholds struct {
	// OddScore is the robust score |residual| / (1.4826 MAD) above which a run is odd:
	// 3.5, Iglewicz and Hoaglin (1993), from memory.
	OddScore float64
	// LeastScatter and LeastReading are floors of that score's denominator, as a share
	// of the rise and in kelvin: readings rounded to whole degrees by an infrared gun
	// differ by as much in good order. Common practice, no source.
	LeastScatter float64
	LeastReading units.Rise
	// LeastRuns is how many runs a part needs before one of them is called odd.
	LeastRuns int
	// Influence is the share of the exponent's information above which a lone run is
	// said to decide it.
	Influence float64
	// Hotter is the growth of the rise over the log that is told, and HotterChance
	// the probability that there is any growth at all that must go with it.
	Hotter, HotterChance float64
	// NearAmbientRise is the rise in kelvin below which a peak is doubted after
	// NearAmbientMinutes.
	NearAmbientRise    units.Rise
	NearAmbientMinutes units.Minutes
	// LongerRun is how many times the longest run the next may last untold.
	LongerRun float64
	// OtherAir is how far the next run's air may lie outside the log's untold.
	OtherAir units.Rise
}

// DefaultThresholds returns the thresholds in use.
func DefaultThresholds() Thresholds {
	return Thresholds{
		OddScore: 3.5, LeastScatter: 0.05, LeastReading: 1.5, LeastRuns: 5,
		Influence: 0.6,
		Hotter:    0.08, HotterChance: 0.95,
		NearAmbientRise: 8, NearAmbientMinutes: 4,
		LongerRun: 1.5,
		OtherAir:  8,
	}
}
