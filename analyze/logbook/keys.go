package logbook

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"regear/analyze/run"
	"regear/analyze/runlog"
)

// keys tell the runs of one copy of a book from those of another, whatever their numbers and values.
//
// They lie beside the book, so that nobody who opens it in a spreadsheet has to spare a column, and
// are set right whenever the book is changed: a row that is new by then gets a key, one with other
// values was changed, and one that is gone was deleted.
type keys struct {
	last int // the highest number that a run of any copy has or had, as far as is known here
	all  map[string]keyed
	sums map[*run.Run]string // of the entries that were followed last, which are not changed
}

// keyed is what is known of the run of a key.
type keyed struct {
	number  int       // that it has, or had when it was deleted
	changed time.Time // its last change since it was entered, or since there are keys; zero for none
	sum     string    // of what it says, "" for a deleted one
	same    string    // the key by which it goes, as it is one run with that one; "" for its own
}

// newer compares two states of one run. The later change counts, and of two at once any, but the
// same one everywhere: what is there before what is deleted.
func (k keyed) newer(other keyed) int {
	return cmp.Or(k.changed.Compare(other.changed), strings.Compare(k.sum, other.sum))
}

// lastKey stands in the place of a key on the line of the highest number.
const lastKey = "last"

var keyColumns = []string{"key", runlog.NumberColumn, "changed_at", "sum", "same_as"}

// readKeys reads what [keys.text] wrote. A line that can't be read is passed over: its run gets
// another key, which is found to be the same run where copies meet.
func readKeys(text []byte) *keys {
	k := &keys{last: lastIn(text), all: map[string]keyed{}}
	in := csv.NewReader(bytes.NewReader(text))
	in.Comment, in.FieldsPerRecord, in.LazyQuotes = '#', len(keyColumns), true
	for {
		cells, err := in.Read()
		switch {
		case err == io.EOF:
			return k
		case err != nil:
			continue
		}
		number, numberErr := strconv.Atoi(cells[1])
		changed, timeErr := time.Parse(time.RFC3339Nano, cells[2])
		switch {
		case numberErr != nil || cells[0] == lastKey:
		case timeErr == nil || cells[2] == "":
			k.all[cells[0]] = keyed{number, changed, cells[3], cells[4]}
		}
	}
}

// lastIn returns the highest number in what [keys.text] wrote, without reading the keys.
func lastIn(text []byte) int {
	_, line, _ := bytes.Cut(text, []byte("\n"+lastKey+","))
	number, _, _ := bytes.Cut(line, []byte(","))
	last, _ := strconv.Atoi(string(number)) // 0 where there is none
	return last
}

// text returns k as it is kept, in the order of keys.
func (k *keys) text() []byte {
	text := bytes.NewBufferString("# What tells the runs of this log book from those of a copy of it. regear writes it; without it runs are told by car and moment.\n")
	out := csv.NewWriter(text) // which can't fail: it writes to memory
	out.Write(keyColumns)
	out.Write([]string{lastKey, strconv.Itoa(k.last), "", "", ""})
	for _, key := range slices.Sorted(maps.Keys(k.all)) {
		one := k.all[key]
		changed := ""
		if !one.changed.IsZero() {
			changed = one.changed.UTC().Format(time.RFC3339Nano)
		}
		out.Write([]string{key, strconv.Itoa(one.number), changed, one.sum, one.same})
	}
	out.Flush()
	return text.Bytes()
}

// sumOf returns a sum of all that an entry says, but for its number. A cell that is blank makes no
// difference, so that a further column makes none to the runs that lack it.
func sumOf(e Entry) string {
	text := make([]byte, 0, 512)
	add := func(name, cell string) {
		if cell != "" {
			text = append(append(append(append(text, name...), 0), cell...), 0)
		}
	}
	for i := range summed {
		add(summed[i].Name(), summed[i].Of(e.Run))
	}
	for _, header := range slices.Sorted(maps.Keys(e.Extra)) {
		add("\x00"+header, e.Extra[header])
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}

// summed are the columns that a sum is of.
var summed = slices.DeleteFunc(runlog.Columns(), func(c runlog.Column) bool {
	return !c.Written() || c.Name() == runlog.NumberColumn
})

// newKey returns the key of a run that is entered at a moment. The earlier one is the smaller. Two
// copies that find the same run under the same number, in the same millisecond or in a book of
// before there were keys, give it the same one.
func newKey(at time.Time, number int, sum string) string {
	h := sha256.Sum256(fmt.Appendf(nil, "%d %s", number, sum))
	return fmt.Sprintf("%012x-%x", max(0, at.UnixMilli()), h[:6])
}

// follow makes k the keys of what a book holds at a moment, all of whose runs have numbers. It
// returns the key of each entry.
func (k *keys) follow(entries []Entry, at time.Time) []string {
	of := make([]string, len(entries))
	taken := map[string]bool{}
	byNumber, bySum := map[int][]string{}, map[string][]string{}
	for _, key := range slices.Sorted(maps.Keys(k.all)) {
		if one := k.all[key]; one.same == "" {
			byNumber[one.number] = append(byNumber[one.number], key)
			bySum[one.sum] = append(bySum[one.sum], key)
		}
	}
	sums, known := make([]string, len(entries)), k.sums
	k.sums = make(map[*run.Run]string, len(entries))
	for i, e := range entries {
		if sums[i] = known[e.Run]; sums[i] == "" {
			sums[i] = sumOf(e)
		}
		k.sums[e.Run] = sums[i]
	}
	// A run keeps its key by number and values, by values where a spreadsheet lost the number, and
	// by the number where its values changed or it was deleted and is back.
	match := func(among func(i int) []string, is func(i int, one keyed) bool) {
		for i := range entries {
			if of[i] != "" {
				continue
			}
			for _, key := range among(i) {
				if !taken[key] && is(i, k.all[key]) {
					of[i], taken[key] = key, true
					break
				}
			}
		}
	}
	number := func(i int) []string { return byNumber[entries[i].Number] }
	match(number, func(i int, one keyed) bool { return one.sum == sums[i] })
	match(func(i int) []string {
		// Of many runs that say the same, those that are taken are passed over once and for all.
		alike := bySum[sums[i]]
		for len(alike) > 0 && taken[alike[0]] {
			alike = alike[1:]
		}
		bySum[sums[i]] = alike
		return alike
	}, func(int, keyed) bool { return true })
	match(number, func(_ int, one keyed) bool { return one.sum != "" })
	match(number, func(int, keyed) bool { return true })
	for i, e := range entries {
		k.last = max(k.last, e.Number)
		one := k.all[of[i]]
		switch {
		case of[i] == "":
			of[i] = newKey(at, e.Number, sums[i])
		case one.sum != sums[i]:
			one.changed = after(at, one.changed)
		}
		one.number, one.sum = e.Number, sums[i]
		k.all[of[i]] = one
		taken[of[i]] = true
	}
	for key, one := range k.all {
		if !taken[key] && one.same == "" && one.sum != "" {
			one.sum, one.changed = "", after(at, one.changed)
			k.all[key] = one
		}
	}
	return of
}

// after returns a moment that is not before another: who saw a change and changed the run again
// comes later, whatever the clocks say.
func after(at, other time.Time) time.Time {
	if !at.After(other) && !other.IsZero() {
		return other.Add(time.Millisecond)
	}
	return at
}
