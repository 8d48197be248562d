package plotting

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"

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
		for format, sizes := range map[Format][]Size{
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
	for _, format := range []Format{PNG, SVG, PDF} {
		if !bytes.Equal(picture(t, f, format, DefaultSize), picture(t, again, format, DefaultSize)) {
			t.Errorf("%s differs", format)
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

func picture(t testing.TB, f *Figure, format Format, size Size) []byte {
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
			ranges[c.Points[0].X] = c
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
		if seen[Measured] != held || seen[Missed] != replays-held || seen[Missed] == 0 || len(f.Curves) != replays {
			t.Errorf("%v and %d ranges are drawn, of %d replays %d held", seen, len(f.Curves), replays, held)
		}
		if len(f.Marks) != len(h.Parts) {
			t.Errorf("%d marks for %d parts", len(f.Marks), len(h.Parts))
		}
		for _, format := range []Format{PNG, SVG, PDF} {
			picture(t, f, format, Size{600, 400})
		}
	}
	if _, err := Hindsight(&analyze.Hindsight{}, units.Metric); !errors.Is(err, ErrNothingReplayed) {
		t.Errorf("an empty hindsight: %v", err)
	}
}
