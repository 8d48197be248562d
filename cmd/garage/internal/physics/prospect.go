package physics

import "math"

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
