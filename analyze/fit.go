package analyze

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"regear/analyze/run"
	"regear/analyze/units"
)

// Fit is how one part of one car heats up.
//
// For run i, with τ the part's time constant and t the run's minutes,
//
//	rise_i = peak_i - ambient_i - (start_i - ambient_i) exp(-t_i/τ)
//	ln rise_i - ln(1 - exp(-t_i/τ)) = level + exponent·x_i + bend·x_i² + tire·z_i
//	                                  + cells + air + drift + labels + day + scatter
//
// where x is ln(rollout) and z is ln(tire diameter), both from the log's middle; rises are in
// kelvin, and a part without a start reading started at the air's temperature, or as warm
// as the run before left it. Given the rest, the coefficients are normal. The rest is
// averaged over a grid by how well it explains the log: τ, the scatter, the day effect's
// share of it, whether the exponent follows the general rule, whether the car drifts, how
// much heat standing leaves from one run to the next, and by how much heat stops fall short.
type Fit struct {
	Part    run.Part
	Prior   Prior
	Runs    int // used, heat stops included
	Bounds  int // heat stops among them, which count as lower bounds
	LeftOut []LeftOut
	// Tested is the span of rollouts among the runs used.
	Tested Span

	design     *design
	used       []*run.Run
	residuals  []float64 // of ln(rise), one for each used run
	followed   int       // runs that may have begun warm from the one before: see WarmStarts
	warnings   []Warning
	bases      []*basis
	components []component
}

// Span is a closed interval of rollouts, or of tires.
type Span struct{ Low, High units.Millimeters }

func noSpan() Span { return Span{Low: units.Millimeters(math.Inf(1))} }

func (s *Span) include(m units.Millimeters) { s.Low, s.High = min(s.Low, m), max(s.High, m) }

// Contains reports whether m lies in s, forgiving rounding.
func (s Span) Contains(m units.Millimeters) bool {
	const rounding = 1e-9
	return float64(m) >= float64(s.Low)*(1-rounding) && float64(m) <= float64(s.High)*(1+rounding)
}

// one reports whether s is a single rollout, forgiving rounding: two tires can give the same
// rollout but for the last bit.
func (s Span) one() bool { return s.Contains(s.High) && Span{s.Low, s.Low}.Contains(s.High) }

// LeftOut is a run that a fit did not use, and why.
type LeftOut struct {
	run.Position
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

// component is the fit for one cell of the grid.
type component struct {
	posterior
	world
	base     int     // which of the fit's bases the posterior has
	variance float64 // σ², of runs of one day
	day      float64 // the day effect's variance in units of σ²
	ruled    bool    // the exponent follows the general rule
	weight   float64 // sums to 1 over the components
}

func (c *component) ofNewDay() float64 { return c.variance * (1 + c.day) }

// Heating returns the share of the plateau that a part which started at the air's temperature
// has reached after t minutes, with a time constant τ > 0 in minutes: 1 - exp(-t/τ).
func Heating(t units.Minutes, tau float64) float64 { return -math.Expm1(-float64(t) / tau) }

// carried returns how much of a warm start is left after the run:
// (start - ambient) exp(-t/τ). A part without a start reading started at ambient.
func carried(c *Conditions, part run.Part, tau float64) units.Rise {
	start, ok := c.Start.Of(part)
	if !ok {
		return 0
	}
	return units.Rise(leftOf(start.Above(c.Ambient), c.Minutes, tau))
}

// leftOf returns what is left of a rise after t minutes of cooling: rise exp(-t/τ).
func leftOf(rise units.Rise, t units.Minutes, tau float64) float64 {
	if rise == 0 {
		return 0
	}
	return float64(rise) * math.Exp(-float64(t)/tau)
}

// fitPart fits one part to the runs that measured it. It returns nil if none did.
func fitPart(part run.Part, prior Prior, all *rows) (*Fit, error) {
	f := &Fit{Part: part, Prior: prior, design: all.design, Tested: noSpan()}
	m := f.measure(all)
	if len(m.at) == 0 {
		return nil, nil
	}
	f.used, f.Runs = m.used(), len(m.at)
	worlds, weights := f.worlds(m)
	a := f.accumulate(m, worlds)
	for _, day := range a.stopDays {
		f.Bounds += len(day.stops)
	}
	if err := f.fitGrid(a, worlds, weights); err != nil {
		return nil, fmt.Errorf("fit %s: %w", part, err)
	}
	f.followed = m.warmStarts(float64(f.TimeConstant()))
	f.residuals = f.allResiduals(m)
	f.warnings = f.diagnose(m)
	return f, nil
}

// worlds returns the worlds to average over, with their prior weights. A log in which no run
// followed another says nothing of the heat that standing leaves.
func (f *Fit) worlds(m *measured) (worlds []world, weights []float64) {
	left := f.Prior.HeatLeft
	if !slices.ContainsFunc(m.start, func(s start) bool { return s.followed }) {
		left = []Weighted{{0, 1}}
	}
	for _, l := range left {
		for _, tau := range f.Prior.TimeConstants {
			worlds = append(worlds, world{tau.Value, l.Value})
			weights = append(weights, l.Weight*tau.Weight)
		}
	}
	return worlds, weights
}

// scheme is a way to see the scatter: the day effect's share, the scatters between days, and
// the excess of heat stops. What the stops weigh depends on all of them, so that a log with
// stops takes every scatter by itself.
type scheme struct {
	share    int // which of the prior's day shares
	scatters []Weighted
	excess   Weighted
}

func (f *Fit) schemes() []scheme {
	scatters := f.Prior.Scatters
	var all []scheme
	for share := range f.Prior.DayShares {
		if f.Bounds == 0 {
			all = append(all, scheme{share, scatters, Weighted{0, 1}})
			continue
		}
		for i := range scatters {
			for _, excess := range f.Prior.HeatStopExcesses {
				all = append(all, scheme{share, scatters[i : i+1], excess})
			}
		}
	}
	return all
}

func (f *Fit) fitGrid(a *accumulated, worlds []world, weights []float64) error {
	var logWeights []float64
	for _, scheme := range f.schemes() {
		share := f.Prior.DayShares[scheme.share]
		data := a.sums(scheme.share, withinDay(scheme.scatters[0].Value, share.Value), scheme.excess.Value)
		for _, belief := range f.beliefs() {
			base, err := newBasis(belief.coefficients, data.xx)
			if err != nil {
				return err
			}
			f.bases = append(f.bases, base)
			for k, w := range worlds {
				if !(a.jacobian[k] > math.Inf(-1)) {
					continue // some run can't have been in that world
				}
				pulls := base.pulls(&data, k)
				for _, scatter := range scheme.scatters {
					c := component{
						world: w, base: len(f.bases) - 1,
						variance: withinDay(scatter.Value, share.Value), day: share.Value, ruled: belief.ruled,
					}
					c.posterior = base.update(pulls, c.variance)
					f.components = append(f.components, c)
					logWeights = append(logWeights, c.logEvidence-a.jacobian[k]+
						math.Log(weights[k]*share.Weight*scheme.excess.Weight*belief.weight*scatter.Weight))
				}
			}
		}
	}
	f.weigh(logWeights)
	return nil
}

// withinDay returns the variance of runs of one day where runs of different days scatter
// so much and the day has a share of it.
func withinDay(scatter, share float64) float64 { return scatter * scatter / (1 + share) }

// negligible is the share of the whole below which a component is dropped.
const negligible = 1e-6

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

type belief struct {
	coefficients []Belief
	ruled        bool // the exponent follows the general rule
	weight       float64
}

// beliefs returns those to average over: every drift with an exponent by the general
// rule and with one by none.
func (f *Fit) beliefs() []belief {
	var all []belief
	p := &f.Prior
	add := func(exponent Belief, ruled bool, drift Weighted, weight float64) {
		if weight == 0 {
			return
		}
		of := make([]Belief, f.design.columns())
		of[colLevel], of[colExponent], of[colBend], of[colTire] = p.Level, exponent, p.Bend, p.Tire
		of[colCells], of[colAir], of[colDrift] = p.Cells, p.Air, Belief{SD: drift.Value}
		for j := numFixedColumns; j < len(of); j++ {
			of[j] = Belief{SD: p.Label}
		}
		all = append(all, belief{of, ruled, drift.Weight * weight})
	}
	drifts := p.Drifts
	if len(f.design.days) == 1 {
		drifts = drifts[:1] // one day can't tell them apart
	}
	for _, drift := range drifts {
		add(p.Exponent, true, drift, 1-p.NoRuleWeight)
		add(p.NoRule, false, drift, p.NoRuleWeight)
	}
	return all
}
