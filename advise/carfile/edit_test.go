package carfile

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2/unstable"

	"regear/analyze/run"
	"regear/analyze/units"
)

// layouts are ways to write down one invented car among others, as TOML allows.
var layouts = map[string]string{
	"as drafted": Heading(units.US) + Draft{Name: "heron", Internal: "2.5", Pinions: []int{13, 15}, Motor: "80C", MotorWhose: "mine"}.Text() +
		"\n" + Draft{Name: "gull", Cells: "2", LeastTeeth: "70", MostTeeth: "80"}.Text(),
	"by hand": "# all my cars\n\n[cars.heron] # the old one\n  pinions = [13, 15] # steel\n\tspurs=[68]\nmotor_kv = 2_200\n# cells = 3\n\n[cars.heron.limits]\n" +
		"motor = '176F' # read twice\nmotor_whose = \"\"\"the\nsheet\"\"\"\n\n# The gull\n[cars.gull]\ncells = 2\n",
	"lists over lines": "[cars.heron]\npinions = [\n  13, # steel\n  15,\n]\nspurs = [\n 68,\n 72\n]\ncells=4\n[cars.heron.mount] # a slot\nleast_teeth = 80 # sure?\nmost_teeth = 90\n" +
		"[[cars.heron.other_gears]]\npitch = \"48 dp\"\npinions = [20] # brass\nspurs = [90]\n",
	"dotted":      "cars.gull.cells = 2\ncars.heron.cells = 4\ncars.heron.limits.motor = \"80C\" # mine\ncars.heron.tires.\"big one\" = \"118mm\"\nunits = \"us\"\n",
	"half dotted": "[cars]\nheron.cells = 4\nheron.limits.motor = \"80C\"\n[cars.gull]\nlimits.esc = \"70C\"\n",
	"inline":      "[cars]\nheron = {cells = 4, limits = {motor = \"80C\", motor_whose = \"mine\"}, tires = { big = \"118mm\" }, mount = {least_teeth = 80, most_teeth = 90}} # all\n",
	"in a line":   "[cars.heron]\ntires = {big = \"118mm\", small = '104mm'}\nlimits = {motor = \"80C\"} # mine\n",
	"no end":      "[cars.heron]\ncells = 4",
	"other order": "[cars.heron.limits]\nesc = \"70C\"\n[cars.gull.limits]\nmotor = \"75C\"\n[cars.heron]\ncells = 4\n",
	"by travel":   "[cars.heron]\npitch = \"module 0.8\"\n[cars.heron.mount]\nknown_pinion = 17\nknown_spur = 68 # as bought\ncloser = \"2mm\"\nfarther = \"3mm\"\n",
	"any case":    "[Cars.heron]\nCells = 4\nPINIONS = [13]\n[cars.gull]\ncells = 2\n[Cars.heron.Limits]\nMotor = \"80C\" # mine\n",
	"a mark":      "\xef\xbb\xbf[cars.heron]\r\ncells = 4 # LiPo\r\n\r\n[cars.heron.tires]\r\nbig = \"118mm\"\r\n",
}

// anyDraft is a car that differs from another in some of what can differ.
func anyDraft(d Draft, luck *rand.Rand) Draft {
	pick := func(at *string, of ...string) {
		if luck.IntN(2) == 0 {
			*at = of[luck.IntN(len(of))]
		}
	}
	pickList := func(at *[]int, of ...[]int) {
		if luck.IntN(2) == 0 {
			*at = of[luck.IntN(len(of))]
		}
	}
	pick(&d.Internal, "", "2.6", "3")
	pick(&d.KV, "", "2000", "3500.5")
	pick(&d.Cells, "", "2", "3")
	pick(&d.Pitch, "", "48 dp", "module 0.8")
	pickList(&d.Pinions, nil, []int{13}, []int{13, 15, 17}, []int{9, 10, 11})
	pickList(&d.Spurs, nil, []int{72}, []int{68, 72})
	pick(&d.MotorWhose, "", "the maker's sheet", `"quoted" \ odd`)
	pick(&d.ESCWhose, "", "own choice")
	pick(&d.BatteryWhose, "", "the cell's sheet")
	for _, l := range []struct{ limit, whose *string }{{&d.Motor, &d.MotorWhose}, {&d.ESC, &d.ESCWhose}, {&d.Battery, &d.BatteryWhose}} {
		if pick(l.limit, "", "75C", "160F"); *l.limit == "" {
			*l.whose = ""
		}
	}
	if luck.IntN(2) == 0 {
		d.LeastTeeth, d.MostTeeth = "", ""
		if luck.IntN(2) == 0 {
			d.LeastTeeth, d.MostTeeth = "81", "92"
		}
	}
	tires := map[string]string{}
	for i, name := range d.TireNames {
		if luck.IntN(3) > 0 {
			tires[name] = d.TireSizes[i]
			at := tires[name]
			pick(&at, "4.1in", "99mm")
			tires[name] = at
		}
	}
	for _, name := range []string{"small", "worn 2", "löffler"} {
		if luck.IntN(4) == 0 {
			tires[name] = "101.5mm"
		}
	}
	d.TireNames, d.TireSizes = nil, nil
	for _, name := range slices.Sorted(maps.Keys(tires)) {
		d.TireNames, d.TireSizes = append(d.TireNames, name), append(d.TireSizes, tires[name])
	}
	return d
}

// remarks returns the remarks of a document, but for those that show how a key is written.
func remarks(t *testing.T, text []byte) []string {
	t.Helper()
	var all []string
	for _, line := range strings.Split(string(text), "\n") {
		if at := strings.Index(line, "#"); at >= 0 { // no text or name of these tests has one
			all = append(all, strings.TrimSpace(line[at:]))
		}
	}
	return all
}

func isExample(remark string) bool {
	shown := strings.TrimPrefix(remark, "# ")
	return strings.HasPrefix(shown, "[cars.") || slices.Contains(slices.Collect(maps.Values(examples)), shown)
}

// Whatever is changed in whatever layout: the file says what is wanted, of other cars and of keys
// that no draft holds what it said, and every remark and every line of what did not change is
// still there, to the byte and in its order.
func TestEditChangesWhatDiffersAndNothingElse(t *testing.T) {
	for name, layout := range layouts {
		t.Run(name, func(t *testing.T) {
			luck := rand.New(rand.NewPCG(1, 2))
			text := []byte(layout)
			edits := 0
			for range 200 {
				before, err := Read("cars.toml", bytes.NewReader(text))
				if err != nil {
					t.Fatal(err)
				}
				from := before.Draft("heron")
				if same, err := Edit("cars.toml", text, from); err != nil || !bytes.Equal(same, text) {
					t.Fatalf("nothing was to change in\n%s\nand now it is\n%s\n%v", text, same, err)
				}
				if edits%5 == 0 {
					text = []byte(layout) // afresh
					before, _ = Read("cars.toml", bytes.NewReader(text))
					from = before.Draft("heron")
				}
				to := anyDraft(from, luck)
				edits++
				after, err := Edit("cars.toml", text, to)
				if err != nil {
					hasNoPitch := name == "by travel" && to.Pitch == ""
					if !hasNoPitch && name != "inline" && name != "half dotted" && name != "in a line" {
						t.Fatalf("%v in\n%s", err, text)
					}
					continue // refused in words, and nothing changed
				}
				got, err := Read("cars.toml", bytes.NewReader(after))
				if err != nil {
					t.Fatal(err)
				}
				if now := got.Draft("heron"); !sameDraft(now, to) {
					t.Fatalf("the file says\n%+v\nwanted is\n%+v\nof\n%s\nit became\n%s", now, to, text, after)
				}
				if !reflect.DeepEqual(got.tables["gull"], before.tables["gull"]) || !reflect.DeepEqual(got.Units, before.Units) ||
					!reflect.DeepEqual(got.tables["heron"].OtherGears, before.tables["heron"].OtherGears) {
					t.Fatalf("more has changed of\n%s\nit became\n%s", text, after)
				}
				now := remarks(t, after)
				for _, r := range remarks(t, text) {
					if !isExample(r) && !slices.ContainsFunc(now, func(n string) bool { return strings.Contains(n, r) }) {
						t.Fatalf("the remark %q is gone from\n%s\nit became\n%s", r, text, after)
					}
				}
				keepsLines(t, text, after, from, to)
				text = after
			}
		})
	}
}

func sameDraft(a, b Draft) bool {
	return len(changes(a, b)) == 0
}

// keepsLines checks that the lines of what did not change stand in the new text as they stood, in
// their order.
func keepsLines(t *testing.T, before, after []byte, from, to Draft) {
	t.Helper()
	touched := map[string]bool{}
	for _, c := range changes(from, to) {
		touched[fmt.Sprintf("%q", append([]string{"cars", "heron"}, c.key...))] = true
	}
	mark := bytes.TrimPrefix(before, byteOrderMark)
	changed := map[int]bool{} // by where the line begins
	for _, p := range placesIn(mark) {
		path := strings.ToLower(fmt.Sprintf("%q", p.path))
		isChanged := touched[path]
		for key := range touched { // an inline table changes with what it holds
			isChanged = isChanged || p.kind == unstable.KeyValue && strings.HasPrefix(key, strings.TrimSuffix(path, "]"))
		}
		if isChanged {
			for at := lineStart(mark, p.start); at < p.end; at = lineEnd(mark, at) {
				changed[at] = true
			}
		}
	}
	rest := bytes.TrimPrefix(after, byteOrderMark)
	for at := 0; at < len(mark); at = lineEnd(mark, at) {
		line := mark[at:lineEnd(mark, at)]
		if changed[at] || len(bytes.TrimSpace(line)) == 0 || isExample(strings.TrimSpace(string(line))) {
			continue
		}
		found := bytes.Index(rest, line)
		if found < 0 {
			t.Fatalf("the line %q is gone, or elsewhere. Of\n%s\nit became\n%s", line, before, after)
		}
		rest = rest[found+len(line):]
	}
	if bytes.HasPrefix(before, byteOrderMark) != bytes.HasPrefix(after, byteOrderMark) {
		t.Fatal("the byte order mark did not stay")
	}
	if n := bytes.Count(before, []byte("\r\n")); n > 0 && bytes.Count(after, []byte("\n")) != bytes.Count(after, []byte("\r\n")) {
		t.Fatalf("line ends are mixed now: %q", after)
	}
}

// What is set stands where a reader looks for it.
func TestEditedText(t *testing.T) {
	for _, c := range []struct {
		what, before, after string
		change              func(*Draft)
	}{
		{"an example gives way", "[cars.heron]\n# Cells.\n# cells = 4\n# spurs = [68]\n", "[cars.heron]\n# Cells.\ncells = 3\n# spurs = [68]\n",
			func(d *Draft) { d.Cells = "3" }},
		{"a remark that is no example stays", "[cars.heron]\n# cells = 2 of them\n", "[cars.heron]\ncells = 3\n# cells = 2 of them\n",
			func(d *Draft) { d.Cells = "3" }},
		{"only the value changes", "[cars.heron]\n  cells=4   # LiPo\n", "[cars.heron]\n  cells=3   # LiPo\n",
			func(d *Draft) { d.Cells = "3" }},
		{"a remark outlives its value", "[cars.heron]\ncells = 4 # LiPo\nspurs = [68]\n", "[cars.heron]\n# cells = 4 # LiPo\nspurs = [68]\n",
			func(d *Draft) { d.Cells = "" }},
		{"a mark of a remark in a text", "[cars.heron.limits]\nmotor = \"80C\"\n[cars.heron.tires]\n\"no # 1\" = '99mm'\n", "[cars.heron.limits]\nmotor = \"80C\"\nmotor_whose = \"it's # 1\"\n[cars.heron.tires]\n\"no # 1\" = \"98mm\"\n",
			func(d *Draft) { d.MotorWhose, d.TireSizes = "it's # 1", []string{"98mm"} }},
		{"a list with remarks stays as one", "[cars.heron]\npinions = [\n 13, # steel\n]\n", "[cars.heron]\npinions = [13, 15]\n# pinions = [\n#  13, # steel\n# ]\n",
			func(d *Draft) { d.Pinions = []int{13, 15} }},
		{"whose limit stands below it", "[cars.heron.limits]\nmotor = \"80C\"\nbattery = \"60C\"\n\n[cars.gull]\n", "[cars.heron.limits]\nmotor = \"80C\"\nmotor_whose = \"mine\"\nbattery = \"60C\"\n\n[cars.gull]\n",
			func(d *Draft) { d.MotorWhose = "mine" }},
		{"a new table stands behind its car", "[cars.heron]\ncells = 4\n\n[cars.gull]\n", "[cars.heron]\ncells = 4\n\n[cars.heron.limits]\nmotor = \"80C\"\n\n[cars.gull]\n",
			func(d *Draft) { d.Motor = "80C" }},
		{"a car that had nothing", "[cars.heron]\n\n[cars.gull]\n", "[cars.heron]\n\n[cars.heron.tires]\nbig = \"118mm\"\n\n[cars.gull]\n",
			func(d *Draft) { d.TireNames, d.TireSizes = []string{"big"}, []string{"118mm"} }},
		{"the drafted mount", "[cars.heron]\n# [cars.heron.mount]\n# least_teeth = 80\n# most_teeth = 90\n", "[cars.heron]\n[cars.heron.mount]\nleast_teeth = 85\nmost_teeth = 88\n",
			func(d *Draft) { d.LeastTeeth, d.MostTeeth = "85", "88" }},
		{"a mount goes whole", "[cars.heron]\ncells = 4\n[cars.heron.mount]\nleast_teeth = 85\nmost_teeth = 88\n", "[cars.heron]\ncells = 4\n",
			func(d *Draft) { d.LeastTeeth, d.MostTeeth = "", "" }},
		{"a mount by teeth takes the place of one by travel", layouts["by travel"], "[cars.heron]\npitch = \"module 0.8\"\n[cars.heron.mount]\nleast_teeth = 81\nmost_teeth = 92\n# known_spur = 68 # as bought\n",
			func(d *Draft) { d.LeastTeeth, d.MostTeeth = "81", "92" }},
	} {
		f := mustRead(t, c.before)
		to := f.Draft("heron")
		c.change(&to)
		after, err := Edit("cars.toml", []byte(c.before), to)
		if err != nil || string(after) != c.after {
			t.Errorf("%s: %v\n%s\nwant\n%s", c.what, err, after, c.after)
		}
	}
}

// What can't be is refused, with its place, and the text is not touched.
func TestEditRefuses(t *testing.T) {
	for want, c := range map[string]struct {
		text   string
		change func(*Draft)
	}{
		`cars.toml:1: cars.heron.cells: "3": can't be set here as the file is laid out, change it with a text editor`: {"cars = {heron = {}}\n", func(d *Draft) { d.Cells = "3" }},
		`cars.toml:2: cars.heron.cells: "100": does not lie between 1 and 99`:                                         {"[cars.heron]\ncells = 4\n", func(d *Draft) { d.Cells = "100" }},
		`the mount's reach is not said in full`:                                                                       {"[cars.heron]\n", func(d *Draft) { d.LeastTeeth = "80" }},
		"change it with a text editor":                                                                                {"[cars.heron]\n", func(d *Draft) { d.MotorWhose, d.Motor = "\xff", "80C" }},
		"there is no such key":                                                                                        {"[cars.heron]\npinons = [3]\n", func(*Draft) {}},
	} {
		to := Draft{Name: "heron"}
		c.change(&to)
		if _, err := Edit("cars.toml", []byte(c.text), to); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", c.text, err, want)
		}
	}
}

// A car is added behind the others, which stay as they are, or begins a file.
func TestAdd(t *testing.T) {
	const before = "[cars.gull] # first\ncells = 2"
	after, err := Add("cars.toml", []byte(before), Draft{Name: "heron", Motor: "80C"}, units.US)
	if err != nil || !strings.HasPrefix(string(after), before+"\n[cars.heron]\n") {
		t.Errorf("%v\n%s", err, after)
	}
	if f := mustRead(t, string(after)); f.Units != nil || f.Cars["heron"].Limits.At(run.Motor).Temperature != 80 || f.Cars["gull"].Cells != 2 {
		t.Errorf("%+v", f)
	}
	if after, err := Add("cars.toml", nil, Draft{Name: "heron"}, units.US); err != nil || *mustRead(t, string(after)).Units != units.US {
		t.Errorf("%v\n%s", err, after)
	}
	if _, err := Add("cars.toml", []byte("[cars.heron]\n"), Draft{Name: "heron"}, units.US); err == nil {
		t.Error("a car is in the file twice")
	}
}

// FuzzEdit asks of any file that a car in it says what is wanted, and that all else is as it was.
func FuzzEdit(f *testing.F) {
	for _, text := range layouts {
		f.Add(text, uint64(1))
	}
	f.Add(whole, uint64(3))
	f.Fuzz(func(t *testing.T, text string, seed uint64) {
		before, err := Read("cars.toml", strings.NewReader(text))
		if err != nil || len(before.Cars) == 0 {
			return
		}
		car := slices.Sorted(maps.Keys(before.Cars))[0]
		to := anyDraft(before.Draft(car), rand.New(rand.NewPCG(seed, 0)))
		after, err := Edit("cars.toml", []byte(text), to)
		if err != nil {
			return
		}
		got := mustRead(t, string(after))
		if !sameDraft(got.Draft(car), to) {
			t.Errorf("%q became %q, which does not say %+v", text, after, to)
		}
		delete(got.tables, car)
		delete(before.tables, car)
		if !reflect.DeepEqual(got.tables, before.tables) {
			t.Errorf("%q became %q: other cars changed", text, after)
		}
	})
}
