package analyze

import (
	"math"
	"strconv"
	"testing"
	"time"

	"regear/analyze/drivetrain"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// frozenPrior returns the prior with which model.R computed. It is not PriorOf: that
// one may be tuned, and R need not be run again for it.
func frozenPrior(t *testing.T) Prior {
	t.Helper()
	var p Prior
	for _, row := range reference(t, "model_prior.csv") {
		value := row.number(t, "value")
		spread := math.NaN()
		if row["weight_or_sd"] != "" {
			spread = row.number(t, "weight_or_sd")
		}
		switch row["quantity"] {
		case "level":
			p.Level = Belief{value, spread}
		case "exponent":
			p.Exponent = Belief{value, spread}
		case "bend":
			p.Bend = Belief{value, spread}
		case "tire":
			p.Tire = Belief{value, spread}
		case "cells":
			p.Cells = Belief{value, spread}
		case "drift":
			p.Drifts = append(p.Drifts, Weighted{value, spread})
		case "label":
			p.Label = spread
		case "scatter":
			p.Scatter = value
		case "scatter_runs":
			p.ScatterRuns = value
		case "time_constant":
			p.TimeConstants = append(p.TimeConstants, Weighted{value, spread})
		case "day_share":
			p.DayShares = append(p.DayShares, Weighted{value, spread})
		default:
			t.Fatalf("unknown quantity %q in model_prior.csv", row["quantity"])
		}
	}
	return p
}

// conditions returns what a row of model_runs.csv or model_next.csv says of a run.
func (r referenceRow) conditions(t *testing.T) Conditions {
	t.Helper()
	count := func(column string) int {
		n, err := strconv.Atoi(r[column])
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	c := Conditions{
		Gearing: drivetrain.Gearing{Pinion: count("pinion"), Spur: count("spur"), Internal: r.number(t, "internal")},
		Tire:    units.Millimeters(r.number(t, "tire_mm")),
		Ambient: units.Celsius(r.number(t, "ambient_c")),
		Minutes: units.Minutes(r.number(t, "minutes")),
		Cells:   count("cells"), Surface: r["surface"],
	}
	if r["start_c"] != "" {
		c.Start.Set(runlog.Motor, units.Celsius(r.number(t, "start_c")))
	}
	return c
}

// ran returns a run under c on a day, whose motor peaked at peak.
func ran(c Conditions, day time.Time, peak units.Celsius) runlog.Run {
	r := runlog.Run{
		When: day, Gearing: c.Gearing, Tire: c.Tire, Ambient: c.Ambient, Minutes: c.Minutes,
		Start: c.Start, Cells: c.Cells, Surface: c.Surface, Cooling: c.Cooling,
	}
	r.Peak.Set(runlog.Motor, peak)
	return r
}

// motorFit fits the motor of one car under a prior.
func motorFit(t *testing.T, prior Prior, runs []runlog.Run) *Fit {
	t.Helper()
	car, err := fitCar(runs, func(runlog.Part) Prior { return prior })
	if err != nil {
		t.Fatal(err)
	}
	fit := car.Fit(runlog.Motor)
	if fit == nil {
		t.Fatal("the motor has no fit")
	}
	return fit
}

// TestFitReachesR holds whole fits against model.R, which puts the prior into R's lm()
// as rows of data, whitens day effects with n × n matrices and mixes the time constants
// by the multivariate t density of the log: the chance to stay under seven
// temperatures in each of ten next runs, and the exponent with its 80 % interval.
func TestFitReachesR(t *testing.T) {
	logs := map[string][]runlog.Run{}
	for _, row := range reference(t, "model_runs.csv") {
		day, err := time.Parse(time.DateOnly, row["day"])
		if err != nil {
			t.Fatal(err)
		}
		logs[row["log"]] = append(logs[row["log"]], ran(row.conditions(t), day, units.Celsius(row.number(t, "peak_c"))))
	}
	following := map[[2]string]Conditions{}
	for _, row := range reference(t, "model_next.csv") {
		following[[2]string{row["log"], row["next"]}] = row.conditions(t)
	}
	fits := map[string]*Fit{}
	for log, runs := range logs {
		fits[log] = motorFit(t, frozenPrior(t), runs)
	}

	// None of these fits drops a component for its small weight, so nothing but rounding
	// stands between the two; the exponents are quantiles, found to quantileWidth.
	const chanceTolerance, exponentTolerance = 1e-11, 3 * quantileWidth
	worst := 0.0
	for _, row := range reference(t, "model_probabilities.csv") {
		got := fits[row["log"]].Predict(following[[2]string{row["log"], row["next"]}]).CDF(units.Celsius(row.number(t, "temperature")))
		off := math.Abs(got - row.number(t, "probability"))
		worst = math.Max(worst, off)
		if off > chanceTolerance {
			t.Errorf("%s, %s, %s °C: chance %.9g, R says %s", row["log"], row["next"], row["temperature"], got, row["probability"])
		}
	}
	t.Logf("chances agree to %.1g", worst)

	worst = 0
	for _, row := range reference(t, "model_exponents.csv") {
		got := fits[row["log"]].Exponent(following[[2]string{row["log"], row["next"]}], 0.8)
		for column, v := range map[string]float64{"low": got.Low, "middle": got.Value, "high": got.High} {
			off := math.Abs(v - row.number(t, column))
			worst = math.Max(worst, off)
			if off > exponentTolerance {
				t.Errorf("%s, %s, exponent %s: %.9g, R says %s", row["log"], row["next"], column, v, row[column])
			}
		}
	}
	t.Logf("exponents agree to %.1g", worst)
}
