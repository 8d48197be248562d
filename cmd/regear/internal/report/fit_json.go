package report

import (
	"io"

	"regear/analyze"
)

type fitJSON struct {
	Schema   int                 `json:"schema"`
	Car      string              `json:"car"`
	Current  currentJSON         `json:"current"` // where the exponents are given
	Scaling  byPart[scalingJSON] `json:"scaling"`
	Parts    byPart[partFitJSON] `json:"parts"`
	Warnings []warningJSON       `json:"warnings"`
}

type partFitJSON struct {
	RunsUsed     int               `json:"runs_used"`
	HeatStops    int               `json:"heat_stops"`
	LeftOut      []leftOutJSON     `json:"left_out"`
	RolloutLow   float64           `json:"rollout_low_mm"`
	RolloutHigh  float64           `json:"rollout_high_mm"`
	Coefficients []coefficientJSON `json:"coefficients"`
	Lines        *linesJSON        `json:"plain_lines,omitempty"`
}

type leftOutJSON struct {
	Run    string `json:"run"` // file:line
	Reason string `json:"reason"`
}

// coefficientJSON is one coefficient of ln(rise in kelvin), before and after the log.
type coefficientJSON struct {
	Name      string       `json:"name"`
	PriorMean float64      `json:"prior_mean"`
	PriorSD   float64      `json:"prior_sd"`
	Posterior intervalJSON `json:"posterior"`
}

type linesJSON struct {
	OnRatio   lineJSON `json:"rise_on_ratio"`
	OnRollout lineJSON `json:"rise_on_rollout_mm"`
}

type lineJSON struct {
	Intercept  float64      `json:"intercept_k"`
	Slope      intervalJSON `json:"slope"`
	ResidualSD float64      `json:"residual_sd_k"`
	RSquared   *float64     `json:"r_squared,omitempty"`
	N          int          `json:"n"`
	DF         int          `json:"df"`
}

var reasonNames = map[analyze.Reason]string{
	analyze.Skipped:     "skipped",
	analyze.OtherMotor:  "other_motor",
	analyze.NotMeasured: "not_measured",
	analyze.NoRise:      "no_rise",
}

func writeFitJSON(w io.Writer, car Fitted, _ Style) error {
	last := analyze.ConditionsOf(car.Last)
	doc := fitJSON{
		Schema: Schema, Car: car.Car.Name, Current: toCurrent(last),
		Scaling: scalingOf(car.Car, last), Warnings: toWarnings(car.Warnings(), car.Noticed),
	}
	for _, f := range car.Fits() {
		doc.Parts.set(f.Part, toPartFit(f))
	}
	return writeJSON(w, doc)
}

func toPartFit(f *analyze.Fit) partFitJSON {
	out := partFitJSON{
		RunsUsed: f.Runs, HeatStops: f.Bounds, LeftOut: []leftOutJSON{},
		RolloutLow: decimals(float64(f.Tested.Low), 3), RolloutHigh: decimals(float64(f.Tested.High), 3),
	}
	for _, l := range f.LeftOut {
		out.LeftOut = append(out.LeftOut, leftOutJSON{l.Position.String(), reasonNames[l.Reason]})
	}
	for _, c := range f.Coefficients(analyze.ScalingLevel) {
		out.Coefficients = append(out.Coefficients, coefficientJSON{c.Name, decimals(c.Prior.Mean, 4), decimals(c.Prior.SD, 4), toInterval(c.Now)})
	}
	if onRatio, onRollout, err := f.Lines(); err == nil {
		out.Lines = &linesJSON{toLine(onRatio), toLine(onRollout)}
	}
	return out
}

func toLine(l analyze.Line) lineJSON {
	out := lineJSON{
		Intercept: decimals(l.Intercept, 4), Slope: toInterval(l.SlopeInterval(lineLevel)),
		ResidualSD: decimals(l.ResidualSD, 4), N: l.N, DF: l.DF,
	}
	if l.HasRSquared {
		r := decimals(l.RSquared, 4)
		out.RSquared = &r
	}
	return out
}
