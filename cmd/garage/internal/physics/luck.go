package physics

import (
	"math"
	"math/rand/v2"
)

// Variation is what makes equal runs of one car differ, and readings differ from
// the truth.
type Variation struct {
	Day  float64 // sd of ln power from day to day
	Run  float64 // sd of ln power from run to run, shared by all parts
	Part ByPart  // sd of ln rise of one part alone: wind, traffic, aim
	// Heavy gives the run-to-run factor the tails of a t distribution with four
	// degrees of freedom.
	Heavy bool
	Air   float64 // K, sd of the ambient reading
	Gun   float64 // K, sd of a reading
	Aim   ByPart  // share of the rise that this driver's usual spot shows
	Miss  float64 // chance that a reading misses the hot spot
	Depth float64 // share of the rise that a miss loses at most
	Delay float64 // s from stopping to reading, typical
	Haste float64 // sd of ln delay
}

// Fate is the luck of one run, as numbers in (0, 1) that [Variation] turns into
// effects; 0.5 is the ordinary run.
type Fate [numFates]float64

// The kinds of luck. DayLuck is shared by the runs of a day; from partLuck on there is
// one of a kind for each part.
const (
	DayLuck = iota
	runLuck
	airLuck
	delayLuck
	partLuck
	gunLuck  = partLuck + NumParts
	missLuck = gunLuck + NumParts
	numFates = missLuck + NumParts
)

// NewFate draws a fate.
func NewFate(r *rand.Rand) (f Fate) {
	for i := range f {
		f[i] = open(r)
	}
	return f
}

// Fates draws n fates that together cover every kind of luck evenly (a Latin
// hypercube), so that their mean is far more precise than that of n independent draws.
func Fates(r *rand.Rand, n int) []Fate {
	fates := make([]Fate, n)
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	for luck := range numFates {
		r.Shuffle(n, func(i, j int) { order[i], order[j] = order[j], order[i] })
		for i, at := range order {
			fates[i][luck] = (float64(at) + open(r)) / float64(n)
		}
	}
	return fates
}

// open draws from the open interval (0, 1).
func open(r *rand.Rand) float64 { return (float64(r.Uint64()>>12) + 0.5) / (1 << 52) }

// Power returns the factor on every loss of a run.
func (v Variation) Power(f Fate) float64 {
	run := normal(f[runLuck])
	if v.Heavy {
		run = heavy(f[runLuck])
	}
	return math.Exp(v.Day*normal(f[DayLuck]) + v.Run*run)
}

// ReadAfter returns the seconds from stopping to reading.
func (v Variation) ReadAfter(f Fate) float64 {
	return math.Min(maxDelay, v.Delay*math.Exp(v.Haste*normal(f[delayLuck])))
}

const maxDelay = 120 // s, beyond which no driver calls it a peak

// Reading returns the temperature in °C that is logged for a part that is warmer
// than the air by rise.
func (v Variation) Reading(part int, air, rise float64, f Fate) float64 {
	shown := v.Aim[part]
	if f[missLuck+part] < v.Miss {
		shown *= 1 - v.Depth*f[missLuck+part]/v.Miss
	}
	return air + rise*shown*math.Exp(v.Part[part]*normal(f[partLuck+part])) + v.Gun*normal(f[gunLuck+part])
}

// AirError returns by how much the ambient reading is off, in K.
func (v Variation) AirError(f Fate) float64 { return v.Air * normal(f[airLuck]) }

// normal returns the standard normal quantile of p.
func normal(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// heavy returns the quantile of p of Student's t with 4 degrees of freedom, scaled
// to unit variance (that of t is 2). The quantile has a closed form:
//
//	t = ±2 sqrt(q - 1), q = cos(acos(sqrt(a))/3) / sqrt(a), a = 4p(1-p)
func heavy(p float64) float64 {
	root := 2 * math.Sqrt(p*(1-p))
	q := math.Cos(math.Acos(math.Min(1, root))/3) / root
	t := 2 * math.Sqrt(math.Max(0, q-1))
	return math.Copysign(t/math.Sqrt2, p-0.5)
}

// Prospect is what one outing would read at any power and reading delay, worked
// out at a few and interpolated between, so that thousands of fates cost little.
type Prospect struct {
	luck  Variation
	air   float64
	rises [len(prospectPowers)][len(prospectDelays)]ByPart // K
}

var (
	prospectPowers = [...]float64{0.7, 0.85, 1, 1.15, 1.35}
	prospectDelays = [...]float64{0, 8, 16, 32, 64, maxDelay}
)

// Prospect drives an outing at several powers in place of its own.
func (c *Car) Prospect(load Load, o Outing) Prospect {
	p := Prospect{luck: c.Luck, air: o.Air}
	for i, power := range prospectPowers {
		o.Power = power
		state := c.Run(load, o).End
		stood := 0.0
		for j, delay := range prospectDelays {
			state = c.Rest(state, o.Air, delay-stood)
			stood = delay
			for part, t := range c.Parts(state) {
				p.rises[i][j][part] = t - o.Air
			}
		}
	}
	return p
}

// Readings returns what a fate would have a driver read, in °C, taking the
// air to be as warm as the outing's.
func (p *Prospect) Readings(f Fate) (readings ByPart) {
	i, x := between(prospectPowers[:], p.luck.Power(f))
	j, y := between(prospectDelays[:], p.luck.ReadAfter(f))
	air := p.air - p.luck.AirError(f)
	for part := range readings {
		soon := mix(p.rises[i][j][part], p.rises[i+1][j][part], x)
		late := mix(p.rises[i][j+1][part], p.rises[i+1][j+1][part], x)
		readings[part] = p.luck.Reading(part, air, mix(soon, late, y), f)
	}
	return readings
}

// between returns the interval of a rising grid that x lies in, or the outermost
// one, and how far along it x is; outside the grid below 0 or above 1.
func between(grid []float64, x float64) (i int, along float64) {
	for i < len(grid)-2 && x > grid[i+1] {
		i++
	}
	return i, (x - grid[i]) / (grid[i+1] - grid[i])
}

func mix(a, b, share float64) float64 { return math.FMA(share, b-a, a) }
