package advise

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// Setup is what a driver changes beside the gears. Cells and KV are 0 where they are
// not known; both setups know them, or neither.
type Setup struct {
	Tire  units.Millimeters
	Cells int
	KV    float64
}

// StartRequest asks for the first gearing after a change.
type StartRequest struct {
	Fitted        drivetrain.Gearing // before the change
	Before, After Setup
	// Gears are those at hand. Where the pinions are not known, the first box has none,
	// and any pinion will do.
	Gears  Gears
	Limits run.ByPart[Limit]
	// Car is the fit of a log from before the change, or nil. Run is then the run that is
	// foreseen; its gearing, tire and cells are not looked at.
	Car *analyze.Car
	// The early readings are for Run's air.
	Run analyze.Conditions
}

// Kept is what a first gearing keeps.
type Kept uint8

// What can be kept.
const (
	KeptRollout Kept = iota // the distance a motor turn, and with it both load and speed
	KeptSpeed               // the unloaded road speed, as the motor itself now turns faster or slower
)

// StartOption is one gearing after the change.
type StartOption struct {
	Gearing     drivetrain.Gearing
	Ratio       float64
	Rollout     units.Millimeters
	Off         float64 // by what share the rollout misses the one that keeps
	SpeedChange float64 // of the unloaded road speed, against before the change
	// Travel is how far the motor moves away from the spur, where the pitch is known.
	Travel    units.Millimeters
	HasTravel bool
	Owned     bool // or not known to be missing
	Reach     drivetrain.Reach
	// RiseChange is by what share the motor's rise over the air changes by the general
	// rule, where that is known: see StartRequest.Car.
	RiseChange    analyze.Estimate
	HasRiseChange bool
	// Parts and Chance are the log's forecast, where there is one.
	Parts  run.ByPart[PartForecast]
	Chance float64
}

// closeEnough is by what share a rollout may miss the target and still be said to keep
// it: half a tooth of the usual pinions.
const closeEnough = 0.03

// Holds reports whether an option keeps what is to be kept.
func (o *StartOption) Holds() bool { return math.Abs(o.Off) <= closeEnough }

// usable reports whether an option can be fitted with what is at hand.
func (o *StartOption) usable() bool { return o.Owned && o.Reach == drivetrain.Inside }

// Start is the first gearing after a change.
type Start struct {
	StartRequest
	Keeps   Kept
	Target  units.Millimeters // the rollout that keeps what is kept
	Exact   float64           // the pinion that has it on the fitted spur, in fractional teeth
	Options []*StartOption    // in rising rollout
	// Nearest comes closest to the target, at hand or not. Keep is the closest that
	// can be fitted and Careful the next one down, for the first run; either may be
	// nil.
	Nearest, Keep, Careful *StartOption
	Readings               []Reading
}

// Reading says how warm the parts may be early in the first run.
type Reading struct {
	Minutes units.Minutes
	// Share is how much of the way from the air to its limit the fastest part may have
	// gone where the full run is to stay under it.
	Share run.ByPart[float64]
}

// The minutes at which a first run is read: common practice.
var readingMinutes = []units.Minutes{2, 5}

// FirstRunMinutes is the run that the early readings are judged for where no log
// tells how long runs are.
const FirstRunMinutes units.Minutes = 12

// AssumedAir is the air that the early readings are given for where no log and no flag tells
// it: a warm day. Common practice, no source.
const AssumedAir units.Celsius = 25

// SmallestPinion is the smallest pinion that is proposed unless a smaller one is fitted or
// at hand: smaller ones are hardly sold. Common practice, no source.
const SmallestPinion = 9

// Beyond this many teeth around the exact pinion no first gearing is looked for.
const startReach = 3

// FirstGearing answers what keeps the load after a change.
//
// The load on a motor that pulls the same car goes with rollout, so at an unchanged
// motor and battery the answer keeps the rollout. With other cells or another kV it
// keeps the unloaded speed, which goes with rollout * cells * kV; at another kV the
// motor's current then stays too, and with more cells it falls.
//
// It fails with a *RequestError where a gearing or tire is none.
func FirstGearing(req StartRequest) (*Start, error) {
	if err := req.Fitted.Check(); err != nil {
		return nil, &RequestError{"what was fitted before: " + err.Error()}
	}
	s := &Start{StartRequest: req, Keeps: KeptRollout}
	s.Target = req.Fitted.Rollout(req.Before.Tire)
	if req.Before.Cells != req.After.Cells || req.Before.KV != req.After.KV {
		s.Keeps = KeptSpeed
		s.Target /= units.Millimeters(s.motorSpeedChange())
	}
	s.Exact = req.Fitted.PinionFor(s.Target, req.After.Tire)
	for _, o := range s.gearings() {
		s.Options = append(s.Options, s.option(o))
	}
	slices.SortStableFunc(s.Options, func(a, b *StartOption) int { return cmp.Compare(a.Rollout, b.Rollout) })
	s.choose()
	s.narrow()
	for _, o := range s.Options {
		s.heat(o)
	}
	s.Readings = s.readings()
	return s, nil
}

// motorSpeedChange returns by what factor the unloaded motor now turns faster.
func (s *Start) motorSpeedChange() float64 {
	change := 1.0
	if s.Before.Cells > 0 {
		change *= float64(s.After.Cells) / float64(s.Before.Cells)
	}
	if s.Before.KV > 0 {
		change *= s.After.KV / s.Before.KV
	}
	return change
}

// paired is a gearing with the pitch of its teeth.
type paired struct {
	drivetrain.Gearing
	pitch drivetrain.Pitch
	owned bool
}

// gearings returns the gearings to look at: those at hand, and beside them the pinions
// around the exact one, so that the answer can say what a missing one would do.
func (s *Start) gearings() []paired {
	var all []paired
	seen := map[drivetrain.Gearing]bool{}
	add := func(box drivetrain.Box, pinions []int, owned bool) {
		for _, g := range Pinions(s.Fitted, pinions, box.Spurs) {
			if !seen[g] {
				seen[g] = true
				all = append(all, paired{g, box.Pitch, owned})
			}
		}
	}
	for _, box := range s.Gears.Boxes {
		add(box, box.Pinions, true)
	}
	for _, box := range s.Gears.Boxes {
		for _, spur := range box.Spurs {
			around := s.Fitted
			around.Spur = spur
			exact := int(math.Round(around.PinionFor(s.Target, s.After.Tire)))
			smallest := min(SmallestPinion, s.Fitted.Pinion)
			var pinions []int
			for t := max(smallest, exact-startReach); t <= max(smallest, exact+1); t++ {
				pinions = append(pinions, t)
			}
			one := box
			one.Spurs = []int{spur}
			add(one, pinions, len(s.Gears.Boxes[0].Pinions) == 0)
		}
	}
	return all
}

func (s *Start) option(p paired) *StartOption {
	rollout := p.Rollout(s.After.Tire)
	o := &StartOption{
		Gearing: p.Gearing, Ratio: p.FinalDriveRatio(), Rollout: rollout,
		Off:         drivetrain.SpeedChange(s.Target, rollout),
		SpeedChange: float64(rollout/s.Fitted.Rollout(s.Before.Tire))*s.motorSpeedChange() - 1,
		Owned:       p.owned,
	}
	fitted := s.Gears.Boxes[0].Pitch
	if p.pitch.IsKnown() && fitted.IsKnown() {
		o.HasTravel = true
		o.Travel = p.pitch.CentreDistance(p.Pinion, p.Spur) - fitted.CentreDistance(s.Fitted.Pinion, s.Fitted.Spur)
	}
	o.Reach = s.Gears.reach(s.Fitted, p.Gearing, p.pitch)
	return o
}

// heat fills in what is known of an option's heat. The log and the general
// rule say nothing of another motor's.
func (s *Start) heat(o *StartOption) {
	if s.After.KV != s.Before.KV {
		return
	}
	if s.Car == nil {
		o.RiseChange, o.HasRiseChange = s.riseChange(o.Rollout), true
		return
	}
	next := s.Run
	next.Gearing, next.Tire, next.Cells = o.Gearing, s.After.Tire, s.After.Cells
	foreseen := s.Car.Forecast(next)
	chance := foreseen.Under(Temperatures(s.Limits))
	o.Chance = chance.All
	for _, f := range s.Car.Fits() {
		o.Parts.Set(f.Part, partForecast(f.Part, foreseen, chance))
	}
}

// riseChange returns what the general rule holds of the motor's rise with a rollout,
// against before the change:
//
//	ln(change) = exponent·x + bend·x² + tire·ln(tire ratio) + cells·ln(cells ratio)
//
// where x is the change of ln(rollout); each coefficient is normal, as PriorOf says.
func (s *Start) riseChange(rollout units.Millimeters) analyze.Estimate {
	const level = 0.8
	p := analyze.PriorOf(run.Motor)
	x := math.Log(float64(rollout / s.Fitted.Rollout(s.Before.Tire)))
	cells := 0.0
	if s.Before.Cells > 0 {
		cells = math.Log(float64(s.After.Cells) / float64(s.Before.Cells))
	}
	mean, variance := 0.0, 0.0
	for _, c := range []struct {
		of analyze.Belief
		by float64
	}{{p.Exponent, x}, {p.Bend, x * x}, {p.Tire, math.Log(float64(s.After.Tire / s.Before.Tire))}, {p.Cells, cells}} {
		mean += c.of.Mean * c.by
		variance += c.of.SD * c.of.SD * c.by * c.by
	}
	reach := distuv.UnitNormal.Quantile((1+level)/2) * math.Sqrt(variance)
	return analyze.Estimate{Value: math.Expm1(mean), Low: math.Expm1(mean - reach), High: math.Expm1(mean + reach), Level: level}
}

// choose finds the options that are named.
func (s *Start) choose() {
	for _, o := range s.Options {
		if s.closer(o, s.Nearest) {
			s.Nearest = o
		}
		if o.usable() && s.closer(o, s.Keep) {
			s.Keep = o
		}
	}
	for _, o := range s.Options {
		if s.Keep != nil && o.usable() && o.Rollout < s.Keep.Rollout*(1-nearlyEqual) && (s.Careful == nil || s.downTo(o, s.Careful)) {
			s.Careful = o
		}
	}
}

// closer reports whether an option comes closer to the target than another; of two as
// close, the one that changes fewer parts.
func (s *Start) closer(o, other *StartOption) bool {
	if other == nil {
		return true
	}
	off, than := math.Abs(math.Log1p(o.Off)), math.Abs(math.Log1p(other.Off))
	if math.Abs(off-than) <= nearlyEqual {
		if c := cmp.Compare(partsChanged(s.Fitted, o.Gearing), partsChanged(s.Fitted, other.Gearing)); c != 0 {
			return c < 0
		}
	}
	return off < than
}

// downTo reports whether an option is the better next one down: with the spur of the
// one that keeps rather than with another, then the taller.
func (s *Start) downTo(o, other *StartOption) bool {
	if same, than := o.Gearing.Spur == s.Keep.Gearing.Spur, other.Gearing.Spur == s.Keep.Gearing.Spur; same != than {
		return same
	}
	return o.Rollout > other.Rollout
}

// narrow leaves the options that are at hand between the careful one and the next above
// the target, and those that are named.
func (s *Start) narrow() {
	low, high := s.Nearest.Rollout, s.Nearest.Rollout
	named := []*StartOption{s.Nearest, s.Keep, s.Careful}
	for _, o := range named {
		if o != nil {
			low, high = min(low, o.Rollout), max(high, o.Rollout)
		}
	}
	const tooth = 0.08 // of a small pinion
	low, high = low*(1-tooth), high*(1+tooth)
	s.Options = slices.DeleteFunc(s.Options, func(o *StartOption) bool {
		return !slices.Contains(named, o) && !(o.Owned && o.Rollout >= low && o.Rollout <= high)
	})
}

// readings says how much of the way to its limit each part may have gone early on:
//
//	share = (1 - exp(-early/τ)) / (1 - exp(-full/τ))
func (s *Start) readings() []Reading {
	full := FirstRunMinutes
	if s.Car != nil {
		full = s.Run.Minutes
	}
	var all []Reading
	for _, early := range readingMinutes {
		if early >= full {
			continue
		}
		r := Reading{Minutes: early}
		for part := range s.Limits.All() {
			tau := float64(s.timeConstant(part))
			r.Share.Set(part, analyze.Heating(early, tau)/analyze.Heating(full, tau))
		}
		all = append(all, r)
	}
	return all
}

// StopAbove returns the temperature above which a part, at an early reading, would probably
// pass its limit in the full run:
//
//	air + share * (limit - air)
func (s *Start) StopAbove(r Reading, part run.Part) units.Celsius {
	air := s.Run.Ambient
	return air.Plus(units.Rise(r.Share.At(part)) * s.Limits.At(part).Temperature.Above(air))
}

// timeConstant returns the log's, or that of the general rule.
func (s *Start) timeConstant(part run.Part) units.Minutes {
	if s.Car != nil {
		if f := s.Car.Fit(part); f != nil {
			return f.TimeConstant()
		}
	}
	sum, weights := 0.0, 0.0
	for _, tau := range analyze.PriorOf(part).TimeConstants {
		sum += tau.Weight * math.Log(tau.Value)
		weights += tau.Weight
	}
	return units.Minutes(math.Exp(sum / weights))
}
