package analyze

import (
	"errors"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// HindsightLevel is the probability of the interval whose promise is checked.
const HindsightLevel = 0.8

// MostReplayed is how many of the latest runs are replayed; each costs a fit of all
// that came before it.
const MostReplayed = 200

// Replay is one run as the runs before it foresaw it.
type Replay struct {
	run.Position
	When    time.Time
	HasTime bool // When has a time of day
	Gearing drivetrain.Gearing
	Part    run.Part
	Before  int // runs of the part that the forecast knew

	Low, Middle, High units.Celsius // the forecast's interval at HindsightLevel, and its median
	Peak              units.Celsius
	Held              bool // Low <= Peak <= High
	// Chance is what the forecast gave to staying under the part's limit, where
	// there is one; Under says whether the run did.
	Chance   float64
	HasLimit bool
	Under    bool
}

// Miss returns how far the reading lay above the forecast's median.
func (r Replay) Miss() units.Rise { return r.Peak.Above(r.Middle) }

// Trust says whether the forecasts have earned trust on this car. With n replays, of which k
// held, it is TooFewReplays where n < 8, Doubtful where a binomial of n and HindsightLevel is k
// or less with a probability under 5 %, else Earned.
type Trust uint8

// The zero Trust is the cautious one.
const (
	TooFewReplays Trust = iota // too few to tell
	Doubtful                   // the interval held too rarely to be chance
	Earned                     // the interval held as often as it promised
)

// The rules of Trust. Common practice, no source.
const (
	leastReplays = 8
	// unlikelyByChance is the probability below which so few holds are more than bad luck.
	unlikelyByChance = 0.05
)

// PartHindsight is how one part's forecasts fared.
type PartHindsight struct {
	Part    run.Part
	Replays []Replay // in the order of the runs
	Held    int      // of len(Replays)
	// MeanMiss is the mean of the readings above the median forecast, and TypicalMiss the
	// middle one of how far they lie from it, both in kelvin. Half of the readings lie closer:
	// a root mean square would let one wild reading speak for all.
	MeanMiss, TypicalMiss units.Rise
	Trust                 Trust
}

// Hindsight is a replay of a car's log: every run foreseen from the earlier ones
// only.
type Hindsight struct {
	Car    string
	Limits Limits // by which the chances are judged
	Parts  []PartHindsight
	// Reliability sets the stated chances of staying under the limits beside how
	// often the runs did, all parts together.
	Reliability []Reliability
	Unreplayed  int // earlier runs beyond MostReplayed
	HeatStops   int // readings that can't be judged: heat cut the run short
}

// Reliability is one band of stated chances: of N forecasts that stated between
// Low and High, Stated on average, the share Happened stayed under the limit.
type Reliability struct {
	Low, High        float64
	N                int
	Stated, Happened float64
}

// ErrTooFewRuns reports that there is no earlier run to foresee another from.
var ErrTooFewRuns = errors.New("analyze: hindsight needs two usable runs")

// LookBack replays the runs of one car in time: it foresees each of the latest MostReplayed from
// a fit of all earlier ones with its motor, in the conditions in which it was then driven. Runs
// that are skipped are left out. Limits are those of today, as the log does not say which were
// in force.
//
// It fails with ErrTooFewRuns if no run has an earlier one.
func LookBack(runs []run.Run, limits Limits) (*Hindsight, error) {
	inTime := slices.DeleteFunc(slices.Clone(runs), func(r run.Run) bool { return r.Skip })
	slices.SortStableFunc(inTime, func(a, b run.Run) int { return a.When.Compare(b.When) })
	h := &Hindsight{Limits: limits, Unreplayed: max(0, len(inTime)-1-MostReplayed)}
	var byPart run.ByPart[*PartHindsight]
	for i := 1 + h.Unreplayed; i < len(inTime); i++ {
		h.Car = inTime[i].Car
		foreseen, err := Foresee(inTime[:i], &inTime[i])
		if errors.Is(err, ErrNoRuns) {
			continue
		}
		if err != nil {
			return nil, err
		}
		for _, replay := range h.replay(foreseen, &inTime[i], limits) {
			p := byPart.At(replay.Part)
			if p == nil {
				p = &PartHindsight{Part: replay.Part}
				byPart.Set(replay.Part, p)
			}
			p.Replays = append(p.Replays, replay)
		}
	}
	for _, p := range byPart.All() {
		p.conclude()
		h.Parts = append(h.Parts, *p)
	}
	if len(h.Parts) == 0 {
		return nil, ErrTooFewRuns
	}
	h.Reliability = reliability(h.Parts)
	return h, nil
}

// Foreseen is the peak of a part in a run, as other runs foresee it.
type Foreseen struct {
	Part   run.Part
	Before int // runs of the part that the forecast knew
	Prediction
}

// Foresee foresees the peak of each part in a run, in the conditions in which it was driven, from
// other runs of its car alone: those with its motor that are not skipped. It fails with
// [ErrNoRuns] if none of them can be used.
func Foresee(others []run.Run, r *run.Run) ([]Foreseen, error) {
	car, err := FitCar(slices.DeleteFunc(slices.Clone(others), func(other run.Run) bool { return !alike(other.Motor, r.Motor) }))
	if err != nil {
		return nil, err
	}
	var all []Foreseen
	for _, f := range car.Fits() {
		all = append(all, Foreseen{f.Part, f.Runs, f.Predict(f.following(car.Last, r))})
	}
	return all, nil
}

func (h *Hindsight) replay(foreseen []Foreseen, r *run.Run, limits Limits) []Replay {
	var all []Replay
	for _, p := range foreseen {
		peak, measured := r.Peak.Of(p.Part)
		if !measured {
			continue
		}
		if r.StoppedByHeat {
			h.HeatStops++
			continue
		}
		replay := Replay{
			Position: r.Position, When: r.When, HasTime: r.HasTime, Gearing: r.Gearing,
			Part: p.Part, Before: p.Before, Peak: peak,
			Low: p.Quantile((1 - HindsightLevel) / 2), Middle: p.Quantile(0.5), High: p.Quantile((1 + HindsightLevel) / 2),
		}
		replay.Held = replay.Low <= peak && peak <= replay.High
		if limit, ok := limits.Of(p.Part); ok {
			replay.Chance, replay.HasLimit, replay.Under = p.CDF(limit), true, peak <= limit
		}
		all = append(all, replay)
	}
	return all
}

// following returns the conditions of a run that followed another: without a start reading
// the part began with what standing is expected to leave.
func (f *Fit) following(last, r *run.Run) Conditions {
	c := ConditionsOf(r)
	rest, short := restBetween(last, r)
	if !short {
		return c
	}
	began := f.startOf(r, before{last, rest})
	if !began.followed {
		return c
	}
	_, left := f.WarmStarts()
	if f.followed == 0 { // the log tells nothing of how much standing leaves
		left = 0
		for _, l := range f.Prior.HeatLeft {
			left += l.Weight * l.Value
		}
	}
	c.Start.Set(f.Part, r.Ambient.Plus(units.Rise(began.left(0, float64(f.TimeConstant()), left))))
	return c
}

func (p *PartHindsight) conclude() {
	var sum float64
	var sizes []float64
	for _, r := range p.Replays {
		if r.Held {
			p.Held++
		}
		miss := float64(r.Miss())
		sum += miss
		sizes = append(sizes, math.Abs(miss))
	}
	p.MeanMiss, p.TypicalMiss = units.Rise(sum/float64(len(sizes))), units.Rise(median(sizes))
	p.Trust = trust(p.Held, len(p.Replays))
}

func trust(held, replays int) Trust {
	if replays < leastReplays {
		return TooFewReplays
	}
	promise := distuv.Binomial{N: float64(replays), P: HindsightLevel}
	if promise.CDF(float64(held)) < unlikelyByChance {
		return Doubtful
	}
	return Earned
}

func reliability(parts []PartHindsight) []Reliability {
	const bands = 5
	all := make([]Reliability, bands)
	for i := range all {
		all[i].Low, all[i].High = float64(i)/bands, float64(i+1)/bands
	}
	for _, p := range parts {
		for _, r := range p.Replays {
			if !r.HasLimit {
				continue
			}
			band := &all[min(int(r.Chance*bands), bands-1)]
			band.N++
			band.Stated += r.Chance
			if r.Under {
				band.Happened++
			}
		}
	}
	for i := range all {
		if n := float64(all[i].N); n > 0 {
			all[i].Stated /= n
			all[i].Happened /= n
		}
	}
	return slices.DeleteFunc(all, func(r Reliability) bool { return r.N == 0 })
}
