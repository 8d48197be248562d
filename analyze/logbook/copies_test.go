package logbook

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"regear/analyze/run"
	"regear/analyze/units"
)

// device is a copy of the book and the files that it saved.
type device struct {
	Book
	saved [][]byte
}

func newDevice(name string, clock func() time.Time) *device {
	return &device{Book: Book{Name: name, Now: clock, Store: &memory{texts: map[string][]byte{}}}}
}

func (d *device) save(t *testing.T) []byte {
	t.Helper()
	var file bytes.Buffer
	if err := d.Save(&file); err != nil {
		t.Fatal(err)
	}
	d.saved = append(d.saved, file.Bytes())
	return file.Bytes()
}

func (d *device) take(t *testing.T, file []byte) Merged {
	t.Helper()
	_, c, err := ReadCopy("copy.zip", file)
	if err != nil || c == nil {
		t.Fatal(err, c)
	}
	return add(t, d.Book, *c)
}

// byNote returns what a book says of each run, by the note that names it, without its number.
func (d *device) byNote(t *testing.T) map[string]string {
	t.Helper()
	all := map[string]string{}
	for _, r := range snapshot(t, d.Book).Log.Runs {
		r.Number = 0
		if all[r.Note] != "" {
			t.Fatalf("%s has %q twice", d, r.Note)
		}
		all[r.Note] = strings.Join(rows(of(Entry{Run: &r})), "")
	}
	return all
}

// whole returns all that a book says, in its order, with numbers and columns of the driver's own.
func (d *device) whole(t *testing.T) string {
	t.Helper()
	book, err := d.Preview(nil, Undecided)
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	numbers := map[int]bool{}
	for _, e := range book.Entries {
		lines = append(lines, fmt.Sprint(e.Number, " ", rows(of(e)), e.Extra))
		if numbers[e.Number] {
			t.Errorf("%s has number %d twice", d, e.Number)
		}
		numbers[e.Number] = true
	}
	return strings.Join(lines, "\n")
}

// called returns an invented run that its note and its moment tell from all others.
func called(id int) Entry {
	e := aRun(0)
	e.When = e.When.Add(time.Duration(id) * time.Minute)
	e.Note = fmt.Sprint("run ", id)
	return e
}

// said is the last that somebody said of a run: "" that it is deleted.
type said struct {
	at    time.Time
	value string
}

// Phone and computer log, import, edit, delete and undo, each on its own, and hand each other files,
// old ones too. Once each has taken the other's last file they are equal, in any order; and of each
// run both say what was said of it last, as the test's own list has it.
func TestTwoCopiesEndEqual(t *testing.T) {
	const steps = 40
	orders := 100
	if testing.Short() {
		orders = 20
	}
	edited, deleted, taken := 0, 0, 0
	for seed := range uint64(orders) {
		rng := rand.New(rand.NewPCG(seed, 7))
		now := time.Date(2026, 5, 17, 9, 0, 0, 0, time.UTC)
		clock := func() time.Time { return now }
		// In one order of four, one clock is wrong and what came from a copy is taken back too. Then what
		// was said last depends on the clocks, and equal is all that they can be.
		wild := seed%4 == 3
		wrong := clock
		if wild {
			wrong = func() time.Time { return now.Add(-17 * time.Minute) }
		}
		both := [2]*device{newDevice("phone", clock), newDevice("computer", wrong)}
		last, shared := map[string]said{}, map[string]bool{}
		next := 2
		for i, d := range both {
			add(t, d.Book, of(called(1+i)))
			last[called(1+i).Note] = said{value: d.byNote(t)[called(1+i).Note]}
		}
		for range steps {
			now = now.Add(time.Minute)
			i := rng.IntN(2)
			d, other := both[i], both[1-i]
			before := d.byNote(t)
			keysBefore, err := d.Store.Read(keysName)
			if err != nil {
				t.Fatal(err)
			}
			switch do := rng.IntN(12); do {
			case 0, 1, 2:
				next++
				add(t, d.Book, of(called(next)))
			case 3, 4, 5, 6:
				runs := snapshot(t, d.Book).Log.Runs
				if len(runs) == 0 {
					continue
				}
				r := runs[rng.IntN(len(runs))]
				if do == 3 {
					deleted++
					if err := d.Delete(r); err != nil {
						t.Fatal(err)
					}
					break
				}
				edited++
				to := r
				to.Minutes = units.Minutes(1 + rng.IntN(50))
				if _, err := d.Edit(r, to); err != nil {
					t.Fatal(err)
				}
			case 7:
				changes, err := d.History()
				if err != nil {
					t.Fatal(err)
				}
				if len(changes) > 0 && (wild || !strings.HasPrefix(changes[0].What, "from a copy")) {
					undo(t, d.Book)
				}
			case 8: // the same log on both, one now and one perhaps later
				id := 1000 + rng.IntN(5)
				shared[called(id).Note] = true
				if _, err := d.Add([]Contents{of(called(id))}, Replace); err != nil {
					t.Fatal(err)
				}
			case 9: // in a spreadsheet
				text, err := d.open()
				if err != nil {
					t.Fatal(err)
				}
				lines := strings.SplitAfter(string(text), "\n")
				if len(lines) < 3 {
					continue
				}
				next++
				byHand := rows(of(called(next)))[0]
				k := 1 + rng.IntN(len(lines)-2)
				lines[k] = [3]string{"", strings.Replace(lines[k], ",24,", ",25,", 1), lines[k] + byHand + "\n"}[rng.IntN(3)]
				if err := d.Store.Write([]Text{{bookName, []byte(strings.Join(lines, ""))}}, text); err != nil {
					t.Fatal(err)
				}
				d.save(t)
			case 10:
				if len(before) > 0 {
					d.save(t)
				}
			default:
				if len(other.saved) > 0 {
					taken++
					d.take(t, other.saved[rng.IntN(len(other.saved))])
				}
				continue // what it brought was said before
			}
			if rng.IntN(6) == 0 && len(d.byNote(t)) > 0 { // cut off before the keys were written
				if err := d.Store.Write([]Text{{keysName, keysBefore}}, nil); err != nil {
					t.Fatal(err)
				}
				d.save(t)
			}
			after := d.byNote(t)
			for note := range maps.Keys(either(before, after)) {
				switch {
				case before[note] == after[note]:
				case before[note] == "" && last[note].value == "" && last[note].at.IsZero():
					last[note] = said{value: after[note]} // to enter a run says less than any change of it
				case before[note] == "" && shared[note]:
				default:
					last[note] = said{now, after[note]}
				}
			}
		}
		now = now.Add(time.Minute)
		first, second := both[seed%2], both[1-seed%2]
		if seed%3 == 0 { // both save before one takes
			a, b := first.save(t), second.save(t)
			first.take(t, b)
			second.take(t, a)
		} else {
			second.take(t, first.save(t))
			first.take(t, second.save(t))
		}
		if one, other := first.whole(t), second.whole(t); one != other {
			t.Fatalf("seed %d: %s has\n%s\n%s has\n%s", seed, first, one, second, other)
		}
		if merged := second.take(t, first.save(t)); merged.Changed {
			t.Errorf("seed %d: of equal copies one changed the other: %+v", seed, merged.Told)
		}
		has := first.byNote(t)
		for note, said := range last {
			if has[note] != said.value && !shared[note] && !wild {
				t.Fatalf("seed %d: of %s both have %q, and last was said %q", seed, note, has[note], said.value)
			}
		}
	}
	t.Logf("%d orders, %d edits, %d deletions, %d files taken", orders, edited, deleted, taken)
}

func either(a, b map[string]string) map[string]string {
	all := maps.Clone(a)
	maps.Copy(all, b)
	return all
}

// Where clocks are wrong by an hour and more, who saw a change and changes the run again comes later.
func TestWrongClocksEndEqual(t *testing.T) {
	now := time.Date(2026, 5, 17, 9, 0, 0, 0, time.UTC)
	phone := newDevice("phone", func() time.Time { return now })
	computer := newDevice("computer", func() time.Time { return now.Add(-90 * time.Minute) })
	add(t, phone.Book, of(called(1), called(2)))
	computer.take(t, phone.save(t))
	edit := func(d *device, number int, minutes units.Minutes) {
		t.Helper()
		from := numberedRuns(t, d.Book)[number]
		to := from
		to.Minutes = minutes
		if _, err := d.Edit(from, to); err != nil {
			t.Fatal(err)
		}
	}
	edit(phone, 1, 20)
	computer.take(t, phone.save(t))
	now = now.Add(time.Minute)
	edit(computer, 1, 30)
	phone.take(t, computer.save(t))
	if got := numberedRuns(t, phone.Book)[1].Minutes; got != 30 || phone.whole(t) != computer.whole(t) {
		t.Errorf("%v min\n%s\n%s", got, phone.whole(t), computer.whole(t))
	}
}

// What a copy brought is told, run by run, and taken back like any change, which says nothing to the
// other side.
func TestCopyIsToldAndUndone(t *testing.T) {
	now := time.Date(2026, 5, 17, 9, 0, 0, 0, time.UTC)
	clock := func() time.Time { now = now.Add(time.Minute); return now }
	phone, computer := newDevice("phone", clock), newDevice("computer", clock)
	add(t, phone.Book, of(called(1), called(2), called(3)))
	computer.take(t, phone.save(t))
	here, there := numberedRuns(t, computer.Book), numberedRuns(t, phone.Book)
	hotter := there[2]
	hotter.Peak.Set(run.Motor, 84)
	if _, err := phone.Edit(there[2], hotter); err != nil {
		t.Fatal(err)
	}
	if err := phone.Delete(there[3]); err != nil {
		t.Fatal(err)
	}
	add(t, phone.Book, of(called(4)))
	add(t, computer.Book, of(called(5), called(6))) // which are 4 and 5 here
	colder := here[2]
	colder.Peak.Set(run.Motor, 60)
	before := computer.whole(t)

	merged := computer.take(t, phone.save(t))
	told := merged.Told
	if len(told.Added) != 1 || told.Added[0].Note != "run 4" || told.Added[0].Number != 4 {
		t.Errorf("added %+v", told.Added)
	}
	if len(told.Edited) != 1 || told.Edited[0].Run.Number != 2 || !slices.Equal(told.Edited[0].Differences, []Difference{{"motor_peak_c", "78", "84"}}) {
		t.Errorf("edited %+v", told.Edited)
	}
	if len(told.Deleted) != 1 || told.Deleted[0].Number != 3 {
		t.Errorf("deleted %+v", told.Deleted)
	}
	// Run 4 of the phone was entered first, so it keeps its number.
	if !slices.Equal(told.Renumbered, []Renumbered{{4, 6}}) {
		t.Errorf("renumbered %+v", told.Renumbered)
	}
	if merged.Tallies[0] != (Tally{Added: 1, Known: 1, Replaced: 1, Deleted: 1}) {
		t.Errorf("%+v", merged.Tallies[0])
	}
	changes, err := computer.History()
	if want := "from a copy: added 1, changed 1, deleted 1, renumbered 1"; err != nil || changes[0].What != want {
		t.Errorf("%v %+v", err, changes)
	}
	undo(t, computer.Book)
	if got := computer.whole(t); got != before {
		t.Errorf("undone:\n%s\nwant\n%s", got, before)
	}
	if merged := phone.take(t, computer.save(t)); len(merged.Told.Deleted)+len(merged.Told.Edited) > 0 || len(merged.Told.Added) != 2 {
		t.Errorf("the undoing reached the other copy: %+v", merged.Told)
	}
	computer.take(t, phone.save(t))
	if computer.whole(t) != phone.whole(t) {
		t.Error("not equal")
	}
}

// Books of before the keys, one of which was edited since it was copied, are one book too.
func TestCopiesOfBeforeTheKeys(t *testing.T) {
	now := time.Date(2026, 5, 17, 9, 0, 0, 0, time.UTC)
	clock := func() time.Time { now = now.Add(time.Minute); return now }
	one, other := newDevice("one", clock), newDevice("other", clock)
	add(t, one.Book, Contents{Extra: []string{"wind"}, Entries: []Entry{called(1), with(called(2), func(e *Entry) { e.Extra = map[string]string{"wind": "light"} })}})
	text, err := one.open()
	if err != nil {
		t.Fatal(err)
	}
	for i, d := range []*device{one, other} {
		d.Store = &memory{texts: map[string][]byte{bookName: text}}
		if i == 1 {
			add(t, d.Book, of(called(3)))
		}
	}
	merged := one.take(t, other.save(t))
	if merged.Tallies[0] != (Tally{Added: 1, Known: 2}) {
		t.Errorf("%+v", merged.Tallies[0])
	}
	if merged := other.take(t, one.save(t)); merged.Changed || one.whole(t) != other.whole(t) {
		t.Errorf("%+v\n%s\n%s", merged.Told, one.whole(t), other.whole(t))
	}
	// A copy without keys is a log like any other.
	delete(other.Store.(*memory).texts, keysName)
	file := other.save(t)
	if _, c, err := ReadCopy("copy.zip", file); err != nil || c == nil {
		t.Error(err, c)
	}
	if log, _, err := ReadCopy("sheet.xlsx", []byte("PK\x03\x04")); log != nil || err != nil {
		t.Error(log, err)
	}
}
