package logbook

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"regear/analyze/run"
)

// Why a run could not be changed or deleted. The book was left as it is.
var (
	ErrNoSuchRun  = errors.New("the log book holds no such run")
	ErrRunChanged = errors.New("the run has changed since it was shown: look at it as it is now, then try again")
)

// Edited is what became of a run that was edited.
type Edited struct {
	Run     run.Run // as the book holds it now
	Changed []Difference
	// Conflict is the run that the book holds already, nil if there is none: the edit would make
	// two runs one. Then the book was left as it is.
	Conflict *Conflict
}

// Edit changes the run that has the number of from, which must still be as from says, to what
// to says. It fails with [ErrNoSuchRun] or [ErrRunChanged]. Cells that runlog does not read
// stay.
func (b Book) Edit(from, to run.Run) (edited Edited, err error) {
	err = b.change(nil, func(book Contents, _ string) (*Contents, Change, error) {
		at, err := book.find(&from)
		if err != nil {
			return nil, Change{}, err
		}
		others := slices.Delete(slices.Clone(book.Entries), at, at+1)
		old, e := book.Entries[at], Entry{Run: &to, Extra: book.Entries[at].Extra}
		to.Number, to.Position = old.Number, old.Position
		roundAll(e.Run)
		written := spelling{}
		for _, other := range others {
			written.of(other)
		}
		e = written.of(e)
		edited.Run = *e.Run
		if sameEntry(e, old) {
			return nil, Change{}, nil
		}
		id := identify(e.Run)
		twin := slices.IndexFunc(others, func(other Entry) bool { return identify(other.Run) == id })
		if twin >= 0 && id != identify(old.Run) {
			edited.Conflict = &Conflict{Kept: others[twin], New: e, Differences: book.differences(others[twin], e), InBook: true}
			return nil, Change{}, nil
		}
		edited.Changed = book.differences(old, e)
		book.Entries = append(others, e)
		book.sort()
		return &book, Change{What: "changed " + brief(old.Run) + edited.what(), Run: old.Number}, nil
	})
	return edited, err
}

// Delete deletes runs, each of which must still be as it is said to be. It fails as
// [Book.Edit] does.
func (b Book) Delete(runs ...run.Run) error {
	return b.change(nil, func(book Contents, _ string) (*Contents, Change, error) {
		gone := map[int]bool{}
		for _, r := range runs {
			at, err := book.find(&r)
			if err != nil {
				return nil, Change{}, err
			}
			gone[book.Entries[at].Number] = true
		}
		book.Entries = slices.DeleteFunc(slices.Clone(book.Entries), func(e Entry) bool { return gone[e.Number] })
		as := Change{What: "deleted " + brief(&runs[0]), Run: runs[0].Number}
		if len(gone) > 1 {
			as = Change{What: fmt.Sprintf("deleted %d runs", len(gone))}
		}
		return &book, as, nil
	})
}

// find returns the place of a run that must still be as it is said to be.
func (c *Contents) find(said *run.Run) (at int, err error) {
	r := *said
	roundAll(&r) // as the book has it
	at = slices.IndexFunc(c.Entries, func(e Entry) bool { return e.Number == r.Number })
	switch {
	case at < 0:
		return at, fmt.Errorf("run %d: %w", r.Number, ErrNoSuchRun)
	case len((&Contents{}).differences(c.Entries[at], Entry{Run: &r})) > 0:
		return at, fmt.Errorf("run %d: %w", r.Number, ErrRunChanged)
	}
	return at, nil
}

// brief names a run in the history.
func brief(r *run.Run) string {
	return fmt.Sprintf("run %d (%s, %s, %d/%d teeth)", r.Number, r.Car, r.Date(), r.Gearing.Pinion, r.Gearing.Spur)
}

// what says what an edit changed, if that is little.
func (e *Edited) what() string {
	const most = 3
	if len(e.Changed) > most {
		return fmt.Sprintf(": %d columns", len(e.Changed))
	}
	var each []string
	for _, d := range e.Changed {
		each = append(each, fmt.Sprintf("%s %s → %s", d.Column, orBlank(d.Kept), orBlank(d.New)))
	}
	return ": " + strings.Join(each, ", ")
}

func orBlank(cell string) string {
	if cell == "" {
		return "blank"
	}
	return run.Printable(cell)
}

// change says what was merged.
func (m *Merged) change() Change {
	if m.Told.any() {
		return Change{What: m.Told.what(), Beside: []string{keysName}}
	}
	var sum Tally
	for _, t := range m.Tallies {
		sum.Added, sum.Completed, sum.Replaced = sum.Added+t.Added, sum.Completed+t.Completed, sum.Replaced+t.Replaced
	}
	if sum == (Tally{Added: 1}) {
		added := slices.MaxFunc(m.Entries, func(a, b Entry) int { return a.Number - b.Number })
		return Change{What: "added " + brief(added.Run), Run: added.Number}
	}
	var each []string
	for _, part := range []struct {
		words string
		n     int
	}{{"added", sum.Added}, {"filled blanks of", sum.Completed}, {"replaced", sum.Replaced}} {
		switch part.n {
		case 0:
		case 1:
			each = append(each, part.words+" 1 run")
		default:
			each = append(each, fmt.Sprintf("%s %d runs", part.words, part.n))
		}
	}
	return Change{What: strings.Join(each, ", ")}
}
