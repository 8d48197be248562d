package analyze

import (
	"math"
	"strconv"
	"testing"
	"time"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// partNamed returns the part of a name in the reference files.
func partNamed(t *testing.T, name string) run.Part {
	t.Helper()
	for _, part := range run.Parts {
		if part.String() == name {
			return part
		}
	}
	t.Fatalf("no part %q", name)
	return 0
}

// frozenPrior returns the prior of a part with which model.R computed. It is not PriorOf:
// that one may be tuned, and R need not be run again for it.
func frozenPrior(t *testing.T) func(run.Part) Prior {
	t.Helper()
	rows := reference(t, "model_prior.csv")
	return func(part run.Part) Prior {
		var p Prior
		beliefs := map[string]*Belief{
			"level": &p.Level, "exponent": &p.Exponent, "no_rule": &p.NoRule, "bend": &p.Bend,
			"tire": &p.Tire, "cells": &p.Cells, "air": &p.Air,
		}
		grids := map[string]*[]Weighted{
			"drift": &p.Drifts, "time_constant": &p.TimeConstants, "scatter": &p.Scatters, "day_share": &p.DayShares,
			"heat_stop_excess": &p.HeatStopExcesses, "heat_left": &p.HeatLeft,
		}
		for _, row := range rows {
			if row["part"] != "any" && row["part"] != part.String() {
				continue
			}
			value := row.number(t, "value")
			spread := math.NaN()
			if row["weight_or_sd"] != "" {
				spread = row.number(t, "weight_or_sd")
			}
			quantity := row["quantity"]
			switch belief, grid := beliefs[quantity], grids[quantity]; {
			case belief != nil:
				*belief = Belief{value, spread}
			case grid != nil:
				*grid = append(*grid, Weighted{value, spread})
			case quantity == "no_rule_weight":
				p.NoRuleWeight = value
			case quantity == "label":
				p.Label = spread
			default:
				t.Errorf("unknown quantity %q in model_prior.csv", row["quantity"])
			}
		}
		return p
	}
}

// readings returns what the columns with a suffix say of each part; a blank is not read.
func (r referenceRow) readings(t *testing.T, suffix string) run.Readings {
	t.Helper()
	var all run.Readings
	for _, part := range run.Parts {
		if column := part.String() + suffix; r[column] != "" {
			all.Set(part, units.Celsius(r.number(t, column)))
		}
	}
	return all
}

// conditions returns what a row of model_runs.csv or model_next.csv says of a run.
func (r referenceRow) conditions(t *testing.T) Conditions {
	t.Helper()
	count := func(column string) int {
		if r[column] == "" {
			return 0
		}
		n, err := strconv.Atoi(r[column])
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	return Conditions{
		Gearing: drivetrain.Gearing{Pinion: count("pinion"), Spur: count("spur"), Internal: r.number(t, "internal")},
		Tire:    units.Millimeters(r.number(t, "tire_mm")),
		Ambient: units.Celsius(r.number(t, "ambient_c")),
		Minutes: units.Minutes(r.number(t, "minutes")),
		Start:   r.readings(t, "_start_c"),
		Cells:   count("cells"), Surface: r["surface"], Cooling: r["cooling"],
	}
}

// referenceCars are the logs of model_runs.csv, fitted, and the runs of model_next.csv.
type referenceCars struct {
	cars map[string]*Car
	next map[[2]string]Conditions
}

func readReferenceCars(t *testing.T) referenceCars {
	t.Helper()
	logs := map[string][]run.Run{}
	for _, row := range reference(t, "model_runs.csv") {
		layout, text := time.DateOnly, row["day"]
		if row["time"] != "" {
			layout, text = time.DateOnly+" 15:04", text+" "+row["time"]
		}
		when, err := time.Parse(layout, text)
		if err != nil {
			t.Fatal(err)
		}
		r := ran(row.conditions(t), when, 0)
		r.HasTime, r.StoppedByHeat = row["time"] != "", row["stopped"] == "yes"
		r.Peak = row.readings(t, "_c")
		logs[row["log"]] = append(logs[row["log"]], r)
	}
	all := referenceCars{map[string]*Car{}, map[[2]string]Conditions{}}
	for name, runs := range logs {
		car, err := fitCar(runs, frozenPrior(t))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		all.cars[name] = car
	}
	for _, row := range reference(t, "model_next.csv") {
		all.next[[2]string{row["log"], row["next"]}] = row.conditions(t)
	}
	return all
}

// fit returns the fit that a row of the reference files is about.
func (c referenceCars) fit(t *testing.T, row referenceRow) *Fit {
	t.Helper()
	fit := c.cars[row["log"]].Fit(partNamed(t, row["part"]))
	if fit == nil {
		t.Fatalf("%s: no fit of the %s", row["log"], row["part"])
	}
	return fit
}

// following returns the next run that a row of the reference files is about.
func (c referenceCars) following(row referenceRow) Conditions {
	return c.next[[2]string{row["log"], row["next"]}]
}

// unmerged returns a forecast in which no components are merged.
func unmerged(f *Fit, c Conditions) Prediction {
	out := Prediction{ambient: c.Ambient, parts: make([]mixed, len(f.components))}
	at := f.places(f.design.next(&c))
	for i := range f.components {
		k := &f.components[i]
		mean, variance := k.along(at[k.base])
		out.parts[i] = mixed{
			weight: k.weight, tau: k.tau, plateau: mean, scale: math.Sqrt(variance + k.ofNewDay() + f.unseenVariance(c)),
		}
	}
	f.atLength(out.parts, &c)
	return out
}

// worst keeps the largest of some distances.
type worst struct{ off float64 }

// holds reports whether got is want to a tolerance, relative where want is above 1.
func (w *worst) holds(got, want, tolerance float64) bool {
	off := math.Abs(got-want) / math.Max(1, math.Abs(want))
	w.off = math.Max(w.off, off)
	return off <= tolerance
}

// model.R finds all of a log's cells, by dense matrices. A fit drops those of next to no
// weight, and a forecast merges what is all but the same. Forecasts are held to all cells as
// near as both may cost, and as near as rounding allows where R drops the same cells and
// nothing is merged. What is found by a search is as near as that looks.
const (
	forecastTolerance = 1e-4
	modelTolerance    = 1e-10
	searchTolerance   = 2 * quantileWidth
)

// TestFitReachesR holds whole cars against model.R: the chance to stay under eight
// temperatures in each next run, for each part.
func TestFitReachesR(t *testing.T) {
	all := readReferenceCars(t)
	var merged, kept worst
	for _, row := range reference(t, "model_probabilities.csv") {
		fit, next, temperature := all.fit(t, row), all.following(row), units.Celsius(row.number(t, "temperature"))
		if got := fit.Predict(next).CDF(temperature); !merged.holds(got, row.number(t, "probability"), forecastTolerance) {
			t.Errorf("%s, %s, %s under %g °C: chance %.9g, R says %s", row["log"], row["next"], row["part"], temperature, got, row["probability"])
		}
		if got := unmerged(fit, next).CDF(temperature); !kept.holds(got, row.number(t, "kept"), modelTolerance) {
			t.Errorf("%s, %s, %s under %g °C, not merged: chance %.12g, R says %s", row["log"], row["next"], row["part"], temperature, got, row["kept"])
		}
	}
	t.Logf("chances agree to %.2g; to %.1g where nothing is merged and R drops the same cells", merged.off, kept.off)
}

// TestExponentReachesR holds the exponent, with its 80 % interval and the chance that it is
// less than one, against model.R.
func TestExponentReachesR(t *testing.T) {
	all := readReferenceCars(t)
	var found, computed worst
	for _, row := range reference(t, "model_exponents.csv") {
		fit, next := all.fit(t, row), all.following(row)
		got := fit.Exponent(next, 0.8)
		for column, v := range map[string]float64{"low": got.Low, "middle": got.Value, "high": got.High} {
			if !found.holds(v, row.number(t, column), searchTolerance) {
				t.Errorf("%s, %s, %s, exponent %s: %.9g, R says %s", row["log"], row["next"], row["part"], column, v, row[column])
			}
		}
		if got := fit.ExponentBelow(next, 1); !computed.holds(got, row.number(t, "below_one"), modelTolerance) {
			t.Errorf("%s, %s, %s, exponent below 1: %.12g, R says %s", row["log"], row["next"], row["part"], got, row["below_one"])
		}
	}
	t.Logf("exponents agree to %.1g, their chances to %.1g", found.off, computed.off)
}

// TestWhatALogTellsReachesR holds what is told of a part without any next run against
// model.R: time constant, scatter, the chance that it follows no rule, warm starts that no
// one read and how much heat they had.
func TestWhatALogTellsReachesR(t *testing.T) {
	all := readReferenceCars(t)
	var near worst
	for _, row := range reference(t, "model_fits.csv") {
		fit := all.fit(t, row)
		warmStarts, heatLeft := fit.WarmStarts()
		if float64(fit.Runs) != row.number(t, "runs") || float64(warmStarts) != row.number(t, "warm_starts") {
			t.Errorf("%s, %s: %d runs, %d warm starts, R says %s and %s",
				row["log"], row["part"], fit.Runs, warmStarts, row["runs"], row["warm_starts"])
		}
		for column, got := range map[string]float64{
			"time_constant": float64(fit.TimeConstant()), "scatter": fit.Scatter(),
			"heat_left": heatLeft, "no_rule": fit.NoRule(),
		} {
			if !near.holds(got, row.number(t, column), modelTolerance) {
				t.Errorf("%s, %s, %s: %.12g, R says %s", row["log"], row["part"], column, got, row[column])
			}
		}
	}
	t.Logf("they agree to %.1g", near.off)
}

// TestJointChanceReachesR holds the residuals' correlation and the chance that all parts
// stay under their limits against model.R, whose integrate() adapts its steps: from the
// parts' chances as R has them, and from the whole car.
func TestJointChanceReachesR(t *testing.T) {
	all := readReferenceCars(t)
	const integral = 1e-11 // as near as R is asked for
	var correlation, joined, whole worst
	for _, row := range reference(t, "model_joint.csv") {
		car := all.cars[row["log"]]
		rho, want := row.number(t, "correlation"), row.number(t, "all")
		if !correlation.holds(car.correlation, rho, modelTolerance) {
			t.Errorf("%s: correlation %.12g, R says %.12g", row["log"], car.correlation, rho)
		}
		var chances []float64
		limits := Limits{}
		for _, part := range run.Parts {
			chances = append(chances, row.number(t, part.String()))
			limits.Set(part, units.Celsius(row.number(t, part.String()+"_limit")))
		}
		if got := jointChance(chances, rho); !joined.holds(got, want, integral) {
			t.Errorf("%s, %s: chance of %v at %.3f is %.9g, R says %.9g", row["log"], row["next"], chances, rho, got, want)
		}
		if got := car.Under(all.following(row), limits).All; !whole.holds(got, want, forecastTolerance) {
			t.Errorf("%s, %s: chance of all %.9g, R says %.9g", row["log"], row["next"], got, want)
		}
	}
	t.Logf("correlations agree to %.1g, joined chances to %.1g, those of whole cars to %.2g", correlation.off, joined.off, whole.off)
}

// TestNarrowingReachesR holds the spread that a run is expected to have, and that which one
// more run will leave, against model.R, over all cells of runs that last differently.
func TestNarrowingReachesR(t *testing.T) {
	all := readReferenceCars(t)
	var near worst
	for _, row := range reference(t, "model_narrowing.csv") {
		now, after := all.fit(t, row).Narrowing(all.following(row), all.next[[2]string{row["log"], row["test"]}])
		if !near.holds(now, row.number(t, "now"), modelTolerance) || !near.holds(after, row.number(t, "after"), modelTolerance) {
			t.Errorf("%s, %s, %s: %.12g, then %.12g, R says %s, then %s", row["log"], row["next"], row["part"], now, after, row["now"], row["after"])
		}
	}
	t.Logf("spreads agree to %.1g", near.off)
}
