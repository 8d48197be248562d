package physics

import (
	"math"
	"testing"
)

// oneNode is a lump of 1 J/K that loses rate W/K to the air.
func oneNode(rate float64) network {
	return network{nodes: []node{{capacity: 1, still: rate}}}
}

// after advances a network in small steps.
func after(n network, start State, heat State, air, seconds float64) State {
	const steps = 20000
	for range steps {
		n.advance(&start, &heat, air, 0, seconds/steps)
	}
	return start
}

func TestOneNodeApproachesItsPlateau(t *testing.T) {
	// Mechanical Engineers' Handbook vol. 2, p. 333, Table 6: response of a first
	// order system after 1 to 6 time constants.
	want := []float64{0.632, 0.865, 0.950, 0.982, 0.993, 0.998}
	const air, plateau = 20, 50 // °C, K
	for i, share := range want {
		taus := float64(i + 1)
		got := after(oneNode(1), AllAt(air), State{plateau}, air, taus)[0]
		if math.Abs((got-air)/plateau-share) > 0.0005 {
			t.Errorf("after %g time constants: %.5f of the plateau, want %.3f", taus, (got-air)/plateau, share)
		}
	}
}

func TestOneNodeCools(t *testing.T) {
	tests := []struct {
		name             string
		rate, start, air float64
		after, want, tol float64
		source           string
	}{
		{"100 from 185", 0.08, 185, 75, math.Log(110.0/25) / 0.08, 100, 1e-6, "Illustrative Mathematics task 382: 110 exp(-0.08 t) + 75"},
		{"140 from 185", 0.08, 185, 75, math.Log(110.0/65) / 0.08, 140, 1e-6, "the same"},
		{"61 from 95 in 30 min", 0.0201305, 95, 20, 30, 61, 1e-4, "mathhelpforum.com 126430, an exam question; k = ln(75/41)/30"},
		{"75 at 20.1 min", 0.19018, 300, 70, 20.13, 75, 0.01, "cooling cake, T = 70 + 230 exp(-0.19018 t)"},
	}
	for _, tt := range tests {
		got := after(oneNode(tt.rate), AllAt(tt.start), State{}, tt.air, tt.after)[0]
		if math.Abs(got-tt.want) > tt.tol {
			t.Errorf("%s: %.6f, want %.6f (%s)", tt.name, got, tt.want, tt.source)
		}
	}
}

// Heat that can't leave is all stored, however the nodes exchange it.
func TestNetworkKeepsHeat(t *testing.T) {
	n := network{
		nodes: []node{{capacity: 12}, {capacity: 80}, {capacity: 500}},
		links: []link{{0, 1, 1.3}, {1, 2, 0.4}, {0, 2, 0.05}},
	}
	state := AllAt(20)
	heat := State{9, 4, 1}
	const seconds, step = 600, 2
	for range seconds / step {
		n.advance(&state, &heat, 20, 0, step)
	}
	stored := 0.0
	for i, p := range n.nodes {
		stored += p.capacity * (state[i] - 20)
	}
	if given := 14.0 * seconds; math.Abs(stored/given-1) > 1e-12 {
		t.Errorf("stored %.9g J of %.9g J", stored, given)
	}
}

// Free convection: the still conductance is as given at its reference rise, and
// grows with the fourth root of the rise (laminar free convection, textbook law
// from memory).
func TestBuoyantFilm(t *testing.T) {
	n := network{nodes: []node{{capacity: 1, still: 0.5}}, buoyant: true}
	for _, rise := range []float64{buoyantRise, 16 * buoyantRise} {
		state := State{20 + rise}
		got := -n.slope(&state, &State{}, 20, 0)[0] / rise
		want := 0.5 * math.Pow(rise/buoyantRise, 0.25)
		if math.Abs(got/want-1) > 1e-12 {
			t.Errorf("at %g K: %g W/K, want %g", rise, got, want)
		}
	}
}
