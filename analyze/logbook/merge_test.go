package logbook

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// aRun returns an invented run.
func aRun(minute int) Entry {
	r := run.Run{
		When: time.Date(2026, 5, 16, 10, minute, 0, 0, time.UTC), HasTime: true, Car: "heron",
		Gearing: drivetrain.Gearing{Pinion: 16, Spur: 68, Internal: 2.5}, Tire: 118, Ambient: 24, Minutes: 12,
	}
	r.Peak.Set(run.Motor, 78)
	return Entry{Run: &r}
}

func with(e Entry, change func(*Entry)) Entry {
	run := *e.Run
	e.Run, e.Extra = &run, maps.Clone(e.Extra)
	change(&e)
	return e
}

func dayOnly(e Entry) Entry {
	return with(e, func(e *Entry) {
		y, m, d := e.When.Date()
		e.When, e.HasTime = time.Date(y, m, d, 0, 0, 0, 0, time.UTC), false
	})
}

func hotter(e Entry) Entry {
	return with(e, func(e *Entry) { e.Peak.Set(run.Motor, 85) })
}

func noted(e Entry, note string) Entry { return with(e, func(e *Entry) { e.Note = note }) }

func of(entries ...Entry) Contents { return Contents{Entries: entries} }

// The rules are those of the issue: the same run twice is one run; the same car and
// moment with other values is a conflict, nothing changed until it is decided.
func TestMergeRules(t *testing.T) {
	a, b := aRun(0), aRun(30)
	day := dayOnly(a)
	for _, c := range []struct {
		name      string
		book, log Contents
		decide    Decision
		want      []Entry
		tally     Tally
		conflicts int
	}{
		{name: "into an empty book", log: of(a, b), want: []Entry{a, b}, tally: Tally{Added: 2}},
		{name: "by time", book: of(b), log: of(a), want: []Entry{a, b}, tally: Tally{Added: 1}},
		{name: "known", book: of(a, b), log: of(b), want: []Entry{a, b}, tally: Tally{Known: 1}},
		{name: "the same row twice", log: of(a, a), want: []Entry{a}, tally: Tally{Added: 1, Known: 1}},
		{name: "another car at that moment", book: of(a), log: of(with(a, func(e *Entry) { e.Car = "gull" })),
			want: []Entry{a, with(a, func(e *Entry) { e.Car = "gull" })}, tally: Tally{Added: 1}},
		{name: "other values", book: of(a), log: of(hotter(a), b), want: []Entry{a}, tally: Tally{Added: 1}, conflicts: 1},
		{name: "other values replace", book: of(a), log: of(hotter(a)), decide: Replace, want: []Entry{hotter(a)}, tally: Tally{Replaced: 1}},
		{name: "other values beside", book: of(a), log: of(hotter(a)), decide: KeepBoth, want: []Entry{a, hotter(a)}, tally: Tally{Added: 1}},
		{name: "the book's values count", book: of(a), log: of(hotter(a), b), decide: KeepBook, want: []Entry{a, b}, tally: Tally{Added: 1, LeftOut: 1}},
		{name: "the book's run of a day counts", book: of(noted(day, "windy")), log: of(noted(day, "calm"), noted(day, "calm")), decide: KeepBook,
			want: []Entry{noted(day, "windy"), noted(day, "calm")}, tally: Tally{Added: 1, LeftOut: 1}},
		{name: "rows of one log, none of them the book's", log: of(a, hotter(a)), decide: KeepBook, tally: Tally{Added: 1}, conflicts: 1},
		{name: "both kept and known", book: of(a, hotter(a)), log: of(a, hotter(a)), want: []Entry{a, hotter(a)}, tally: Tally{Known: 2}},
		{name: "rows of one log disagree", log: of(a, hotter(a)), decide: Replace, tally: Tally{Added: 1}, conflicts: 1},
		{name: "a blank is filled", book: of(a), log: of(noted(a, "windy")), want: []Entry{noted(a, "windy")}, tally: Tally{Completed: 1}},
		{name: "a blank contradicts nothing", book: of(noted(a, "windy")), log: of(a), want: []Entry{noted(a, "windy")}, tally: Tally{Known: 1}},
		{name: "another note", book: of(noted(a, "windy")), log: of(noted(a, "calm")), want: []Entry{noted(a, "windy")}, conflicts: 1},
		{name: "two runs of a day", log: of(day, day), want: []Entry{day, day}, tally: Tally{Added: 2}},
		{name: "two runs of a day, known", book: of(day, day), log: of(day, day), want: []Entry{day, day}, tally: Tally{Known: 2}},
		{name: "one of two runs of a day", book: of(day, day), log: of(day), want: []Entry{day, day}, tally: Tally{Known: 1}},
		{name: "one more run of a day", book: of(day), log: of(day, day), want: []Entry{day, day}, tally: Tally{Known: 1, Added: 1}},
		{name: "another run of a day", book: of(day), log: of(hotter(day)), want: []Entry{day, hotter(day)}, tally: Tally{Added: 1}},
		{name: "a day's run with another note", book: of(noted(day, "windy")), log: of(noted(day, "calm")),
			want: []Entry{noted(day, "windy")}, conflicts: 1},
		{name: "a zone makes another clock", book: of(a), log: of(with(a, func(e *Entry) { e.When = e.When.In(time.FixedZone("", 0)) })),
			want: []Entry{a, a}, tally: Tally{Added: 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Merge(c.book, []Contents{c.log}, c.decide)
			if len(got.Conflicts) != c.conflicts || got.Tallies[0] != c.tally {
				t.Errorf("%d conflicts, %+v; want %d, %+v", len(got.Conflicts), got.Tallies[0], c.conflicts, c.tally)
			}
			if text, want := rows(got.Contents), rows(of(c.want...)); !slices.EqualFunc(text, want, sameButForZone) {
				t.Errorf("got\n%s\nwant\n%s", strings.Join(text, "\n"), strings.Join(want, "\n"))
			}
			if c.conflicts > 0 && got.Changed {
				t.Error("changed in spite of a conflict")
			}
		})
	}
}

func sameButForZone(a, b string) bool {
	return strings.Replace(a, "Z,", ",", 1) == strings.Replace(b, "Z,", ",", 1)
}

// Column by column, two entries of one run contradict each other where both say something
// and not the same; a mark that only one of them has is kept, and so is a value.
func TestMergeKnowsEveryColumn(t *testing.T) {
	for name, c := range map[string]struct {
		set, other func(*Entry)
		kept       func(Entry) bool // after the union with one that says nothing
	}{
		"peak of the ESC": {func(e *Entry) { e.Peak.Set(run.ESC, 60) }, func(e *Entry) { e.Peak.Set(run.ESC, 61) },
			func(e Entry) bool { c, ok := e.Peak.Of(run.ESC); return ok && c == 60 }},
		"start": {func(e *Entry) { e.Start.Set(run.Motor, 30) }, func(e *Entry) { e.Start.Set(run.Motor, 31) },
			func(e Entry) bool { c, ok := e.Start.Of(run.Motor); return ok && c == 30 }},
		"cells":          {func(e *Entry) { e.Cells = 2 }, func(e *Entry) { e.Cells = 3 }, func(e Entry) bool { return e.Cells == 2 }},
		"motor":          {func(e *Entry) { e.Motor = "a" }, func(e *Entry) { e.Motor = "b" }, func(e Entry) bool { return e.Motor == "a" }},
		"surface":        {func(e *Entry) { e.Surface = "a" }, func(e *Entry) { e.Surface = "b" }, func(e Entry) bool { return e.Surface == "a" }},
		"cooling":        {func(e *Entry) { e.Cooling = "a" }, func(e *Entry) { e.Cooling = "b" }, func(e Entry) bool { return e.Cooling == "a" }},
		"note":           {func(e *Entry) { e.Note = "a" }, func(e *Entry) { e.Note = "b" }, func(e Entry) bool { return e.Note == "a" }},
		"air":            {func(*Entry) {}, func(e *Entry) { e.Ambient = 25 }, nil},
		"tire":           {func(*Entry) {}, func(e *Entry) { e.Tire = 119 }, nil},
		"minutes":        {func(*Entry) {}, func(e *Entry) { e.Minutes = 11 }, nil},
		"pinion":         {func(*Entry) {}, func(e *Entry) { e.Gearing.Pinion = 15 }, nil},
		"heat stop":      {func(e *Entry) { e.StoppedByHeat = true }, nil, func(e Entry) bool { return e.StoppedByHeat }},
		"left out":       {func(e *Entry) { e.Skip = true }, nil, func(e Entry) bool { return e.Skip }},
		"nothing at all": {func(*Entry) {}, nil, func(Entry) bool { return true }},
	} {
		plain := aRun(0)
		set := with(plain, c.set)
		if c.other != nil {
			if other := with(plain, c.other); agreeing(set, other) || agreeing(other, set) {
				t.Errorf("%s: two values do not contradict each other", name)
			}
		}
		if c.kept == nil {
			continue
		}
		if !agreeing(set, plain) || !agreeing(plain, set) {
			t.Errorf("%s: a blank contradicts", name)
		}
		for _, u := range []Entry{union(set, plain), union(plain, set)} {
			if !c.kept(u) {
				t.Errorf("%s is lost in the union", name)
			}
		}
	}
}

func agreeing(a, b Entry) bool { return agree(new(merging).differences(a, b)) }

// The columns that are not read are joined by their headers.
func TestMergeKeepsFurtherColumns(t *testing.T) {
	book := Contents{Extra: []string{"wind", "driver"}, Entries: []Entry{with(aRun(0), func(e *Entry) { e.Extra = map[string]string{"wind": "calm", "driver": "me"} })}}
	log := Contents{Extra: []string{"driver", "hall"}, Entries: []Entry{with(aRun(30), func(e *Entry) { e.Extra = map[string]string{"driver": "you", "hall": "north"} })}}
	got := Merge(book, []Contents{log}, Undecided)
	if want := []string{"wind", "driver", "hall"}; !slices.Equal(got.Contents.Extra, want) {
		t.Fatalf("columns %q", got.Contents.Extra)
	}
	for i, want := range [][]string{{"calm", "me", ""}, {"", "you", "north"}} {
		for k := range want {
			if cell := got.Entries[i].Extra[got.Contents.Extra[k]]; cell != want[k] {
				t.Errorf("run %d: %q is %q, want %q", i, got.Contents.Extra[k], cell, want[k])
			}
		}
	}
	replaced := with(aRun(0), func(e *Entry) { e.Note, e.Extra = "windy", map[string]string{"driver": "you"} })
	got = Merge(book, []Contents{{Extra: []string{"driver"}, Entries: []Entry{replaced}}}, Replace)
	if e := got.Entries[0]; e.Extra["wind"] != "calm" || e.Extra["driver"] != "you" || e.Note != "windy" {
		t.Errorf("replaced: %q, note %q", e.Extra, e.Note)
	}
}

// byNote decides each conflict by the note of the log's run.
type byNote map[string]Decision

func (b byNote) Decide(c Conflict) Decision { return b[c.New.Note] }

// Each conflict is decided by itself, between two rows of one log as well, and an open one leaves
// the book as it was.
func TestConflictsAreDecidedOneByOne(t *testing.T) {
	a, b, c := aRun(0), aRun(30), aRun(60)
	book := of(noted(a, "as logged"), noted(b, "as logged"))
	log := of(noted(a, "mended"), noted(b, "typed wrongly"), noted(c, "first"), noted(c, "second"))
	decisions := byNote{"mended": Replace, "typed wrongly": KeepBook}
	got := Merge(book, []Contents{log}, decisions)
	if len(got.Conflicts) != 1 || got.Changed || got.Conflicts[0].InBook || !got.Conflicts[0].SameLog {
		t.Fatalf("one conflict between rows of the log is open: %+v", got)
	}
	for _, last := range []struct {
		decision Decision
		want     []Entry
		tally    Tally
	}{
		{Replace, []Entry{noted(c, "second")}, Tally{Added: 1, Replaced: 1, LeftOut: 2}},
		{KeepBook, []Entry{noted(c, "first")}, Tally{Added: 1, Replaced: 1, LeftOut: 2}},
		{KeepBoth, []Entry{noted(c, "first"), noted(c, "second")}, Tally{Added: 2, Replaced: 1, LeftOut: 1}},
	} {
		decisions["second"] = last.decision
		got := Merge(book, []Contents{log}, decisions)
		want := append([]Entry{noted(a, "mended"), noted(b, "as logged")}, last.want...)
		if len(got.Conflicts) > 0 || got.Tallies[0] != last.tally || !slices.Equal(rows(got.Contents), rows(of(want...))) {
			t.Errorf("decision %d: %+v\n%s", last.decision, got.Tallies, text(got.Contents))
		}
	}
}

func TestConflictNamesWhatDiffers(t *testing.T) {
	got := Merge(of(aRun(0)), []Contents{of(noted(hotter(aRun(0)), "x"))}, Undecided)
	want := []Difference{{"motor_peak_c", "78", "85"}, {"note", "", "x"}}
	if !slices.Equal(got.Conflicts[0].Differences, want) {
		t.Errorf("%v, want %v", got.Conflicts[0].Differences, want)
	}
}

// A column that is said to be none keeps its cells, under a header that the book does not read.
func TestColumnsLeftUnreadAreKept(t *testing.T) {
	const text = "date,car,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c,ESC peak (°C)\n" +
		"2026-05-16T10:50,heron,17,68,118,22,12,84,unsure\n"
	logs, err := ReadLogs("log.csv", strings.NewReader(text), runlog.Options{KeepCells: true, Columns: map[string]string{"ESC peak (°C)": ""}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	b := newBook(t)
	for range 2 {
		if _, err := b.Add([]Contents{FromLog(logs[0])}, Undecided); err != nil {
			t.Fatal(err)
		}
	}
	if got := read(t, b.Path); !strings.Contains(got, "ESC peak (°C) column 9") || !strings.Contains(got, "unsure") {
		t.Errorf("the book:\n%s", got)
	}
}

// rows writes entries, one a line, with the further cells under their headers.
func rows(c Contents) []string {
	var all []string
	for _, e := range c.Entries {
		var further []string
		for h, cell := range e.Extra {
			further = append(further, fmt.Sprintf(",%s=%s", h, cell))
		}
		slices.Sort(further)
		all = append(all, strings.Join(runlog.Written(*e.withNumber(0).Run), ",")+strings.Join(further, ""))
	}
	return all
}

// sorted are rows without regard to their order.
func sorted(c Contents) []string {
	all := rows(c)
	slices.Sort(all)
	return all
}

// invented returns contents with so few different values that runs meet often.
func invented(rng *rand.Rand) Contents {
	c := Contents{Extra: [][]string{nil, {"wind"}, {"driver", "wind"}}[rng.IntN(3)]}
	for range rng.IntN(6) {
		e := aRun(rng.IntN(2))
		e.Car = []string{"heron", "gull"}[rng.IntN(2)]
		if rng.IntN(2) == 0 {
			e = dayOnly(e)
		}
		if rng.IntN(4) == 0 {
			e = hotter(e)
		}
		e.Note = []string{"", "", "windy", "calm"}[rng.IntN(4)]
		e.Skip = rng.IntN(4) == 0
		e.Cells = []int{0, 0, 2, 3}[rng.IntN(4)]
		if rng.IntN(3) == 0 {
			e.Peak.Set(run.ESC, units.Celsius(60+rng.IntN(2)))
		}
		e.Extra = map[string]string{}
		for _, h := range c.Extra {
			if cell := []string{"", "1", "2"}[rng.IntN(3)]; cell != "" {
				e.Extra[h] = cell
			}
		}
		c.Entries = append(c.Entries, e)
	}
	return c
}

// FuzzMerge checks the laws of a merge: once more changes nothing, either order gives
// the same, and no run is lost.
func FuzzMerge(f *testing.F) {
	for seed := range uint64(200) {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, seed uint64) {
		rng := rand.New(rand.NewPCG(seed, 1))
		// What was merged before is what a book can be.
		book := Merge(Contents{}, []Contents{invented(rng)}, KeepBoth).Contents
		a, b := invented(rng), invented(rng)
		for _, decide := range []Decision{Undecided, KeepBoth, KeepBook, Replace} {
			once := Merge(book, []Contents{a}, decide)
			if len(once.Conflicts) > 0 {
				if once.Changed || !slices.Equal(rows(once.Contents), rows(book)) {
					t.Fatalf("decision %d: a conflict, and the book was changed", decide)
				}
				continue
			}
			if twice := Merge(once.Contents, []Contents{a}, decide); twice.Changed || len(twice.Conflicts) > 0 {
				t.Fatalf("decision %d: once more changes\n%s\nto\n%s\nlog\n%s", decide, text(once.Contents), text(twice.Contents), text(a))
			}
			if decide == Replace {
				continue // what is replaced is gone: that is its meaning
			}
			covers(t, once.Contents, book)
			if decide == KeepBook {
				continue // what is left out is gone from the log
			}
			covers(t, once.Contents, a)
			if decide == KeepBoth {
				continue // it settles conflicts, and which run is the conflicting one depends on the order
			}
			ab := Merge(book, []Contents{a, b}, decide)
			ba := Merge(book, []Contents{b, a}, decide)
			if len(ab.Conflicts) > 0 || len(ba.Conflicts) > 0 {
				continue
			}
			if !slices.Equal(sorted(ab.Contents), sorted(ba.Contents)) {
				t.Fatalf("decision %d: book\n%s\na\n%s\nb\n%s\na then b\n%s\nb then a\n%s", decide,
					text(book), text(a), text(b), text(ab.Contents), text(ba.Contents))
			}
			covers(t, ab.Contents, a)
			covers(t, ab.Contents, b)
		}
	})
}

func text(c Contents) string { return "  " + strings.Join(rows(c), "\n  ") }

// covers checks that every run of one is in the other, saying at least as much, and the
// runs of a day as often.
func covers(t *testing.T, whole, part Contents) {
	t.Helper()
	for _, e := range part.Entries {
		if !slices.ContainsFunc(whole.Entries, func(w Entry) bool { return saysAllOf(w, e) }) {
			t.Fatalf("lost: %s\nof\n%s\nin\n%s", strings.Join(runlog.Written(*e.withNumber(0).Run), ","), text(part), text(whole))
		}
		if here, there := alike(whole, e), alike(part, e); !e.HasTime && here < there {
			t.Fatalf("%d of %d runs of a day are left", here, there)
		}
	}
}

// saysAllOf reports whether a run says all that another does.
func saysAllOf(e, other Entry) bool {
	cells := runlog.Written(*e.Run)
	for i, cell := range runlog.Written(*other.Run) {
		if cell != "" && cells[i] != cell {
			return false
		}
	}
	for h, cell := range other.Extra {
		if e.Extra[h] != cell {
			return false
		}
	}
	return true
}

// alike counts the entries that are the run e.
func alike(c Contents, e Entry) (n int) {
	for _, other := range c.Entries {
		if identify(other.Run) == identify(e.Run) {
			n++
		}
	}
	return n
}
