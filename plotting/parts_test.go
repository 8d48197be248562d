package plotting

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
)

func TestTicks(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		low := (r.Float64() - 0.3) * math.Pow(10, float64(r.IntN(6)-2))
		high := low + math.Pow(10, 5*r.Float64()-2)
		most := 2 + r.IntN(9)
		all := ticks{most, "mm"}.Ticks(low, high)
		if len(all) > most+1 || len(all) < 1 && high-low > 0 && most > 4 {
			t.Errorf("%d ticks from %g to %g, wanted at most %d steps", len(all), low, high, most)
		}
		for _, tick := range all {
			if tick.Value < low-1e-6*(high-low) || tick.Value > high+1e-6*(high-low) {
				t.Errorf("tick %g outside %g to %g", tick.Value, low, high)
			}
			number := strings.TrimSuffix(tick.Label, " mm")
			v, err := strconv.ParseFloat(number, 64)
			if err != nil || math.Abs(v-tick.Value) > 1e-9*math.Max(1, math.Abs(v)) {
				t.Errorf("tick %g is labelled %q", tick.Value, tick.Label)
			}
			if v == 0 && strings.HasPrefix(number, "-") {
				t.Errorf("zero is labelled %q", tick.Label)
			}
		}
	}
	// Round numbers, with no more decimals than the step has.
	for _, c := range []struct {
		low, high float64
		most      int
		want      string
	}{
		{58, 103, 5, "60 70 80 90 100"},
		{8, 13.2, 6, "8 9 10 11 12 13"},
		{9.4, 11, 8, "9.4 9.6 9.8 10.0 10.2 10.4 10.6 10.8 11.0"},
		{0, 1, 5, "0.0 0.2 0.4 0.6 0.8 1.0"},
		{-12, 12, 4, "-10 0 10"},
		{1200, 5200, 4, "2000 3000 4000 5000"},
	} {
		var got []string
		for _, tick := range (ticks{most: c.most}).Ticks(c.low, c.high) {
			got = append(got, tick.Label)
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("from %g to %g: %s, want %s", c.low, c.high, s, c.want)
		}
	}
}

func TestThin(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	x, y := Axis{Low: 5, High: 15}, Axis{Low: 40, High: 120}
	all := make([]XY, 300_000)
	for i := range all {
		all[i] = XY{5 + 10*r.Float64(), 80 + 8*r.NormFloat64()}
	}
	// Far above, and the higher one behind another that takes its cell.
	all[1234], all[4321] = XY{9.5, 119}, XY{9.5, 119.2}
	for _, most := range []int{mostPlain, mostStopped, mostBeyond} {
		some := thin(all, x, y, most)
		if len(some) > most || len(some) < most/5 {
			t.Errorf("%d points of at most %d", len(some), most)
		}
		if !slices.Equal(some, thin(all, x, y, most)) {
			t.Error("the same points give another choice")
		}
		if !slices.Contains(some, all[4321]) {
			t.Error("the extreme is gone")
		}
		lowest := func(p []XY) float64 {
			return slices.MinFunc(p, func(a, b XY) int { return int(math.Copysign(1, a.Y-b.Y)) }).Y
		}
		if lowest(some) != lowest(all) {
			t.Errorf("lowest %g, of all %g", lowest(some), lowest(all))
		}
		// A subset in the same order.
		k := 0
		for _, p := range all {
			if k < len(some) && some[k] == p {
				k++
			}
		}
		if k != len(some) {
			t.Errorf("only the first %d are of the points, in their order", k)
		}
	}
	few := all[:50]
	if !slices.Equal(thin(few, x, y, mostPlain), few) {
		t.Error("a short log lost points")
	}
}

func TestWrap(t *testing.T) {
	l := lettering{size: 13}
	s := "heron, next run: 12 min, air 30 °C, tires 118 mm. Chance under every limit: 91 %, wanted 80 %. aVeryLongNameThatNoLineCanHoldAtAllButThatMustNotBeCut"
	for width := vg.Length(60); width < 700; width += 10 {
		for name, lines := range map[string][]string{"wrap": l.wrap(s, width), "balance": l.balance(s, width)} {
			if got := strings.Join(lines, " "); got != s {
				t.Fatalf("%s at %g: %q", name, float64(width), got)
			}
			for _, line := range lines {
				if l.width(line) > width && len(words(line)) > 1 {
					t.Errorf("%s at %g: %q is too long", name, float64(width), line)
				}
				if strings.HasPrefix(line, "°") || strings.HasPrefix(line, "%") || strings.HasPrefix(line, "mm") {
					t.Errorf("%s at %g: a number lost its unit to %q", name, float64(width), line)
				}
			}
		}
		if a, b := len(l.wrap(s, width)), len(l.balance(s, width)); a != b {
			t.Errorf("at %g: %d lines, balanced %d", float64(width), a, b)
		}
	}
	if lines := l.wrap("", 100); len(lines) != 0 {
		t.Errorf("an empty text has lines %q", lines)
	}
}

func TestPlacer(t *testing.T) {
	at := func(x, y vg.Length) vg.Point { return vg.Point{X: x, Y: y} }
	p := placer{frame: vg.Rectangle{Max: at(100, 100)}}
	p.take(vg.Rectangle{Min: at(0, 0), Max: at(50, 100)}, areaWeight)
	size := at(20, 10)
	corners := []vg.Point{at(10, 10), at(95, 20), at(60, 60)}
	if r := p.place(size, corners); r.Min != at(80, 20) {
		t.Errorf("placed at %v, not moved into the free part of the frame", r.Min)
	}
	if r := p.place(size, corners); r.Min != at(60, 60) {
		t.Errorf("placed at %v, over the label before", r.Min)
	}
	if r := p.place(size, corners[:1]); r.Min != at(10, 10) {
		t.Errorf("placed at %v though there is one place only", r.Min)
	}
}
