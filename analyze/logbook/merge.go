package logbook

import (
	"maps"
	"slices"
	"time"

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
	KeepBook                  // the book's values count, and the log's run is left out
)

// Decider decides conflicts: a [Decision] all of them in the same way, others each by itself.
type Decider interface {
	Decide(Conflict) Decision
}

// Decide returns d where it can decide a conflict unseen. Rows of one log are equals, so that
// neither takes the other's place, and it is for the book's values alone that [KeepBook] can speak.
func (d Decision) Decide(c Conflict) Decision {
	if d == Replace && c.SameLog || d == KeepBook && !c.InBook {
		return Undecided
	}
	return d
}

// Merged is what became of a book and logs.
type Merged struct {
	Contents
	// Changed is false if Contents is just what the book held.
	Changed bool
	Tallies []Tally // one for each log
	Told    Told    // what copies of the book brought
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
	LeftOut   int // left out, as other values of the same run count
	Deleted   int // by a copy of the book
}

// Conflict is one run with two sets of values. Where each was read is its Position.
type Conflict struct {
	Kept, New   Entry
	Differences []Difference
	InBook      bool // Kept is the book's, and no row of these logs
	SameLog     bool // a row of the log that has New stands for Kept too
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
//   - car and labels are read without regard to case and blanks, and written as they were first;
//   - a run that says something else is a conflict, and so is one that could fill the
//     blanks of several runs of a day. decide says what becomes of it: see [Decision.Decide].
//
// Merge is idempotent: merging a log once more changes nothing. It commutes where neither
// order meets a conflict, but for the order of runs within a day, and every run of book
// and logs is in the outcome unless a decision left it out, or a copy deleted it.
func Merge(book Contents, logs []Contents, decide Decider) Merged {
	was, tallies := book, make([]Tally, len(logs))
	var told Told
	for i, log := range logs {
		if log.keys != nil {
			book, tallies[i], told = joined(book, log, told)
		}
	}
	most := len(book.Entries) // of the runs that may have to be told apart
	for _, log := range logs {
		most = max(most, len(log.Entries))
	}
	m := merging{
		Contents: Contents{Comments: book.Comments, Extra: slices.Clone(book.Extra), Entries: make([]Entry, 0, most), keys: book.keys},
		book:     book.Entries, decide: decide, groups: make(map[identity]*group, most), spelling: spelling{},
	}
	for _, e := range book.Entries {
		m.spelling.of(e) // what the book has stays as it is written
		m.append(m.group(e), e)
	}
	for i, log := range logs {
		if log.keys != nil {
			m.tallies = append(m.tallies, tallies[i])
		} else {
			m.add(log)
		}
	}
	out := Merged{Contents: was, Tallies: m.tallies, Conflicts: m.conflicts, Told: told}
	if len(m.conflicts) > 0 {
		return out
	}
	out.keys = m.keys
	// A book that is in no order of time, as someone saved it, is no reason to write it.
	if told.any() || !sameEntries(m.Entries, book.Entries) {
		m.sort()
		out.Contents, out.Changed = m.Contents, true
	}
	return out
}

// sort puts entries into the order of time. Those of one moment stay in their order.
func (c *Contents) sort() {
	slices.SortStableFunc(c.Entries, func(a, b Entry) int { return a.When.Compare(b.When) })
}

func sameEntries(a, b []Entry) bool { return slices.EqualFunc(a, b, sameEntry) }

// sameEntry reports whether two entries say the same of a run. Its number is none of a log's business.
func sameEntry(a, b Entry) bool {
	r := *b.Run
	r.Position, r.Number, r.When = a.Position, a.Number, a.When
	return momentOf(a.Run) == momentOf(b.Run) && *a.Run == r && maps.Equal(a.Extra, b.Extra)
}

// moment tells moments apart. A time without a zone is on a clock of its own.
type moment struct {
	seconds, nanoseconds int64
	timed, zoned         bool
}

func momentOf(r *run.Run) moment {
	return moment{r.When.Unix(), int64(r.When.Nanosecond()), r.HasTime, r.When.Location() != time.UTC}
}

// identity is what makes an entry the run that it is.
type identity struct {
	car string
	moment
	values any // of a run whose moment does not tell: dayValues, else nil
}

type dayValues struct {
	gearing     drivetrain.Gearing
	tire        units.Millimeters
	ambient     units.Celsius
	minutes     units.Minutes
	peak, start run.Readings
}

func identify(r *run.Run) identity {
	id := identity{car: run.Fold(r.Car), moment: momentOf(r)}
	if !r.HasTime {
		id.values = dayValues{r.Gearing, r.Tire, r.Ambient, r.Minutes, r.Peak, r.Start}
	}
	return id
}

type merging struct {
	Contents
	book      []Entry
	decide    Decider
	groups    map[identity]*group
	spelling  spelling
	tallies   []Tally
	conflicts []Conflict
}

// group holds the places of the entries of one identity, in the order of the book.
type group struct {
	all  []int
	free []int // those that are no row of the log being merged
	log  int   // the log, counted from 1, for which free holds
}

// labels are the columns in which case and blanks make no difference.
var labels = map[string]func(*run.Run) *string{
	"car":     func(r *run.Run) *string { return &r.Car },
	"motor":   func(r *run.Run) *string { return &r.Motor },
	"surface": func(r *run.Run) *string { return &r.Surface },
	"cooling": func(r *run.Run) *string { return &r.Cooling },
}

// label is one label as it is compared.
type label struct{ column, folded string }

// spelling is how each label was written first.
type spelling map[label]string

// of returns an entry with its labels as they were written first, which may be in it.
func (s spelling) of(e Entry) Entry {
	for column, at := range labels {
		text := *at(e.Run)
		if text == "" {
			continue
		}
		key := label{column, run.Fold(text)}
		switch first, known := s[key]; {
		case !known:
			s[key] = text
		case first != text:
			e = e.withNumber(e.Number)
			*at(e.Run) = first
		}
	}
	return e
}

// withNumber returns a copy of e, as that is not to be changed, with another number.
func (e Entry) withNumber(number int) Entry {
	r := *e.Run
	r.Number = number
	return Entry{&r, e.Extra}
}

// candidates returns the places of the entries that may be the run e. A day's entry that is
// a row of this log already is another run of that day.
func (g *group) candidates(e Entry) []int {
	if e.HasTime {
		return g.all
	}
	return g.free
}

// take makes the entry at a place a row of the log. Only what stands before it moves, so that
// it costs no more than to find it.
func (g *group) take(place int) {
	if i := slices.Index(g.free, place); i >= 0 {
		copy(g.free[1:i+1], g.free[:i])
		g.free = g.free[1:]
	}
}

// group returns the group of an entry, which is new if the book holds no such run.
func (m *merging) group(e Entry) *group {
	id, log := identify(e.Run), len(m.tallies)
	g := m.groups[id]
	switch {
	case g == nil:
		g = &group{log: log}
		m.groups[id] = g
	case g.log != log:
		g.free, g.log = slices.Clone(g.all), log
	}
	return g
}

func (m *merging) append(g *group, e Entry) {
	g.all = append(g.all, len(m.Entries))
	m.Entries = append(m.Entries, e)
}

// add merges one log. What the book has word for word comes first, then what it agrees
// with, so that the order of rows does not matter.
func (m *merging) add(log Contents) {
	m.tallies = append(m.tallies, Tally{})
	tally := &m.tallies[len(m.tallies)-1]
	for _, header := range log.Extra {
		if !slices.Contains(m.Extra, header) {
			m.Extra = append(m.Extra, header)
		}
	}
	type newcomer struct {
		*group
		Entry
	}
	var rest []newcomer
	for _, e := range log.Entries {
		e = m.spelling.of(e)
		g := m.group(e)
		candidates := g.candidates(e)
		same := func(at int) bool { return sameEntry(m.Entries[at], e) }
		if k := slices.IndexFunc(candidates, same); k >= 0 {
			g.take(candidates[k])
			tally.Known++
		} else {
			rest = append(rest, newcomer{g, e})
		}
	}
	for _, n := range rest {
		m.place(n.group, n.Entry, tally)
	}
}

// place adds an entry that the book does not have word for word, or unites it with the
// entry that it is.
func (m *merging) place(g *group, e Entry, tally *Tally) {
	candidates := g.candidates(e)
	if len(candidates) == 0 {
		m.append(g, e.withNumber(0))
		tally.Added++
		return
	}
	var agreeing []int
	for _, at := range candidates {
		if agree(m.differences(m.Entries[at], e)) {
			agreeing = append(agreeing, at)
		}
	}
	saysAll := func(at int) bool { return sameEntry(union(m.Entries[at], e), m.Entries[at]) }
	differs := func(at int) bool { return !sameEntry(m.Entries[at], m.Entries[agreeing[0]]) }
	at := candidates[0]
	if k := slices.IndexFunc(agreeing, saysAll); k >= 0 {
		g.take(agreeing[k])
		tally.Known++
	} else if len(agreeing) > 0 && !slices.ContainsFunc(agreeing, differs) {
		at = agreeing[0]
		g.take(at)
		m.Entries[at] = union(m.Entries[at], e)
		tally.Completed++
	} else {
		m.settle(g, at, e, tally)
	}
}

// settle does what is decided of an entry that contradicts the one at a place.
func (m *merging) settle(g *group, at int, e Entry, tally *Tally) {
	kept := m.Entries[at]
	c := Conflict{Kept: kept, New: e, Differences: m.differences(kept, e),
		InBook: at < len(m.book) && kept.Position == m.book[at].Position, SameLog: !slices.Contains(g.free, at)}
	switch m.decide.Decide(c) {
	case KeepBoth:
		m.append(g, e.withNumber(0))
		tally.Added++
	case KeepBook:
		g.take(at)
		tally.LeftOut++
	case Replace:
		g.take(at)
		m.Entries[at] = Entry{e.withNumber(kept.Number).Run, filled(e.Extra, kept.Extra)}
		if at < len(m.book) {
			tally.Replaced++
		} else {
			tally.LeftOut++ // the row that was there
		}
	default:
		m.conflicts = append(m.conflicts, c)
	}
}

// filled returns further cells with those of others where there are none.
func filled(cells, others map[string]string) map[string]string {
	all := map[string]string{}
	maps.Copy(all, others)
	maps.Copy(all, cells)
	return all
}

var columns = runlog.Columns()

// union returns what two entries that agree say together.
func union(a, b Entry) Entry {
	both := *a.Run
	for i := range columns {
		if columns[i].Of(&both) == "" {
			columns[i].Copy(&both, b.Run)
		}
	}
	return Entry{&both, filled(a.Extra, b.Extra)}
}

// differences lists the columns in which two entries of contents differ, but for their numbers.
func (c *Contents) differences(kept, e Entry) []Difference {
	var all []Difference
	add := func(column, a, b string) {
		if a != b {
			all = append(all, Difference{column, a, b})
		}
	}
	for i := range columns {
		name, a, b := columns[i].Name(), columns[i].Of(kept.Run), columns[i].Of(e.Run)
		if name != runlog.NumberColumn && (labels[name] == nil || run.Fold(a) != run.Fold(b)) {
			add(name, a, b)
		}
	}
	for _, header := range c.Extra {
		add(header, kept.Extra[header], e.Extra[header])
	}
	return all
}

// agree reports whether two entries of one run contradict each other in none of the columns
// in which they differ. A blank contradicts nothing, and the same moment may be written in
// another zone.
func agree(differences []Difference) bool {
	return !slices.ContainsFunc(differences, func(d Difference) bool {
		return d.Kept != "" && d.New != "" && d.Column != "date"
	})
}
