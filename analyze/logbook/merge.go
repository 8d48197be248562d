package logbook

import (
	"hash/maphash"
	"iter"
	"slices"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

// Decision says what becomes of a run that the book has with other values.
type Decision uint8

// The decisions.
const (
	Undecided Decision = iota // nothing is changed, and the conflict is shown
	Replace                   // the log's values take the place of the book's
	KeepBoth                  // the log's run is added beside the book's
)

// Merged is what became of a book and logs.
type Merged struct {
	Contents
	// Changed is false if Contents is just what the book held.
	Changed bool
	Tallies []Tally // one for each log
	// Conflicts are the runs on which book and logs do not agree and that were not
	// decided. If there is one, the book stays as it was.
	Conflicts []Conflict
	// Mark is that of the book's state that was merged with, for [Book.AddTo]. Merge itself
	// knows of none.
	Mark string
}

// Tally counts what became of the runs of one log.
type Tally struct {
	Added     int // new in the book
	Known     int // in the book already
	Completed int // in the book already, with cells blank that the log fills
	Replaced  int // in the book with other values
}

// Conflict is one run with two sets of values. Where each was read is its Position.
type Conflict struct {
	Kept, New   Entry
	Differences []Difference
}

// Difference is a column in which two entries hold different values.
type Difference struct {
	Column    string
	Kept, New string // as the book writes them
}

// Merge adds the runs of logs to those of a book.
//
// Two entries are the same run if they are of the same car and the same moment. Where
// the log gives a day alone, a day of several runs has no moment to tell them apart:
// there they are the same run if they agree in gearing, tire, air, minutes and every
// reading, and a log that holds such a run n times holds n runs. So
//
//   - a run is added if the book lacks it, and as often as the book lacks it;
//   - a run that says what the book says is known. A blank says nothing: it agrees with
//     any value, and a blank cell of the book is filled from the log;
//   - a run that says something else is a conflict, and so is one that could fill the
//     blanks of several runs of a day. decide settles it; but Replace settles none
//     inside one log, whose rows are equals.
//
// Merge is idempotent: merging a log once more changes nothing. It commutes where neither
// order meets a conflict, but for the order of runs within a day, and every run of book
// and logs is in the outcome unless it was replaced.
func Merge(book Contents, logs []Contents, decide Decision) Merged {
	most := len(book.Entries)
	for _, log := range logs {
		most += len(log.Entries)
	}
	m := newMerging(book, most, decide)
	for i := range logs {
		m.add(&logs[i])
	}
	out := Merged{Contents: book, Tallies: m.tallies, Conflicts: m.conflicts}
	if len(m.conflicts) > 0 {
		return out
	}
	// A book that is in no order of time, as someone saved it, is no reason to write it.
	if !sameEntries(m.Entries, book.Entries) {
		m.sort()
		out.Contents, out.Changed = m.Contents, true
	}
	return out
}

func sameEntries(a, b []Entry) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if !sameEntry(&a[i], &b[i]) {
			return false
		}
	}
	return true
}

// sameEntry reports whether two entries of one book are written alike.
func sameEntry(a, b *Entry) bool {
	if momentOf(a.Run) != momentOf(b.Run) {
		return false
	}
	r := *b.Run
	r.Position, r.When = a.Position, a.When
	if *a.Run != r {
		return false
	}
	for k := range max(len(a.Extra), len(b.Extra)) {
		if a.extra(k) != b.extra(k) {
			return false
		}
	}
	return true
}

// identity is what makes an entry the run that it is. The last group is blank where
// the moment tells.
type identity struct {
	car string
	moment

	gearing     drivetrain.Gearing
	tire        units.Millimeters
	ambient     units.Celsius
	minutes     units.Minutes
	peak, start run.Readings
}

func identify(r *run.Run) identity {
	id := identity{car: r.Car, moment: momentOf(r)}
	if !r.HasTime {
		id.gearing, id.tire, id.ambient, id.minutes = r.Gearing, r.Tire, r.Ambient, r.Minutes
		id.peak, id.start = r.Peak, r.Start
	}
	return id
}

// merging is a merge under way.
type merging struct {
	Contents
	decide    Decision
	tallies   []Tally
	conflicts []Conflict

	seed maphash.Seed
	// Entries by the hash of their identity: the first and the last one, and from each the
	// next. Identities themselves would take as much memory as the runs.
	chains map[uint64]chain
	next   []int
	// takenBy is the number of the log, from 1, that has an entry as a row of its own.
	takenBy []int
	// untaken leads from each entry to a later one of its chain, past some that the log
	// being merged has taken: a day of many equal runs would else be gone through for each.
	untaken []int
}

// chain is the places of the first and the last entry of one hash.
type chain struct{ first, last int }

// none is the place behind the last of a chain.
const none = -1

// newMerging starts a merge with a book that may come to hold so many entries.
func newMerging(book Contents, most int, decide Decision) *merging {
	m := &merging{
		decide: decide, seed: maphash.MakeSeed(), chains: make(map[uint64]chain, most),
		next: make([]int, 0, most), takenBy: make([]int, 0, most), untaken: make([]int, 0, most),
	}
	m.Comments = book.Comments
	m.Extra = slices.Clone(book.Extra)
	m.Entries = make([]Entry, 0, most)
	for i := range book.Entries {
		m.append(&book.Entries[i], 0)
	}
	return m
}

func (m *merging) append(e *Entry, log int) {
	h, place := maphash.Comparable(m.seed, identify(e.Run)), len(m.Entries)
	c, known := m.chains[h]
	if known {
		m.next[c.last] = place
	} else {
		c.first = place
	}
	c.last = place
	m.chains[h] = c
	m.Entries = append(m.Entries, *e)
	m.next, m.untaken = append(m.next, none), append(m.untaken, none)
	m.takenBy = append(m.takenBy, log)
}

// candidates yields the places of the entries that are the run e, in the order of the
// book. A day's entry that is a row of this log already is another run of that day.
func (m *merging) candidates(e *Entry, log int) iter.Seq[int] {
	return func(yield func(int) bool) {
		id := identify(e.Run)
		c, known := m.chains[maphash.Comparable(m.seed, id)]
		if !known {
			return
		}
		for at := c.first; at != none; at = m.next[at] {
			if !e.HasTime {
				if at = m.firstUntaken(at, log); at == none {
					return
				}
			}
			if identify(m.Entries[at].Run) == id && !yield(at) {
				return
			}
		}
	}
}

// firstUntaken returns the first entry of a chain, from a place on, that a log has not
// taken. It shortens the way there for the next who asks.
func (m *merging) firstUntaken(from, log int) int {
	to := from
	for to != none && m.takenBy[to] == log {
		to = m.untaken[to]
	}
	for from != to {
		from, m.untaken[from] = m.untaken[from], to
	}
	return to
}

// add merges one log. What the book has word for word is settled first, then what it
// agrees with, so that the order of rows does not matter.
func (m *merging) add(log *Contents) {
	m.tallies = append(m.tallies, Tally{})
	number := len(m.tallies)
	tally := &m.tallies[number-1]
	columns := m.join(log.Extra)
	copy(m.untaken, m.next) // none is taken by this log yet
	var rest []int
	for i := range log.Entries {
		e := placed(&log.Entries[i], columns, len(m.Extra))
		if at := m.wordForWord(e, number); at != none {
			m.takenBy[at] = number
			tally.Known++
		} else {
			rest = append(rest, i)
		}
	}
	for _, i := range rest {
		m.place(placed(&log.Entries[i], columns, len(m.Extra)), number, tally)
	}
}

// wordForWord returns the place of the first candidate that is written as e is, or none.
func (m *merging) wordForWord(e *Entry, log int) int {
	for at := range m.candidates(e, log) {
		if sameEntry(&m.Entries[at], e) {
			return at
		}
	}
	return none
}

// place finds the place of an entry that the book does not have word for word.
func (m *merging) place(e *Entry, log int, tally *Tally) {
	candidates := slices.Collect(m.candidates(e, log))
	agreeing := slices.DeleteFunc(slices.Clone(candidates), func(at int) bool { return !agree(&m.Entries[at], e) })
	switch {
	case len(candidates) == 0:
		m.append(e, log)
		tally.Added++
	case len(agreeing) > 0 && m.settled(agreeing, e):
		m.complete(m.fullest(agreeing, e), e, log, tally)
	default:
		m.settle(candidates[0], e, log, tally)
	}
}

// join adds the columns of a log to the book's, and returns their places there.
func (m *merging) join(headers []string) []int {
	places := make([]int, len(headers))
	for i, h := range headers {
		at := slices.Index(m.Extra, h)
		if at < 0 {
			at = len(m.Extra)
			m.Extra = append(m.Extra, h)
		}
		places[i] = at
	}
	return places
}

// placed returns an entry with its further cells at their places in the book.
func placed(e *Entry, places []int, width int) *Entry {
	if len(e.Extra) == 0 {
		return e
	}
	to := &Entry{Run: e.Run, Extra: make([]string, width)}
	for i, cell := range e.Extra {
		to.Extra[places[i]] = cell
	}
	return to
}

// fullest returns the first of the places whose entry says all that e says, or else the
// first.
func (m *merging) fullest(places []int, e *Entry) int {
	for _, at := range places {
		if m.says(at, e) {
			return at
		}
	}
	return places[0]
}

// says reports whether the entry at a place, which agrees with e, says all of it.
func (m *merging) says(at int, e *Entry) bool {
	whole := union(&m.Entries[at], e)
	return sameEntry(&whole, &m.Entries[at])
}

// settled reports whether it is clear which of the entries that agree with e is e: one
// says all of it, or they are all the same.
func (m *merging) settled(places []int, e *Entry) bool {
	first := &m.Entries[places[0]]
	differs := func(at int) bool { return !sameEntry(&m.Entries[at], first) }
	return slices.ContainsFunc(places, func(at int) bool { return m.says(at, e) }) || !slices.ContainsFunc(places, differs)
}

// complete fills the blanks of an entry from one that agrees with it.
func (m *merging) complete(at int, e *Entry, log int, tally *Tally) {
	m.takenBy[at] = log
	if m.says(at, e) {
		tally.Known++
		return
	}
	m.Entries[at] = union(&m.Entries[at], e)
	tally.Completed++
}

// settle deals with an entry that contradicts the one at a place.
func (m *merging) settle(at int, e *Entry, log int, tally *Tally) {
	switch {
	case m.decide == KeepBoth:
		m.append(e, log)
		tally.Added++
	case m.decide == Replace && m.takenBy[at] != log:
		m.takenBy[at] = log
		m.Entries[at] = overlaid(&m.Entries[at], e)
		tally.Replaced++
	default:
		m.conflicts = append(m.conflicts, Conflict{m.Entries[at], *e, m.differences(&m.Entries[at], e)})
	}
}

// overlaid returns the values of e, and in the columns that runlog does not read those
// of old where e has none.
func overlaid(old, e *Entry) Entry {
	extra := make([]string, max(len(old.Extra), len(e.Extra)))
	for k := range extra {
		if extra[k] = e.extra(k); extra[k] == "" {
			extra[k] = old.extra(k)
		}
	}
	return Entry{e.Run, extra}
}

// agree reports whether two entries of one run contradict each other nowhere.
func agree(a, b *Entry) bool {
	if a.Gearing != b.Gearing || a.Tire != b.Tire || a.Ambient != b.Ambient || a.Minutes != b.Minutes {
		return false
	}
	for _, p := range run.Parts {
		if !readingsAgree(a.Peak, b.Peak, p) || !readingsAgree(a.Start, b.Start, p) {
			return false
		}
	}
	if a.Cells != b.Cells && a.Cells != 0 && b.Cells != 0 {
		return false
	}
	for _, pair := range [][2]string{{a.Motor, b.Motor}, {a.Surface, b.Surface}, {a.Cooling, b.Cooling}, {a.Note, b.Note}} {
		if !textsAgree(pair[0], pair[1]) {
			return false
		}
	}
	for k := range max(len(a.Extra), len(b.Extra)) {
		if !textsAgree(a.extra(k), b.extra(k)) {
			return false
		}
	}
	return true
}

func textsAgree(a, b string) bool { return a == b || a == "" || b == "" }

func readingsAgree(a, b run.Readings, p run.Part) bool {
	x, inA := a.Of(p)
	y, inB := b.Of(p)
	return x == y || !inA || !inB
}

// union returns what two entries that agree say together.
func union(a, b *Entry) Entry {
	both := *a.Run
	u := Entry{Run: &both}
	u.Extra = make([]string, max(len(a.Extra), len(b.Extra)))
	for k := range u.Extra {
		u.Extra[k] = either(a.extra(k), b.extra(k))
	}
	for _, p := range run.Parts {
		if c, taken := b.Peak.Of(p); taken {
			u.Peak.Set(p, c)
		}
		if c, taken := b.Start.Of(p); taken {
			u.Start.Set(p, c)
		}
	}
	u.StoppedByHeat = a.StoppedByHeat || b.StoppedByHeat
	u.Skip = a.Skip || b.Skip
	u.Cells = max(a.Cells, b.Cells)
	u.Motor, u.Surface = either(a.Motor, b.Motor), either(a.Surface, b.Surface)
	u.Cooling, u.Note = either(a.Cooling, b.Cooling), either(a.Note, b.Note)
	return u
}

func either(a, b string) string {
	if a == "" {
		return b
	}
	return a
}

// differences lists the columns in which two entries differ.
func (m *merging) differences(kept, e *Entry) []Difference {
	var all []Difference
	add := func(column, a, b string) {
		if a != b {
			all = append(all, Difference{column, a, b})
		}
	}
	old, own := runlog.Written(*kept.Run), runlog.Written(*e.Run)
	for i, column := range runlog.WrittenColumns() {
		add(column, old[i], own[i])
	}
	for k, column := range m.Extra {
		add(column, kept.extra(k), e.extra(k))
	}
	return slices.Clip(all)
}
