package canvas

import (
	"math"
	"testing"

	"gonum.org/v1/plot/vg"
)

// TestArc checks the cubic curves that stand for an arc against the circle itself.
func TestArc(t *testing.T) {
	var path vg.Path
	centre := vg.Point{X: 3, Y: -2}
	path.Move(vg.Point{X: 8, Y: -2})
	path.Arc(centre, 5, 0, 2*math.Pi)
	path.Close()
	cubic := curves(path)
	here := cubic[0].Pos
	turns := 0.0
	for _, step := range cubic[1:] {
		if step.Type != vg.CurveComp {
			here = step.Pos
			continue
		}
		last := here
		for k := 1; k <= 20; k++ {
			u := vg.Length(k) / 20
			v := 1 - u
			p := here.Scale(v * v * v).Add(step.Control[0].Scale(3 * v * v * u)).Add(step.Control[1].Scale(3 * v * u * u)).Add(step.Pos.Scale(u * u * u))
			if r := math.Hypot(float64(p.X-centre.X), float64(p.Y-centre.Y)); math.Abs(r/5-1) > 3e-4 {
				t.Errorf("radius %g", r)
			}
			turns += math.Hypot(float64(p.X-last.X), float64(p.Y-last.Y)) / (10 * math.Pi)
			last = p
		}
		here = step.Pos
	}
	if math.Abs(turns-1) > 1e-3 {
		t.Errorf("the path goes %g times round", turns)
	}
}

// TestParabola checks that a quadratic curve keeps its points as a cubic one.
func TestParabola(t *testing.T) {
	var path vg.Path
	a, b, c := vg.Point{X: 1, Y: 1}, vg.Point{X: 4, Y: 9}, vg.Point{X: 8, Y: 2}
	path.Move(a)
	path.QuadTo(b, c)
	step := curves(path)[1]
	for k := range 11 {
		u := vg.Length(k) / 10
		v := 1 - u
		want := a.Scale(v * v).Add(b.Scale(2 * v * u)).Add(c.Scale(u * u))
		got := a.Scale(v * v * v).Add(step.Control[0].Scale(3 * v * v * u)).Add(step.Control[1].Scale(3 * v * u * u)).Add(step.Pos.Scale(u * u * u))
		if d := got.Sub(want); math.Hypot(float64(d.X), float64(d.Y)) > 1e-12 {
			t.Errorf("at %g: %v, want %v", float64(u), got, want)
		}
	}
}

// TestTransforms checks where turned, moved and scaled points come to lie.
func TestTransforms(t *testing.T) {
	s := newSheet(Page{Width: 100, Height: 50, Scale: 1})
	s.Push()
	s.Translate(vg.Point{X: 10, Y: 20})
	s.Rotate(math.Pi / 6)
	s.Rotate(math.Pi / 3)
	s.Scale(2, 3)
	// (1, 1) is scaled to (2, 3), turned to (-3, 2), moved to (7, 22): 28 from the top.
	if x, y := s.place(vg.Point{X: 1, Y: 1}); math.Abs(x-7) > 1e-12 || math.Abs(y-28) > 1e-12 {
		t.Errorf("placed at %g, %g", x, y)
	}
	s.Pop()
	if x, y := s.place(vg.Point{X: 1, Y: 1}); x != 1 || y != 49 {
		t.Errorf("after Pop at %g, %g", x, y)
	}
}
