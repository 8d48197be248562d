package physics

import "math"

// maxNodes bounds a thermal network, so that its state is a plain value.
const maxNodes = 8

// State is the temperature in °C of every node of a thermal network.
type State [maxNodes]float64

// node is a lump of material that is equally warm throughout.
type node struct {
	capacity float64 // J/K
	still    float64 // W/K to air at rest
	moving   float64 // W/K more at the reference car speed
}

type link struct {
	a, b        int
	conductance float64 // W/K
}

// network is a thermal network: nodes, the paths between them, and the air.
type network struct {
	nodes []node
	links []link
	// film is the exponent with which the moving part grows with car speed: about
	// 0.5 for a laminar film and 0.8 for a turbulent one, common practice.
	film float64
	// buoyant lets the still part grow with the fourth root of the temperature
	// difference, as free convection does; still is then its value at 40 K.
	buoyant bool
}

const (
	filmSpeed   = 10.0 // m/s, the car speed at which node.moving is given
	buoyantRise = 40.0 // K, the difference at which node.still is given if buoyant
	thermalStep = 2.0  // s, a quarter of the fastest node's time constant or less
)

// airflow returns the factor on node.moving at a car speed in m/s.
func (n *network) airflow(speed float64) float64 { return math.Pow(speed/filmSpeed, n.film) }

// slope returns how fast each node warms in K/s, at constant heat (W into each node) in
// air of a temperature in °C.
func (n *network) slope(t, heat *State, air, airflow float64) (rate State) {
	for i := range n.nodes {
		p := &n.nodes[i]
		above := t[i] - air
		still := p.still
		if n.buoyant {
			still *= math.Sqrt(math.Sqrt(math.Abs(above) / buoyantRise))
		}
		rate[i] = heat[i] - (still+p.moving*airflow)*above
	}
	for _, l := range n.links {
		flow := l.conductance * (t[l.a] - t[l.b])
		rate[l.a] -= flow
		rate[l.b] += flow
	}
	for i := range n.nodes {
		rate[i] /= n.nodes[i].capacity
	}
	return rate
}

// advance moves a state on by some seconds at constant heat (W into each node),
// by the midpoint rule.
func (n *network) advance(t *State, heat *State, air, airflow, seconds float64) {
	rate := n.slope(t, heat, air, airflow)
	half := *t
	for i := range n.nodes {
		half[i] += rate[i] * seconds / 2
	}
	rate = n.slope(&half, heat, air, airflow)
	for i := range n.nodes {
		t[i] += rate[i] * seconds
	}
}
