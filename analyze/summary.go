package analyze

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"regear/analyze/run"
	"regear/analyze/units"
)

// Coefficient is one coefficient of a fit, before and after the log.
type Coefficient struct {
	Name  string // as in the formula at Fit; labels as "surface carpet"
	Prior Belief
	Now   Estimate
	Told  bool // the log says something of it: middle or spread differ from the prior's by 0.2 % of its spread
}

// Coefficients returns every coefficient of the fit with its interval at level, the labels'
// last. The prior is the mean and spread of all that is averaged over.
func (f *Fit) Coefficients(level float64) []Coefficient {
	names := f.design.names()
	all := make([]Coefficient, len(names))
	for j, name := range names {
		row := make([]float64, len(names))
		row[j] = 1
		var mean, square, total float64
		for _, b := range f.beliefs() {
			of := b.coefficients[j]
			mean += b.weight * of.Mean
			square += b.weight * (of.Mean*of.Mean + of.SD*of.SD)
			total += b.weight
		}
		mean /= total
		prior := Belief{mean, math.Sqrt(square/total - mean*mean)}
		all[j] = Coefficient{name, prior, f.estimate(row, level), f.tells(row, prior)}
	}
	return all
}

// tells reports whether the log moved a coefficient: one that nothing in the log varies
// with, as the tire in a log of one tire, keeps its middle and its spread.
func (f *Fit) tells(row []float64, prior Belief) bool {
	const rounding = 2e-3 // what cells of next to no weight, which are left out, may make
	mean, variance := f.combination(row).moments()
	return math.Abs(mean-prior.Mean) > rounding*prior.SD || math.Abs(math.Sqrt(variance)-prior.SD) > rounding*prior.SD
}

// Used returns the runs that the fit used, in the log's order.
func (f *Fit) Used() []*run.Run { return f.used }

// allResiduals returns by how much each run's ln(rise) lies above the fit, under the
// likeliest component.
func (f *Fit) allResiduals(m *measured) []float64 {
	best := f.likeliest()
	beta, worlds := best.coefficients(), []world{best.world}
	x, y, jacobian := make([]float64, len(beta)), make([]float64, 1), make([]float64, 1)
	all := make([]float64, len(m.at))
	for i := range all {
		m.row(i).fill(x)
		m.respond(worlds, y, jacobian, i)
		all[i] = y[0] - floats.Dot(x, beta)
	}
	return all
}

// Moved returns what the i-th of [Fit.Used] would have read under other conditions, gearing
// included, on the day on which it was driven. With e the run's residual, see [Forecast.Under],
//
//	peak = air + what is left of the start + exp(fit under these conditions + e)
//
// all under the likeliest cell of the grid. Under the conditions in which it was driven a run
// stays where it was read, but for heat that it may have had from the run before.
func (f *Fit) Moved(i int, to Conditions) units.Celsius {
	best := f.likeliest()
	x := f.design.on(&to, f.design.rankOf(f.used[i].Day()))
	ln := floats.Dot(x, best.coefficients()) + f.residuals[i] + math.Log(Heating(to.Minutes, best.tau))
	return to.Ambient.Plus(carried(&to, f.Part, best.tau) + units.Rise(math.Exp(ln)))
}

func (f *Fit) likeliest() *component {
	best := &f.components[0]
	for i := range f.components {
		if c := &f.components[i]; c.weight > best.weight {
			best = c
		}
	}
	return best
}

// Lines returns the plain least-squares lines of rise (K) on final drive ratio and on rollout
// (mm): no prior, no time, no warm start, heat stops as they were read.
// It fails with ErrNoLine where the runs don't determine one.
func (f *Fit) Lines() (onRatio, onRollout Line, err error) {
	var ratio, rollout, rise []float64
	for _, r := range f.used {
		peak, _ := r.Peak.Of(f.Part)
		ratio = append(ratio, r.Gearing.FinalDriveRatio())
		rollout = append(rollout, float64(r.Rollout()))
		rise = append(rise, float64(peak.Above(r.Ambient)))
	}
	if onRatio, err = fitLine(ratio, rise); err != nil {
		return Line{}, Line{}, err
	}
	onRollout, err = fitLine(rollout, rise)
	return onRatio, onRollout, err
}

func (d *design) names() []string {
	names := []string{"level", "exponent", "bend", "tire", "cells", "air", "drift"}
	labelled := make([]string, d.surfaces.columns+d.coolings.columns)
	for kind, of := range map[string]labels{"surface ": d.surfaces, "cooling ": d.coolings} {
		for _, name := range of.known {
			if j := of.of(name); j != colLevel {
				labelled[j-numFixedColumns] = kind + name
			}
		}
	}
	return append(names, labelled...)
}
