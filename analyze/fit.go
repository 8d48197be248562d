package analyze

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"regear/analyze/runlog"
	"regear/analyze/units"
)

// Fit is how one part of one car heats up.
//
// For run i, with τ the part's time constant and t the run's minutes,
//
//	rise_i = peak_i - ambient_i - (start_i - ambient_i) exp(-t_i/τ)
//	ln rise_i - ln(1 - exp(-t_i/τ)) = level + exponent·x_i + bend·x_i² + tire·z_i
//	                                  + cells + drift + labels + day + scatter
//
// where x is ln(rollout) and z is ln(tire diameter), both from the log's middle.
// Coefficients and scatter are conjugate given τ, the day effect's share and whether
// the car drifts; those three are averaged over a grid by how well they explain the
// log.
type Fit struct {
	Part    runlog.Part
	Prior   Prior
	Runs    int // used, heat stops included
	Bounds  int // of those, heat stops, which count as lower bounds
	LeftOut []LeftOut
	// Tested is the span of rollouts among the runs used.
	Tested Span

	design     *design
	used       []*runlog.Run
	tires      Span          // among the runs used
	longest    units.Minutes // of the runs used
	residuals  []float64     // of ln(rise), one for each used run
	warnings   []Warning
	components []component
}

// Span is a closed interval of rollouts, or of tires.
type Span struct{ Low, High units.Millimeters }

// noSpan returns the span that nothing lies in.
func noSpan() Span { return Span{Low: units.Millimeters(math.Inf(1))} }

// include widens s to hold m.
func (s *Span) include(m units.Millimeters) { s.Low, s.High = min(s.Low, m), max(s.High, m) }

// Contains reports whether m lies in s, forgiving rounding.
func (s Span) Contains(m units.Millimeters) bool {
	const rounding = 1e-9
	return float64(m) >= float64(s.Low)*(1-rounding) && float64(m) <= float64(s.High)*(1+rounding)
}

// LeftOut is a run that a fit did not use, and why.
type LeftOut struct {
	runlog.Position
	Reason Reason
}

// Reason is why a run was left out of a fit.
type Reason uint8

// The reasons, in the order in which they are looked for.
const (
	Skipped     Reason = iota // the log says so
	OtherMotor                // not the motor of the last run
	NotMeasured               // no peak of this part
	NoRise                    // the peak is not above what was there at the start
)

// component is the fit for one time constant, one day effect, one drift and one
// completion of what heat stops leave open.
type component struct {
	tau    float64 // minutes
	day    float64 // the day effect's variance in units of σ²
	weight float64 // sums to 1 over the components
	*posterior
}

// dayScatter returns how a new run on a new day scatters, in units of σ².
func (c *component) dayScatter() float64 { return 1 + c.day }

// heating returns the share of the plateau reached after t minutes from ambient:
// 1 - exp(-t/τ).
func heating(t units.Minutes, tau float64) float64 { return -math.Expm1(-float64(t) / tau) }

// carried returns how much of a warm start is left after the run:
// (start - ambient) exp(-t/τ). A part without a start reading started at ambient.
func carried(c *Conditions, part runlog.Part, tau float64) units.Rise {
	start, ok := c.Start.Of(part)
	if !ok {
		return 0
	}
	return units.Rise(leftOf(float64(start.Above(c.Ambient)), c.Minutes, tau))
}

// leftOf returns what is left of a rise after t minutes of cooling: rise exp(-t/τ).
func leftOf(rise float64, t units.Minutes, tau float64) float64 {
	return rise * math.Exp(-float64(t)/tau)
}

// fitPart fits one part to those of the car's runs that measured it, and returns them
// too. It returns nil if none did.
func fitPart(part runlog.Part, prior Prior, all *rows) (*Fit, *measured, error) {
	f := &Fit{Part: part, Prior: prior, design: all.design}
	m := f.measure(all)
	if len(m.at) == 0 {
		return nil, nil, nil
	}
	f.used = m.used()
	f.Runs = len(f.used)
	shortest, tallest := m.extremes(m.rollout)
	f.Tested = Span{shortest.Rollout(), tallest.Rollout()}
	smallest, largest := m.extremes(m.tire)
	f.tires = Span{smallest.Tire, largest.Tire}
	f.longest = m.longest()

	plain, bounds := f.accumulate(m)
	f.Bounds = len(bounds)
	var logWeights []float64
	for _, drift := range f.drifts() {
		start := f.priorDistribution(drift.Value)
		for k, tau := range prior.TimeConstants {
			for s, share := range prior.DayShares {
				completed, err := plain.complete(start, k, s, bounds)
				if err != nil {
					return nil, nil, fmt.Errorf("fit %s: %w", part, err)
				}
				for _, c := range completed {
					f.components = append(f.components, component{tau: tau.Value, day: share.Value, posterior: c.posterior})
					logWeights = append(logWeights, c.logEvidence-plain.jacobian[k]+
						math.Log(drift.Weight*tau.Weight*share.Weight))
				}
			}
		}
	}
	f.weigh(logWeights)
	m.residual = f.allResiduals(m)
	f.residuals = m.residual
	f.warnings = f.diagnose(m)
	return f, m, nil
}

// negligible is the share of the whole below which a component is dropped.
const negligible = 1e-5

// weigh turns log weights into weights that sum to 1 and drops the negligible.
func (f *Fit) weigh(logWeights []float64) {
	total := floats.LogSumExp(logWeights)
	kept := f.components[:0]
	sum := 0.0
	for i, c := range f.components {
		if c.weight = math.Exp(logWeights[i] - total); c.weight >= negligible {
			kept = append(kept, c)
			sum += c.weight
		}
	}
	for i := range kept {
		kept[i].weight /= sum
	}
	f.components = kept
}

// usable reports whether the fit can use a run, and the reason if not.
func (f *Fit) usable(r *runlog.Run) (Reason, bool) {
	peak, ok := r.Peak.Of(f.Part)
	if !ok {
		return NotMeasured, false
	}
	rise, start := float64(peak.Above(r.Ambient)), float64(startRise(r, f.Part))
	if start == 0 {
		return NoRise, rise > 0
	}
	for _, tau := range f.Prior.TimeConstants {
		if rise-leftOf(start, r.Minutes, tau.Value) <= 0 {
			return NoRise, false
		}
	}
	return 0, true
}

// drifts returns the drifts to average over. A log of one day can't tell them apart.
func (f *Fit) drifts() []Weighted {
	if len(f.design.days) == 1 {
		return f.Prior.Drifts[:1]
	}
	return f.Prior.Drifts
}

// priorDistribution returns the prior under one drift in the form that the regression
// takes.
func (f *Fit) priorDistribution(drift float64) normalInverseGamma {
	p := f.design.columns()
	variance := f.Prior.Scatter * f.Prior.Scatter
	start := normalInverseGamma{
		mean:      mat.NewVecDense(p, nil),
		precision: mat.NewSymDense(p, nil),
		shape:     f.Prior.ScatterRuns / 2,
		rate:      f.Prior.ScatterRuns / 2 * variance,
	}
	believe := func(column int, b Belief) {
		start.mean.SetVec(column, b.Mean)
		start.precision.SetSym(column, column, variance/(b.SD*b.SD))
	}
	believe(colLevel, f.Prior.Level)
	believe(colExponent, f.Prior.Exponent)
	believe(colBend, f.Prior.Bend)
	believe(colTire, f.Prior.Tire)
	believe(colCells, f.Prior.Cells)
	believe(colDrift, Belief{SD: drift})
	for j := numFixedColumns; j < p; j++ {
		believe(j, Belief{SD: f.Prior.Label})
	}
	return start
}
