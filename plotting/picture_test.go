package plotting

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"encoding/xml"
	"errors"
	"fmt"
	"image/color"
	"image/png"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
)

// TestEveryPicture draws every scenario in every format, between them in the sizes of a
// page, a phone and the smallest.
func TestEveryPicture(t *testing.T) {
	eachFigure(t, func(t *testing.T, _ scenario, _ *advise.Advice, _ string, f *Figure) {
		t.Parallel()
		for format, sizes := range map[*Format][]Size{
			PNG: {{600, 400}, {leastWidth, leastHeight}}, SVG: {{360, 420}}, PDF: {{leastWidth, 900}},
		} {
			for _, size := range sizes {
				picture(t, f, format, size)
			}
		}
	})
}

// TestTwiceAlike checks that a figure drawn twice gives the same bytes.
func TestTwiceAlike(t *testing.T) {
	f, again := ratioOf(t, "stops"), ratioOf(t, "stops")
	for _, format := range []*Format{PNG, SVG, PDF} {
		if !bytes.Equal(picture(t, f, format, DefaultSize), picture(t, again, format, DefaultSize)) {
			t.Errorf("%s differs", format.ending)
		}
	}
}

func ratioOf(t *testing.T, name string) *Figure {
	t.Helper()
	s := scenarios()[name]
	f, err := Ratio(s.advice(t), s.part, s.system)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func picture(t testing.TB, f *Figure, format *Format, size Size) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := f.Write(&out, format, size); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestPNG(t *testing.T) {
	f := ratioOf(t, "weekend")
	for _, size := range []Size{{600, 400}, DefaultSize, {1001, 777}, {leastWidth, leastHeight}} {
		img, err := png.Decode(bytes.NewReader(picture(t, f, PNG, size)))
		if err != nil {
			t.Fatal(err)
		}
		if b := img.Bounds(); b.Dx() != size.Width || b.Dy() != size.Height {
			t.Errorf("%v comes out as %v", size, b)
		}
		found := map[ink]int{}
		for y := range size.Height {
			for x := range size.Width {
				r, g, b, a := img.At(x, y).RGBA()
				if a != 0xffff {
					t.Fatalf("%v: %d,%d is clear", size, x, y)
				}
				found[newInk("", r>>8<<16|g>>8<<8|b>>8)]++
			}
		}
		for _, i := range []ink{paper, text, lane, first, second, danger, band} {
			i.Name = ""
			if found[i] == 0 {
				t.Errorf("%v: no pixel in the colour %v", size, i)
			}
		}
	}
}

// svgElement is one element of a picture.
type svgElement struct {
	name string
	attr map[string]string
	text string
}

// parseSVG reads a picture with the standard library's parser, which shares nothing with
// how it was written.
func parseSVG(t testing.TB, data []byte) []svgElement {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(data))
	var all []svgElement
	for {
		token, err := d.Token()
		if err == io.EOF {
			return all
		}
		if err != nil {
			t.Fatalf("not well formed: %v", err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			e := svgElement{name: token.Name.Local, attr: map[string]string{}}
			for _, a := range token.Attr {
				e.attr[a.Name.Local] = a.Value
			}
			all = append(all, e)
		case xml.CharData:
			if len(all) > 0 {
				all[len(all)-1].text += string(token)
			}
		case xml.ProcInst, xml.Directive:
			t.Errorf("%v does not belong inside a page", token)
		}
	}
}

func TestSVG(t *testing.T) {
	f := ratioOf(t, "weekend")
	elements := parseSVG(t, picture(t, f, SVG, Size{600, 400}))
	root := elements[0]
	if root.name != "svg" || root.attr["role"] != "img" || root.attr["width"] != "600" || root.attr["height"] != "400" {
		t.Errorf("root %+v", root)
	}
	if elements[1].name != "title" || strings.TrimSpace(elements[1].text) != f.Title {
		t.Errorf("title %+v", elements[1])
	}
	if elements[2].name != "desc" || !strings.Contains(elements[2].text, f.Numbers) {
		t.Errorf("description %+v", elements[2])
	}
	var texts []string
	class := regexp.MustCompile(`^plot-(fill|line)-[a-z]+$`)
	for _, e := range elements[3:] {
		if e.name != "path" && e.name != "text" {
			t.Errorf("element %q", e.name)
		}
		if !class.MatchString(e.attr["class"]) {
			t.Errorf("%s without a class: %v", e.name, e.attr)
		}
		for name := range e.attr {
			// A style attribute, or a script, would fall to a page's content policy; an id
			// would be that of the page's other figures too.
			if name == "style" || name == "href" || name == "id" || strings.HasPrefix(name, "on") {
				t.Errorf("attribute %q", name)
			}
		}
		if e.name == "text" {
			texts = append(texts, strings.TrimSpace(e.text))
			if e.attr["textLength"] == "" {
				t.Errorf("%q has no length", e.text)
			}
		}
	}
	want := []string{"limit 80 °C", f.Callouts[0].Lines[0], "now 17 teeth", "13", "21", "pinion", f.X.Label, f.Y.Label, "8 of 10 runs"}
	for _, w := range want {
		if !slices.Contains(texts, w) {
			t.Errorf("%q is not among the texts %q", w, texts)
		}
	}
}

// FuzzName draws cars of any name.
func FuzzName(f *testing.F) {
	for _, name := range []string{"heron", "", "</text><script>alert(1)</script>", "\x00\xff\u2028\ufffe", "]]>&amp;", strings.Repeat("鷺", 500)} {
		f.Add(name)
	}
	s := scenarios()["one-run"]
	a := s.advice(f)
	figure, err := Ratio(a, s.part, s.system)
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, name string) {
		named, car, drawn := *a, *a.Car, *figure
		named.Car, car.Name = &car, name
		drawn.Subtitle = answer{&named, s.system}.heading()
		for _, e := range parseSVG(t, picture(t, &drawn, SVG, Size{600, 400})) {
			if !slices.Contains([]string{"svg", "title", "desc", "path", "text"}, e.name) {
				t.Errorf("%q brought in the element %q", name, e.name)
			}
		}
		picture(t, &drawn, PDF, Size{600, 400})
		picture(t, &drawn, PNG, Size{leastWidth, leastHeight})
	})
}

// vertices returns the points of an SVG path.
func vertices(t testing.TB, d string) []XY {
	t.Helper()
	numbers := strings.FieldsFunc(d, func(r rune) bool { return strings.ContainsRune("MLCZ ", r) })
	all := make([]XY, len(numbers)/2)
	for i := range all {
		if _, err := fmt.Sscan(numbers[2*i]+" "+numbers[2*i+1], &all[i].X, &all[i].Y); err != nil {
			t.Fatalf("%q: %v", d, err)
		}
	}
	return all
}

// placing returns where a point of a figure lies in its SVG: across by the ends of the grid
// lines, which are those of the x axis, and up by what the y axis says of the lowest and the
// highest of them.
func placing(t testing.TB, f *Figure, elements []svgElement) func(XY) XY {
	t.Helper()
	var lines [][]XY
	var numbers []float64
	for _, e := range elements {
		line := vertices(t, e.attr["d"])
		if e.attr["class"] == "plot-line-grid" && line[0].Y == line[1].Y {
			lines = append(lines, line)
		}
		number, isNumber := strings.CutSuffix(strings.TrimSpace(e.text), " "+f.Y.Unit)
		if v, err := strconv.ParseFloat(number, 64); isNumber && err == nil && e.attr["class"] == "plot-fill-quiet" {
			numbers = append(numbers, v)
		}
	}
	last := len(lines) - 1
	if last < 1 || len(numbers) != len(lines) {
		t.Fatalf("%d grid lines for the numbers %v", len(lines), numbers)
	}
	left, right := lines[0][0].X, lines[0][1].X
	if f.X.Falling {
		left, right = right, left
	}
	return func(p XY) XY {
		across := (p.X - f.X.Low) / (f.X.High - f.X.Low)
		up := (p.Y - numbers[0]) / (numbers[last] - numbers[0])
		return XY{left + across*(right-left), lines[0][0].Y + up*(lines[last][0].Y-lines[0][0].Y)}
	}
}

// TestDrawnWhereTheSeriesSay checks that every number of a figure has its line, bar or dot in
// the SVG where the axes put it, and its colour there in the PNG. Bands and curves, which a
// label may hide, are looked up in the SVG alone.
func TestDrawnWhereTheSeriesSay(t *testing.T) {
	size := Size{600, 400} // a pixel for each unit of the layout
	s := scenarios()["weekend"]
	a := s.advice(t)
	for _, kind := range kinds {
		f, err := kind.draw(a, s.part, s.system)
		if err != nil {
			t.Fatal(err)
		}
		elements := parseSVG(t, picture(t, f, SVG, size))
		at := placing(t, f, elements)
		drawn := map[string][]XY{}
		for _, e := range elements {
			drawn[e.attr["class"]] = append(drawn[e.attr["class"]], vertices(t, e.attr["d"])...)
		}
		// hasPoint checks that a path of a class goes through a point that lies away from p.
		hasPoint := func(what, class string, i ink, p, away XY) {
			q := at(p)
			if p.Y >= f.Y.Low && p.Y <= f.Y.High && !slices.ContainsFunc(drawn["plot-"+class+"-"+i.Name], func(v XY) bool {
				return math.Abs(v.X-q.X-away.X) < 0.02 && math.Abs(v.Y-q.Y-away.Y) < 0.02
			}) {
				t.Errorf("%s: %s at %v is not drawn at %v", kind.name, what, p, q)
			}
		}
		pixels, err := png.Decode(bytes.NewReader(picture(t, f, PNG, size)))
		if err != nil {
			t.Fatal(err)
		}
		hasPixel := func(what string, i ink, p XY) {
			const (
				reach = 4  // the radius of a dot
				shade = 60 // of a channel: a line less than 2 pixels wide may fill none of them
			)
			like := func(a, b uint8) bool { return max(a, b)-min(a, b) <= shade }
			q := at(p)
			for y := int(q.Y) - reach; y <= int(q.Y)+reach; y++ {
				for x := int(q.X) - reach; x <= int(q.X)+reach; x++ {
					c := color.NRGBAModel.Convert(pixels.At(x, y)).(color.NRGBA)
					if like(c.R, i.R) && like(c.G, i.G) && like(c.B, i.B) {
						return
					}
				}
			}
			t.Errorf("%s: %s at %v left no pixel of %s about %v", kind.name, what, p, i.Name, q)
		}
		for _, b := range f.Bands {
			for _, r := range b.Over {
				hasPoint("band", "fill", band, XY{r.X, r.Low}, XY{})
				hasPoint("band", "fill", band, XY{r.X, r.High}, XY{})
			}
		}
		for _, c := range f.Curves {
			for _, p := range c.Points {
				hasPoint("curve", "line", c.Role.ink(), p, XY{})
			}
		}
		for _, c := range f.Callouts {
			for _, p := range []XY{{c.X, c.Low}, {c.X, c.High}} {
				hasPoint("callout", "line", c.Role.ink(), p, XY{})
				hasPixel("callout", c.Role.ink(), p)
			}
		}
		for _, l := range f.Levels {
			inside := 0.02 * (f.X.High - f.X.Low) // so that dots of a dotted line lie about it
			for _, end := range []struct{ x, inside float64 }{{f.X.Low, inside}, {f.X.High, -inside}} {
				hasPoint("level", "line", l.Role.ink(), XY{end.x, l.At}, XY{})
				hasPixel("level", l.Role.ink(), XY{end.x + end.inside, l.At})
			}
		}
		for _, l := range f.Moments {
			hasPixel("moment", l.Role.ink(), XY{l.At, f.Y.High})
		}
		for _, b := range f.Bars {
			i := map[BarKind]ink{OtherBar: bar, PickBar: first}[b.Kind]
			if b.Kind == BarredBar {
				continue
			}
			width := 0.68 * (at(XY{1, 0}).X - at(XY{0, 0}).X)
			for _, y := range []float64{0, b.Height} {
				hasPoint("bar", "fill", i, XY{b.X, y}, XY{X: width / 2})
			}
			if b.Height > 1 { // a lower one can't be seen
				hasPixel("bar", i, XY{b.X, b.Height / 2})
			}
		}
		const radius = 4
		rims := map[Role]XY{ESCPart: {radius, radius}, BatteryPart: {0, -radius - 0.5}}
		for _, p := range f.Points {
			rim, ok := rims[p.Role]
			if !ok {
				rim = XY{0, radius}
			}
			for _, q := range p.At {
				hasPoint(p.Name, "fill", p.Role.ink(), q, rim)
				hasPixel(p.Name, p.Role.ink(), q)
			}
		}
	}
}

// TestPDFDrawsWhatSVGDraws compares the points of all paths, and the texts with their places,
// of a PDF with those of the SVG of the same figure.
func TestPDFDrawsWhatSVGDraws(t *testing.T) {
	size := Size{600, 400}
	step := regexp.MustCompile(`(?s)BT (\S+) (\S+) Td \((.*?)\) Tj ET|([-0-9. ]+) [mlc]\n`)
	known := func(r rune) rune { // the fonts have no Chinese and no flags
		if r >= '⺀' {
			return '?'
		}
		return r
	}
	plain := strings.NewReplacer(`\\`, `\`, `\(`, `(`, `\)`, `)`, `\r`, "\r")
	eachFigure(t, func(t *testing.T, _ scenario, _ *advise.Advice, _ string, f *Figure) {
		_, content, _ := bytes.Cut(picture(t, f, PDF, size), []byte("stream\n"))
		unpacked, err := zlib.NewReader(bytes.NewReader(content))
		if err != nil {
			t.Fatal(err)
		}
		page, err := io.ReadAll(unpacked)
		if err != nil {
			t.Fatal(err)
		}
		var points []XY
		var texts []string
		for _, m := range step.FindAllSubmatch(page, -1) {
			at := string(m[4])
			if at == "" {
				at = string(m[1]) + " " + string(m[2])
				code := []byte(plain.Replace(string(m[3])))
				letters := make([]uint16, len(code)/2)
				for i := range letters {
					letters[i] = binary.BigEndian.Uint16(code[2*i:])
				}
				texts = append(texts, string(utf16.Decode(letters)))
			}
			points = append(points, vertices(t, at)...)
		}
		k := 0
		for _, e := range parseSVG(t, picture(t, f, SVG, size))[4:] { // after title, description and paper
			at := e.attr["d"]
			if e.name == "text" {
				at = e.attr["x"] + " " + e.attr["y"]
				if want := strings.Map(known, strings.TrimSpace(e.text)); len(texts) == 0 || texts[0] != want {
					t.Fatalf("the SVG says %q, the PDF %q", want, texts)
				}
				texts = texts[1:]
			}
			for _, want := range vertices(t, at) {
				if k == len(points) {
					t.Fatalf("the PDF ends after %d points", k)
				}
				// Both are rounded to a hundredth; a PDF counts up from the bottom.
				if got := points[k]; math.Abs(got.X-want.X) > 0.0101 || math.Abs(float64(size.Height)-got.Y-want.Y) > 0.0101 {
					t.Fatalf("point %d: %v in the PDF, %v in the SVG", k, got, want)
				}
				k++
			}
		}
		if k != len(points) || len(texts) > 0 {
			t.Errorf("the PDF has %d more points and the texts %q", len(points)-k, texts)
		}
	})
}

func TestPDF(t *testing.T) {
	got := picture(t, ratioOf(t, "weekend"), PDF, Size{600, 400})
	if !bytes.HasPrefix(got, []byte("%PDF-1.")) || !bytes.HasSuffix(bytes.TrimSpace(got), []byte("%%EOF")) {
		t.Error("no PDF")
	}
	if n := bytes.Count(got, []byte("/FontFile2")); n != 2 {
		t.Errorf("%d embedded fonts, want a regular and a bold one", n)
	}
	if !bytes.Contains(got, []byte("/MediaBox [0 0 600.00 400.00]")) {
		t.Error("the page does not have the asked size")
	}
}

// TestLongLogStaysSmall checks that a long log does not make a large SVG.
func TestLongLogStaysSmall(t *testing.T) {
	if size := len(picture(t, ratioOf(t, "long"), SVG, DefaultSize)); size > 300_000 {
		t.Errorf("%d bytes", size)
	}
}

// TestHindsight checks that every replayed reading shows, on the right side of its range,
// and that the counts below the frame are those of the readings.
func TestHindsight(t *testing.T) {
	log := scenario{many: 20}.log()
	log[8].Peak.Set(run.Motor, 150) // one that no forecast holds
	h, err := analyze.LookBack(log, analyze.Limits{}.With(run.Motor, 80))
	if err != nil {
		t.Fatal(err)
	}
	for _, system := range []units.System{units.Metric, units.US} {
		f, err := Hindsight(h, system)
		if err != nil {
			t.Fatal(err)
		}
		ranges := map[float64]Curve{}
		for _, c := range f.Curves {
			if c.Role != Limit {
				ranges[c.Points[0].X] = c
			}
		}
		seen := map[Role]int{}
		for _, p := range f.Points {
			for _, q := range p.At {
				seen[p.Role]++
				r := ranges[q.X].Points
				if inside := r[0].Y <= q.Y && q.Y <= r[1].Y; inside != (p.Role == Measured) {
					t.Errorf("%s: %g, expected from %g to %g", p.Name, q.Y, r[0].Y, r[1].Y)
				}
			}
		}
		held, replays := 0, 0
		for _, p := range h.Parts {
			held += p.Held
			replays += len(p.Replays)
		}
		if seen[Measured] != held || seen[Missed] != replays-held || seen[Missed] == 0 || len(ranges) != replays {
			t.Errorf("%v and %d ranges are drawn, of %d replays %d held", seen, len(f.Curves), replays, held)
		}
		if want := map[units.System]string{units.Metric: "80 °C", units.US: "176 °F"}[system]; f.Marks[0].Texts[2] != want || !strings.Contains(f.Numbers, want) {
			t.Errorf("the motor's limit is %q and %q, want %s", f.Marks[0].Texts[2], f.Numbers, want)
		}
		// The first run has no earlier one; the second was on 2 May and the last on the 20th.
		if !strings.HasPrefix(f.Title, "heron: ") || !strings.Contains(f.Subtitle, "from 2026-05-02 to 2026-05-20") {
			t.Errorf("neither car nor dates: %q, %q", f.Title, f.Subtitle)
		}
		drawn := slices.DeleteFunc(slices.Clone(f.Curves), func(c Curve) bool { return c.Role != Limit })
		if want := system.Temperature(80); len(drawn) != 1 || drawn[0].Points[0].Y != want || drawn[0].Points[1].Y != want || f.Y.High <= want {
			t.Errorf("the limit is drawn as %+v in a frame up to %g", drawn, f.Y.High)
		}
		if len(f.Marks) != len(h.Parts) {
			t.Errorf("%d marks for %d parts", len(f.Marks), len(h.Parts))
		}
		for _, format := range []*Format{PNG, SVG, PDF} {
			picture(t, f, format, Size{600, 400})
		}
	}
	if _, err := Hindsight(&analyze.Hindsight{}, units.Metric); !errors.Is(err, ErrNothingReplayed) {
		t.Errorf("an empty hindsight: %v", err)
	}
}

// box is the smallest rectangle around points.
func box(points []XY) (low, high XY) {
	low, high = points[0], points[0]
	for _, p := range points {
		low, high = XY{min(low.X, p.X), min(low.Y, p.Y)}, XY{max(high.X, p.X), max(high.Y, p.Y)}
	}
	return low, high
}

// TestPartsStandApart checks that no part's dot of a chance hides another's, on a page and on a
// phone.
func TestPartsStandApart(t *testing.T) {
	eachFigure(t, func(t *testing.T, _ scenario, _ *advise.Advice, kind string, f *Figure) {
		if kind != "chance" {
			return
		}
		for _, size := range []Size{{600, 400}, {320, 420}} {
			elements := parseSVG(t, picture(t, f, SVG, size))
			at := placing(t, f, elements)
			type dot struct {
				name      string
				low, high XY
			}
			var dots []dot
			for _, p := range f.Points {
				for _, q := range p.At {
					for _, e := range elements {
						if e.attr["class"] != "plot-fill-"+p.Role.ink().Name || e.name != "path" {
							continue
						}
						low, high := box(vertices(t, e.attr["d"]))
						if centre := at(q); high.X-low.X < 12 && math.Abs(low.X+high.X-2*centre.X) < 0.05 && low.Y < centre.Y && centre.Y < high.Y {
							dots = append(dots, dot{fmt.Sprint(p.Name, " at ", q), low, high})
						}
					}
				}
			}
			if len(dots) != len(f.Points)*len(f.Bars) {
				t.Fatalf("%v: found %d dots of %d parts of %d candidates", size, len(dots), len(f.Points), len(f.Bars))
			}
			for i, a := range dots {
				for _, b := range dots[:i] {
					if min(a.high.X, b.high.X)-max(a.low.X, b.low.X) > 0.02 && min(a.high.Y, b.high.Y)-max(a.low.Y, b.low.Y) > 0.02 {
						t.Errorf("%v: %s and %s lie on each other", size, a.name, b.name)
					}
				}
			}
		}
	})
}

// TestEveryMarkIsWritten checks that the lane names every candidate, and gives every chance, on a
// page and on a phone. A phone has no room for 41 pinions, and no picture for as many on a
// falling axis.
func TestEveryMarkIsWritten(t *testing.T) {
	eachFigure(t, func(t *testing.T, s scenario, _ *advise.Advice, kind string, f *Figure) {
		for _, size := range []Size{DefaultSize, {600, 400}, {320, 420}} {
			if len(s.pinions) > 20 && (kind != "chance" || size.Width < 600) {
				continue
			}
			written := map[string]int{}
			for _, e := range parseSVG(t, picture(t, f, SVG, size)) {
				written[strings.TrimSpace(e.text)]++
			}
			wanted := map[string]int{}
			for _, m := range f.Marks {
				for _, text := range m.Texts {
					wanted[text]++
				}
			}
			delete(wanted, "")
			for text, n := range wanted {
				if written[text] < n {
					t.Errorf("%v: %q is written %d times, for %d marks", size, text, written[text], n)
				}
			}
		}
	})
}

// TestCutsAreMarked checks that a band which leaves the frame has a cut there, with an arrow at
// the edge, and that there is a cut nowhere else.
func TestCutsAreMarked(t *testing.T) {
	cuts := 0
	eachFigure(t, func(t *testing.T, _ scenario, _ *advise.Advice, _ string, f *Figure) {
		marked := func(x, edge float64) bool {
			return slices.ContainsFunc(f.Cuts, func(c Cut) bool {
				return c.Edge == edge && min(c.From, c.To) <= x && x <= max(c.From, c.To)
			})
		}
		for _, b := range f.Bands {
			for _, r := range b.Over {
				if above := r.High > f.Y.High; above != marked(r.X, f.Y.High) {
					t.Errorf("at %g the band goes to %g in a frame to %g: marked %v", r.X, r.High, f.Y.High, !above)
				}
				if below := r.Low < f.Y.Low; below != marked(r.X, f.Y.Low) {
					t.Errorf("at %g the band goes to %g in a frame from %g: marked %v", r.X, r.Low, f.Y.Low, !below)
				}
			}
		}
		if len(f.Cuts) == 0 {
			return
		}
		elements := parseSVG(t, picture(t, f, SVG, DefaultSize))
		at := placing(t, f, elements)
		for _, c := range f.Cuts {
			cuts++
			edge := at(XY{c.From, c.Edge}).Y
			if !slices.ContainsFunc(elements, func(e svgElement) bool {
				if e.attr["class"] != "plot-fill-first" || e.name != "path" {
					return false
				}
				points := vertices(t, e.attr["d"])
				low, high := box(points)
				left, right := at(XY{c.From, 0}).X, at(XY{c.To, 0}).X
				return len(points) == 3 && math.Abs(points[0].Y-edge) < 0.02 && high.Y-low.Y > 5 &&
					points[0].X >= min(left, right) && points[0].X <= max(left, right)
			}) {
				t.Errorf("no arrow leads out of the frame at %+v", c)
			}
		}
	})
	if cuts == 0 {
		t.Error("no frame cuts a band off")
	}
}
