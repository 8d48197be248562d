package plotting

import (
	"math"
	"strconv"

	"gonum.org/v1/plot"
)

// ticks marks an axis at round numbers, at most most of them, each with as many
// decimals as the step needs and with the unit.
type ticks struct {
	most int
	unit string
}

// Ticks implements plot.Ticker.
func (t ticks) Ticks(low, high float64) []plot.Tick {
	step, decimals := roundStep((high - low) / float64(t.most))
	// Counting in whole steps keeps 0.30000000000000004 off the axis.
	first, last := math.Ceil(low/step-1e-9), math.Floor(high/step+1e-9)
	var all []plot.Tick
	for k := first; k <= last; k++ {
		label := strconv.FormatFloat(k*step+0, 'f', decimals, 64) // +0 takes the sign off a zero
		if t.unit != "" {
			label += " " + t.unit
		}
		all = append(all, plot.Tick{Value: k * step, Label: label})
	}
	return all
}

// roundStep returns the smallest of 1, 2 and 5 times a power of ten that is at least
// least, and the decimals in which its multiples are written.
func roundStep(least float64) (step float64, decimals int) {
	power := math.Floor(math.Log10(least))
	unit := math.Pow(10, power)
	for _, m := range []float64{1, 2, 5} {
		if step = m * unit; step >= least*(1-1e-9) {
			return step, max(0, -int(power))
		}
	}
	return 10 * unit, max(0, -int(power)-1)
}
