package logbook

import (
	"bytes"
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"regear/analyze/run"
	"regear/analyze/runlog"
)

// Told is what a copy of the book changed in it.
type Told struct {
	Added, Deleted []run.Run
	Edited         []EditedThere
	Renumbered     []Renumbered
}

// EditedThere is a run that has other values now.
type EditedThere struct {
	Run         run.Run // as it is now
	Differences []Difference
}

// Renumbered is a run that has another number, as another run has its number too.
type Renumbered struct{ From, To int }

// ReadCopy reads the log book in what [Book.Save] wrote. The contents know that they are of a copy,
// so that merging them brings over changes and deletions too. It returns nil where data is nothing
// of the kind. Where the copy tells of no changes, a notice of the log says so, and the contents are
// those of any log.
func ReadCopy(name string, data []byte) (*runlog.Log, *Contents, error) {
	files, err := unpacked(name, data)
	if err != nil || !bytes.HasPrefix(data, []byte("PK")) {
		return nil, nil, nil
	}
	log, err := runlog.Read(name, bytes.NewReader(files[bookName]), runlog.Options{KeepCells: true})
	if err != nil {
		return nil, nil, err
	}
	c := contentsOf(log, func(int) bool { return true })
	c.Comments = log.Comments
	onlyRuns := func(what string) (*runlog.Log, *Contents, error) {
		log.Notices = append(log.Notices, run.Problem{Position: run.Position{File: name}, What: what + ", so its runs are taken, and what was changed or deleted there is not"})
		return log, &c, nil
	}
	switch {
	case files[keysName] == nil:
		return onlyRuns("is a copy of a log book by an older program")
	case len(log.Problems) > 0:
		return onlyRuns("is a copy of a log book with rows that can't be used")
	}
	c.keys = readKeys(files[keysName])
	return log, &c, nil
}

// side is one of two copies of a book that meet.
type side struct {
	Contents
	live map[string]Entry // by key
}

func newSide(c Contents) side {
	if c.keys == nil {
		c.keys = readKeys(nil)
	}
	s := side{c, map[string]Entry{}}
	// What was done to a copy outside of the program came after all that its keys tell of.
	for i, key := range s.keys.follow(c.Entries, time.Time{}) {
		s.live[key] = c.Entries[i]
	}
	return s
}

// shared is one run as two sides know it, by one key or by several.
type shared struct {
	keys   []string
	newest keyed
	entry  Entry    // as it is in newest, if it is not deleted
	live   [2]Entry // as either side has it, if it has it
}

func (s *shared) isIn(side int) bool { return s.live[side].Run != nil }

// together says which keys are one run: each leads to a smaller one, or to itself.
type together map[string]string

func (t together) root(key string) string {
	for t[key] != "" && t[key] != key {
		key = t[key]
	}
	return key
}

func (t together) unite(a, b string) {
	a, b = t.root(a), t.root(b)
	t[max(a, b)] = min(a, b)
}

// runs returns the runs of two sides by the smallest of their keys.
func (t together) runs(sides [2]side) map[string]*shared {
	all := map[string]*shared{}
	for i, s := range sides {
		for key, one := range s.keys.all {
			root := t.root(key)
			r := all[root]
			if r == nil {
				r = &shared{newest: one}
				all[root] = r
			}
			r.keys = append(r.keys, key)
			if one.same != "" {
				continue // all is said by the key by which it goes
			}
			e, live := s.live[key]
			if live {
				r.live[i] = e
			}
			number := max(r.newest.number, one.number)
			if r.newest.same != "" || one.newer(r.newest) > 0 || live && r.entry.Run == nil && one.newer(r.newest) == 0 {
				r.newest, r.entry = one, e
			}
			r.newest.number = number
		}
	}
	return all
}

// pair unites the runs that each side alone has if they are the same car's of the same moment. Two
// that one side has both are two.
func (t together) pair(all map[string]*shared) {
	var alone [2]map[identity][]string
	for i := range alone {
		alone[i] = map[identity][]string{}
		for _, root := range slices.Sorted(maps.Keys(all)) {
			if r := all[root]; r.isIn(i) && !r.isIn(1-i) && r.newest.sum != "" {
				id := identify(r.live[i].Run)
				alone[i][id] = append(alone[i][id], root)
			}
		}
	}
	alike := func(a, b string) bool { return all[a].newest.sum == all[b].newest.sum }
	any := func(string, string) bool { return true }
	for id, ours := range alone[0] {
		theirs := alone[1][id]
		for _, is := range []func(a, b string) bool{alike, any} {
			ours = slices.DeleteFunc(ours, func(a string) bool {
				k := slices.IndexFunc(theirs, func(b string) bool { return is(a, b) })
				if k < 0 {
					return false
				}
				t.unite(a, theirs[k])
				theirs = slices.Delete(theirs, k, k+1)
				return true
			})
		}
	}
}

// joined returns what a book and a copy of it hold together, what became of the copy's runs, and
// what that changes in the book, after what was told before.
//
// Each run has a key, and is in each copy in some state: a moment and values, or deleted. Of two
// states of one key the newer counts. A run that both sides entered on their own is one run: the two
// keys go together from then on, and the smaller one stands for it. The highest number that a run has
// anywhere is its number; of two runs with one number, that of the larger key gets the next number.
//
// So states only ever grow, in an order that is the same from both sides, and two copies that have
// taken each other's state are equal: this is a state-based replicated data type (M. Shapiro,
// N. Preguiça, C. Baquero, M. Zawirski, Conflict-free Replicated Data Types, 2011; from memory).
func joined(book, other Contents, told Told) (Contents, Tally, Told) {
	sides := [2]side{newSide(book), newSide(other)}
	same := together{}
	for _, s := range sides {
		for key, one := range s.keys.all {
			if one.same != "" {
				same.unite(key, one.same)
			}
		}
	}
	same.pair(same.runs(sides))
	all := same.runs(sides)

	out := Contents{Comments: withMissing(book.Comments, other.Comments), Extra: withMissing(book.Extra, other.Extra),
		keys: &keys{last: max(sides[0].keys.last, sides[1].keys.last), all: map[string]keyed{}}}
	for root, r := range all {
		out.keys.last = max(out.keys.last, r.newest.number)
		for _, key := range r.keys {
			out.keys.all[key] = keyed{same: root}
		}
	}
	var tally Tally
	numbers := map[int]bool{}
	next := out.keys.last
	for _, root := range slices.Sorted(maps.Keys(all)) {
		r := all[root]
		if r.newest.sum != "" {
			if numbers[r.newest.number] {
				next++
				r.newest.number = next
			}
			numbers[r.newest.number] = true
			if r.entry.Number != r.newest.number {
				r.entry = r.entry.withNumber(r.newest.number)
			}
			out.Entries = append(out.Entries, r.entry)
		}
		out.keys.all[root] = r.newest
		told.of(r, &out, &tally)
	}
	out.keys.last = next
	told.sort()
	slices.SortFunc(out.Entries, func(a, b Entry) int {
		return cmp.Or(a.When.Compare(b.When), cmp.Compare(a.Number, b.Number))
	})
	return out, tally, told
}

// withMissing returns lines with those of others that are not among them.
func withMissing(lines, others []string) []string {
	all := slices.Clone(lines)
	for _, line := range others {
		if !slices.Contains(all, line) {
			all = append(all, line)
		}
	}
	return all
}

func (t *Told) sort() {
	byNumber := func(a, b run.Run) int { return cmp.Compare(a.Number, b.Number) }
	slices.SortFunc(t.Added, byNumber)
	slices.SortFunc(t.Deleted, byNumber)
	slices.SortFunc(t.Edited, func(a, b EditedThere) int { return byNumber(a.Run, b.Run) })
	slices.SortFunc(t.Renumbered, func(a, b Renumbered) int { return cmp.Compare(a.From, b.From) })
}

// of tells what became of one run.
func (t *Told) of(r *shared, out *Contents, tally *Tally) {
	was, is := r.live[0], r.entry
	switch {
	case r.newest.sum == "":
		if r.isIn(0) {
			t.Deleted = append(t.Deleted, *was.Run)
			tally.Deleted++
		}
		return
	case !r.isIn(0):
		t.Added = append(t.Added, *is.Run)
		tally.Added++
		return
	case sumOf(was) != r.newest.sum:
		t.Edited = append(t.Edited, EditedThere{*is.Run, out.differences(was, is)})
		tally.Replaced++
	case r.isIn(1):
		tally.Known++
	}
	if was.Number != is.Number {
		t.Renumbered = append(t.Renumbered, Renumbered{was.Number, is.Number})
	}
}

func (t *Told) any() bool {
	return len(t.Added)+len(t.Deleted)+len(t.Edited)+len(t.Renumbered) > 0
}

// what says what a copy changed.
func (t *Told) what() string {
	var each []string
	for _, part := range []struct {
		words string
		n     int
	}{{"added", len(t.Added)}, {"changed", len(t.Edited)}, {"deleted", len(t.Deleted)}, {"renumbered", len(t.Renumbered)}} {
		if part.n > 0 {
			each = append(each, fmt.Sprintf("%s %d", part.words, part.n))
		}
	}
	return "from a copy: " + strings.Join(each, ", ")
}
