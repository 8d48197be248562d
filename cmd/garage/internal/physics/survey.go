package physics

import (
	"math"
	"math/rand/v2"
	"sort"

	"gonum.org/v1/gonum/stat"
)

// Character is how one car's heat scales, trait by trait and part by part, measured on
// the car itself with quiet luck.
type Character [numTraits]ByPart

// The traits of a [Character].
const (
	Rise     = iota // K after a usual run
	Gearing         // d ln rise / d ln rollout, by the pinion alone
	Bend            // half the second derivative of ln rise by ln rollout
	Tire            // d ln rise / d ln tire, at equal rollout
	Power           // d ln rise / d ln power
	Minutes         // time to 1 - 1/e of the rise after three hours
	Scatter         // sd of ln rise as read, over runs on different days
	Together        // correlation of it: motor-ESC, motor-battery, ESC-battery
	numTraits
)

// surveyStep is the step in ln rollout, about 1.3 teeth on 13.
const surveyStep = 0.1

// Character measures a member. Draws from r only serve the scatter.
func (m *Member) Character(r *rand.Rand) Character {
	usual := m.rise(1, 1, 1)
	step := math.Exp(surveyStep)
	short, tall := m.rise(1/step, 1, 1), m.rise(step, 1, 1)
	small, large := m.rise(1, 1/step, 1), m.rise(1, step, 1)
	strong := m.rise(1, 1, step)
	c := Character{Rise: usual, Minutes: m.timeConstants()}
	for i := range usual {
		c[Gearing][i] = slope(short[i], tall[i])
		c[Bend][i] = math.Log(tall[i]*short[i]/(usual[i]*usual[i])) / (2 * surveyStep * surveyStep)
		c[Tire][i] = slope(small[i], large[i])
		c[Power][i] = math.Log(strong[i]/usual[i]) / surveyStep
	}
	c[Scatter], c[Together] = m.scatter(r)
	return c
}

// slope returns the exponent between two rises that lie two steps apart.
func slope(low, high float64) float64 { return math.Log(high/low) / (2 * surveyStep) }

// rise returns the rises in K of a usual run at multiples of the usual rollout,
// tire and power.
func (m *Member) rise(rollout, tire, power float64) ByPart {
	s := m.Setup(m.Pinion, m.Tire*tire)
	s.Ratio *= tire / rollout
	o := m.usualOuting()
	o.Power = power
	rises, _ := m.rises(s, o)
	return rises
}

// scatter reads many usual runs, every one on a day of its own.
func (m *Member) scatter(r *rand.Rand) (sd, together ByPart) {
	load, _ := m.Car.Load(m.Setup(m.Pinion, m.Tire))
	prospect := m.Car.Prospect(load, m.usualOuting())
	const n = 400
	var logs [NumParts][]float64
	for _, fate := range Fates(r, n) {
		for part, reading := range prospect.Readings(fate) {
			logs[part] = append(logs[part], math.Log(math.Max(leastRead, reading-m.Air)))
		}
	}
	for part := range logs {
		sd[part] = stat.StdDev(logs[part], nil)
	}
	for i, pair := range [NumParts][2]int{{0, 1}, {0, 2}, {1, 2}} {
		together[i] = stat.Correlation(logs[pair[0]], logs[pair[1]], nil)
	}
	return sd, together
}

// leastRead is the smallest rise in K that a gun shows at all.
const leastRead = 0.5

// timeConstants runs the usual load until nothing changes any more, and returns when
// each part was at 1 - 1/e of its rise.
func (m *Member) timeConstants() (minutes ByPart) {
	const last = 180
	load, _ := m.Car.Load(m.Setup(m.Pinion, m.Tire))
	o := m.usualOuting()
	o.Minutes = 1
	var rises [NumParts][last + 1]float64
	for t := range last {
		o.Start = m.Car.Run(load, o).End
		for i, celsius := range m.Car.Parts(o.Start) {
			rises[i][t+1] = celsius - m.Air
		}
	}
	for i, rise := range rises {
		goal := rise[last] * (1 - math.Exp(-1))
		t := sort.SearchFloat64s(rise[:], goal)
		minutes[i] = float64(t-1) + (goal-rise[t-1])/(rise[t]-rise[t-1])
	}
	return minutes
}
