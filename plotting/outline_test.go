package plotting

import (
	"bytes"
	"image"
	"image/png"
	"math"
	"math/rand/v2"
	"regear/analyze/units"
	"testing"

	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// area returns what an outline covers, in pixels.
func area(o outline) float64 {
	c := newCoverage(Size{200, 160})
	total := 0.0
	c.each(o, func(_, _ int, covered []float32) {
		for _, share := range covered {
			total += float64(share)
		}
	})
	return total
}

// TestCoverageOfTriangles checks covered areas against the formula for a triangle.
func TestCoverageOfTriangles(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	point := func() spot { return spot{200 * r.Float64(), 160 * r.Float64()} }
	for range 500 {
		a, b, c := point(), point(), point()
		want := math.Abs((b.x-a.x)*(c.y-a.y)-(c.x-a.x)*(b.y-a.y)) / 2
		var o outline
		o.polygon([]spot{a, b, c})
		if got := area(o); math.Abs(got-want) > 1e-3*max(1, want) {
			t.Errorf("%v %v %v covers %g, not %g", a, b, c, got, want)
		}
	}
}

// TestCoverageOutside checks that what lies beside the picture covers nothing, and what
// reaches into it only its part inside.
func TestCoverageOutside(t *testing.T) {
	for _, c := range []struct {
		x0, y0, x1, y1, want float64
	}{
		{-50, -50, -10, -10, 0}, {300, 10, 400, 50, 0}, {10, 300, 50, 400, 0},
		{-50, -50, 20, 30, 600}, {190, 150, 900, 900, 100}, {-9, -9, 900, 900, 200 * 160},
	} {
		var o outline
		o.polygon([]spot{{c.x0, c.y0}, {c.x1, c.y0}, {c.x1, c.y1}, {c.x0, c.y1}})
		if got := area(o); math.Abs(got-c.want) > 1e-6*max(1, c.want) {
			t.Errorf("%+v covers %g", c, got)
		}
	}
}

// TestHoles checks that what runs the other way round cuts a hole, and what runs the
// same way twice covers once.
func TestHoles(t *testing.T) {
	square := []spot{{20, 20}, {120, 20}, {120, 120}, {20, 120}}
	inner := []spot{{40, 40}, {40, 80}, {80, 80}, {80, 40}}
	var ring, twice outline
	ring.polygon(square)
	ring.polygon(inner)
	twice.polygon(square)
	twice.polygon(square)
	if got := area(ring); math.Abs(got-8400) > 1e-2 {
		t.Errorf("the ring covers %g, not 8400", got)
	}
	if got := area(twice); math.Abs(got-10000) > 1e-2 {
		t.Errorf("the square covers %g, not 10000", got)
	}
}

// TestStroke checks the area of strokes: length times width, with pointed corners.
func TestStroke(t *testing.T) {
	circle := track{closed: true}
	for k := range 200 {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / 200)
		circle.add(spot{100 + 50*cos, 80 + 50*sin})
	}
	for name, c := range map[string]struct {
		track track
		want  float64
	}{
		"line":      {track{points: []spot{{10.3, 20.2}, {90.7, 77.7}}}, 4 * math.Hypot(80.4, 57.5)},
		"corner":    {track{points: []spot{{10, 20}, {90, 20}, {90, 100}}}, 4 * 160},
		"rectangle": {track{points: []spot{{20, 20}, {100, 20}, {100, 60}, {20, 60}}, closed: true}, 4 * 240},
		"circle":    {circle, 2 * math.Pi * 50 * 4},
	} {
		var o outline
		o.stroke(c.track, 2)
		if got := area(o); math.Abs(got-c.want) > 2e-3*c.want {
			t.Errorf("%s covers %g, not %g", name, got, c.want)
		}
	}
}

// TestDash checks where dashes begin and end along a corner.
func TestDash(t *testing.T) {
	corner := track{points: []spot{{0, 0}, {10, 0}, {10, 10}}}
	dashes := corner.dash([]float64{4, 2}, 1)
	want := [][]spot{{{0, 0}, {3, 0}}, {{5, 0}, {9, 0}}, {{10, 1}, {10, 5}}, {{10, 7}, {10, 10}}}
	if len(dashes) != len(want) {
		t.Fatalf("%d dashes: %v", len(dashes), dashes)
	}
	for i, d := range dashes {
		first, last := d.points[0], d.points[len(d.points)-1]
		if first.minus(want[i][0]).length() > 1e-9 || last.minus(want[i][1]).length() > 1e-9 {
			t.Errorf("dash %d from %v to %v, want %v", i, first, last, want[i])
		}
	}
	round := track{points: []spot{{0, 0}, {10, 0}, {10, 10}, {0, 10}}, closed: true}
	drawn := 0.0
	for _, d := range round.dash([]float64{3, 1}, 0) {
		for k := 1; k < len(d.points); k++ {
			drawn += d.points[k].minus(d.points[k-1]).length()
		}
	}
	if math.Abs(drawn-30) > 1e-9 {
		t.Errorf("%g of the 40 around are drawn, want 30", drawn)
	}
	if whole := corner.dash(nil, 0); len(whole) != 1 || len(whole[0].points) != 3 {
		t.Errorf("without a pattern: %v", whole)
	}
}

// TestShades checks that a full palette gives the nearest colour, and that inks stay.
func TestShades(t *testing.T) {
	s := newShades(Size{leastWidth, leastHeight})
	for k := range 400 {
		s.of(newInk("", uint32(k*40503)&0xFFFFFF))
	}
	if n := len(s.picture.Palette); n != mostShades {
		t.Fatalf("%d colours", n)
	}
	for _, i := range inks {
		if got := s.picture.Palette[s.of(i)]; got != s.picture.Palette[s.picture.Palette.Index(i)] {
			t.Errorf("%s became %v", i.name, got)
		}
	}
	under, over := s.of(paper), s.of(text)
	row := []uint8{under, under, under}
	s.lay(over, row, []float32{0, 1, 0.5})
	if row[0] != under || row[1] != over || row[2] == under || row[2] == over {
		t.Errorf("covered not at all, wholly and by half: %v, from %d and %d", row, under, over)
	}
}

// TestPixels compares a picture with gonum's own drawing of the same figure, in blocks of
// a few pixels: it sets letters on whole pixels, and ours stand where they were laid out.
func TestPixels(t *testing.T) {
	const block = 10
	size := Size{600, 400}
	for _, f := range []*Figure{ratioOf(t, "weekend"), ratioOf(t, "stops"), Chance(scenarios()["weekend"].advice(t), units.Metric)} {
		ours, err := png.Decode(bytes.NewReader(picture(t, f, PNG, size)))
		if err != nil {
			t.Fatal(err)
		}
		c := vgimg.NewWith(vgimg.UseWH(600, 400), vgimg.UseDPI(72))
		f.Draw(draw.New(c))
		worst := 0.0
		for y := 0; y < size.Height; y += block {
			for x := 0; x < size.Width; x += block {
				at := image.Rect(x, y, x+block, y+block)
				worst = max(worst, math.Abs(brightness(ours, at)-brightness(c.Image(), at)))
			}
		}
		// A stroke of a letter that moves half a pixel over the rim of a block is about 15.
		if worst > 15 {
			t.Errorf("%q: a block differs by %.1f of 255", f.Title, worst)
		}
	}
}

// brightness returns the mean brightness within r, of 255.
func brightness(i image.Image, r image.Rectangle) float64 {
	sum := 0.0
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			red, green, blue, _ := i.At(x, y).RGBA()
			sum += float64(red+green+blue) / 3 / 257
		}
	}
	return sum / float64(r.Dx()*r.Dy())
}
