package runlog

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

//go:embed names.csv
var namesFile string

// vocabulary is the table of words in names.csv.
type vocabulary struct {
	// meanings are those that a word, or some words in a row, may have in a header.
	meanings map[string][]meaning
	longest  int // the most words in a row
	// cells are the words in cells, by their meaning.
	cells map[string]map[string]bool
}

// meaning is one meaning of a word in a header: a bit of a set of them, or a unit.
type meaning struct {
	bit  uint64
	unit string
}

// names is the vocabulary. Only files in headers of their own need it, so that it is read late.
var names = sync.OnceValue(func() *vocabulary {
	v := &vocabulary{meanings: map[string][]meaning{}, cells: map[string]map[string]bool{}}
	r := csv.NewReader(strings.NewReader(namesFile))
	r.Comment, r.FieldsPerRecord = '#', -1
	rows, err := r.ReadAll()
	if err != nil {
		panic(err) // it is embedded
	}
	for _, row := range rows {
		for _, word := range row[2:] {
			for _, spelt := range spellings(word) {
				v.add(row[0], spelt)
			}
		}
	}
	return v
})

// cellWords begin the meanings of words that stand in cells alone.
var cellWords = []string{"about", "unmeasured", "o_clock", "too_hot", "not", "sum", "yes", "no", "month_"}

func (v *vocabulary) add(means string, words []string) {
	key := strings.Join(words, " ")
	unit, isUnit := strings.CutPrefix(means, "unit_")
	if isUnit || means == "degree" || slices.ContainsFunc(cellWords, func(w string) bool { return means == w || strings.HasSuffix(w, "_") && strings.HasPrefix(means, w) }) {
		if v.cells[means] == nil {
			v.cells[means] = map[string]bool{}
		}
		v.cells[means][key] = true
		if !isUnit && means != "degree" {
			return
		}
	}
	m := meaning{unit: unit}
	switch {
	case means == "unit_teeth":
		return // in a header they are no unit, but what is counted
	case !isUnit:
		m = meaning{bit: bitOf(means)}
	}
	if !slices.Contains(v.meanings[key], m) {
		v.meanings[key] = append(v.meanings[key], m)
	}
	v.longest = max(v.longest, len(words))
}

// headerMeanings are the meanings of words in headers, each with its bit.
var headerMeanings = strings.Fields("filler degree date day clock time run duration car name pinion spur teeth number ratio internal final final_drive " +
	"tire diameter circumference size air temperature highest end start motor esc battery " +
	"stopped_by_heat cells surface cooling skip note")

func bitOf(means string) uint64 {
	at := slices.Index(headerMeanings, means)
	if at < 0 {
		panic("names.csv: no such meaning: " + means)
	}
	if at < 2 {
		return 0 // it changes nothing
	}
	return 1 << at
}

// wordsOf cuts a text into its words: small letters and digits, without accents.
func wordsOf(text string) []string {
	text = strings.NewReplacer("T°", "temp ", "t°", "temp ", "º", " ", "°", " ", "'s ", " ", "’s ", " ", "ß", "ss", "⌀", " ø ", "∅", " ø ", "Ø", " ø ", "ø", " ø ").Replace(text)
	if strings.IndexFunc(text, func(r rune) bool { return r > unicode.MaxASCII }) >= 0 {
		text = strings.Map(func(r rune) rune {
			if unicode.Is(unicode.Mn, r) {
				return -1
			}
			return r
		}, norm.NFKD.String(text))
	}
	return strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
}

// spellings returns a word of the table as it may be written, with umlauts and without.
func spellings(word string) [][]string {
	all := [][]string{wordsOf(word)}
	if other := strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "Ä", "ae", "Ö", "oe", "Ü", "ue").Replace(word); other != word {
		all = append(all, wordsOf(other))
	}
	return all
}

// says reports whether all words of a cell together have a meaning.
func (v *vocabulary) says(means, cell string) bool {
	return v.cells[means][strings.Join(wordsOf(cell), " ")]
}

// beginsWith reports whether the first word or words of a cell have a meaning, and how many they are.
func (v *vocabulary) beginsWith(means string, words []string) int {
	for n := min(len(words), v.longest); n > 0; n-- {
		if v.cells[means][strings.Join(words[:n], " ")] {
			return n
		}
	}
	return 0
}

// month returns the month that a word names, 0 for none.
func (v *vocabulary) month(word string) int {
	for month := 1; month <= 12; month++ {
		if v.cells[fmt.Sprintf("month_%d", month)][word] {
			return month
		}
	}
	return 0
}

// unitOf returns the unit that a cell's text behind its number names, "degree" for a bare one, or "".
func (v *vocabulary) unitOf(text string) string {
	words := wordsOf(text)
	if len(words) == 2 && v.cells["degree"][words[0]] {
		words = words[1:]
	}
	key := strings.Join(words, " ")
	for unit := range unitNames {
		if v.cells["unit_"+unit][key] {
			return unit
		}
	}
	if v.cells["degree"][key] {
		return "degree"
	}
	return ""
}

// heard is what the words of a header mean.
type heard struct {
	sets  []uint64 // of meanings, of which it has one; nil where a word is not known
	unit  string
	other string // another unit, which contradicts the first
	aside bool   // brackets hold words that are not known
}

// hear finds the meanings of a header. strict is false where words that are not known are
// passed over, which serves hints alone.
func (v *vocabulary) hear(header string, strict bool) heard {
	const longest = 80
	if len(header) > longest {
		return heard{}
	}
	name, inside := cutBrackets(header)
	h := heard{sets: []uint64{0}}
	if strings.ContainsAny(inside, `"″`) || strings.HasSuffix(strings.TrimSpace(name), `"`) {
		h.unit = "in"
	}
	outer := wordsOf(name)
	if !v.take(&h, outer, false) && strict {
		return heard{}
	}
	if inner := wordsOf(inside); len(inner) > 0 {
		with := heard{sets: slices.Clone(h.sets), unit: h.unit, other: h.other}
		if v.take(&with, inner, true) {
			return with
		}
		h.aside = true
		for _, word := range inner { // a unit stands among words that are not known
			if len(word) > 2 || slices.Contains(shortUnits, word) {
				for _, m := range v.meanings[word] {
					h.take(m.unit)
				}
			}
		}
	}
	return h
}

func (h *heard) take(unit string) {
	switch {
	case unit == "" || unit == h.unit:
	case h.unit == "":
		h.unit = unit
	default:
		h.other = unit
	}
}

const mostParts = 4 // of a compound word

// take adds the meanings of words to those that were heard, and reports whether all are known.
func (v *vocabulary) take(h *heard, words []string, inBrackets bool) bool {
	known := true
	for at := 0; at < len(words); {
		found, n := v.longestAt(words[at:])
		last := at+n == len(words)
		at += max(n, 1)
		if n == 0 {
			if parts := v.compound(words[at-1], mostParts); parts != nil {
				for _, part := range parts {
					h.add(v.meanings[part])
				}
			} else {
				known = false
			}
			continue
		}
		isWord := slices.ContainsFunc(found, func(m meaning) bool { return m.unit == "" })
		if !isWord {
			if word := words[at-1]; word == "in" && !last {
				continue // as in "in mm"
			} else if len(word) <= 2 && !slices.Contains(shortUnits, word) && !last && !inBrackets {
				known = false // "in" and "s" are units at the end alone
				continue
			}
			h.take(found[0].unit)
			continue
		}
		h.add(found)
	}
	return known
}

// add lets every set that was heard go on with each of the meanings of one more word.
func (h *heard) add(meanings []meaning) {
	const most = 64
	var sets []uint64
	for _, set := range h.sets {
		for _, m := range meanings {
			if next := set | m.bit; m.unit == "" && len(sets) < most && !slices.Contains(sets, next) {
				sets = append(sets, next)
			}
		}
	}
	h.sets = sets
}

func (v *vocabulary) longestAt(words []string) (found []meaning, n int) {
	for n = min(len(words), v.longest); n > 0; n-- {
		if found = v.meanings[strings.Join(words[:n], " ")]; found != nil {
			return found, n
		}
	}
	return nil, 0
}

// compound parts a word such as "reifendurchmesser" into words that are known, as many as most, nil
// if it has none.
func (v *vocabulary) compound(word string, most int) []string {
	const shortest = 3
	switch {
	case word == "":
		return []string{}
	case most == 0:
		return nil
	}
	for n := len(word); n >= shortest; n-- {
		if !slices.ContainsFunc(v.meanings[word[:n]], func(m meaning) bool { return m.bit != 0 }) {
			continue
		}
		for _, link := range []string{"", "s", "n", "en", "e"} {
			if rest, ok := strings.CutPrefix(word[n:], link); ok {
				if parts := v.compound(rest, most-1); parts != nil {
					return append([]string{word[:n]}, parts...)
				}
			}
		}
	}
	return nil
}

// clock is the place of a column in what headers can mean that the table of columns does not
// have: the time of day, which belongs to the date.
const clock = "clock"

// pattern is a set of meanings that makes a column: all of needs, and what else of may.
type pattern struct {
	column     string // its name without its unit, or clock
	needs, may uint64
	proof      proof // what the unit or the cells have to show besides
}

// proof is what the cells of a column must show before a header of few words is taken for it.
type proof uint8

const (
	noProof    proof = iota
	asReadings       // a unit of temperature, or numbers that parts read
	asAir            // a unit of temperature, or numbers that air can be
	asRatio          // numbers that gears behind the spur make
	asDates          // dates
	asLengths        // a unit of length, or numbers
	asMinutes        // the unit min
	asDuration       // the unit min, or numbers without a colon
	asClock          // times of day
	asSeries         // cells in series, such as 3S
	asLabels         // words
)

var patterns = func() (all []pattern) {
	set := func(words string) (bits uint64) {
		for _, word := range strings.Fields(words) {
			bits |= bitOf(word)
		}
		return bits
	}
	add := func(column, needs, may string, p proof) {
		all = append(all, pattern{column, set(needs), set(may), p})
	}
	add("date", "date", "day time clock run end", noProof)
	add("date", "day", "time clock run", asDates)
	add(clock, "clock", "run end", noProof)
	add(clock, "end time", "run clock", asClock)
	add(clock, "time", "", asClock)
	add("run_minutes", "time", "", asDuration)
	add("run_minutes", "run time", "", noProof)
	add("run_minutes", "duration", "run time", noProof)
	add("run_minutes", "", "run", asMinutes)
	add("car", "car", "name", noProof)
	add("pinion_teeth", "pinion", "teeth number motor size", noProof)
	add("spur_teeth", "spur", "teeth number size", noProof)
	add("internal_ratio", "internal ratio", "", noProof)
	add("internal_ratio", "internal", "", asRatio)
	add("final_drive_ratio", "final ratio", "", noProof)
	add("final_drive_ratio", "final_drive", "ratio", noProof)
	add("internal_ratio", "ratio", "", noProof)
	add("final_drive_ratio", "ratio", "", noProof)
	add("tire_diameter", "tire diameter", "size", noProof)
	add("tire_diameter", "diameter", "size", asLengths)
	add("tire_diameter", "tire size", "", asLengths)
	add("tire_diameter", "tire", "", asLengths)
	add("tire_circumference", "circumference", "tire", noProof)
	add("ambient", "air temperature", "", noProof)
	add("ambient", "air", "", asAir)
	add("ambient", "temperature", "", noProof)
	for _, part := range []string{"motor", "esc", "battery"} {
		add(part+"_peak", part+" temperature", "highest end run", noProof)
		add(part+"_peak", part+" highest", "end run", noProof)
		add(part+"_peak", part+" end", "run", noProof)
		add(part+"_start", part+" start", "temperature run", noProof)
		add(part+"_peak", part, "", asReadings)
		add(part+"_peak", "temperature", "highest end", noProof)
	}
	add("motor", "motor name", "", noProof)
	add("motor", "motor", "", asLabels)
	add("cells", "battery", "", asSeries)
	add("cells", "cells", "number battery", noProof)
	for _, column := range []string{"stopped_by_heat", "surface", "cooling", "skip", "note"} {
		add(column, column, "run", noProof)
	}
	return all
}()

// columnOfQuantity holds the table's columns by their names without units.
var columnOfQuantity = func() map[string]*Column {
	all := map[string]*Column{}
	for i := range columns {
		all[columns[i].quantity] = &columns[i]
	}
	return all
}()

// unitFits reports whether a column can be in a unit, and whether it is of its kind at all.
func unitFits(column, unit string) (fits, sameKind bool) {
	if column == clock {
		return unit == "" || unit == "h", unit == "" || unit == "h"
	}
	c := columnOfQuantity[column]
	switch {
	case unit == "":
		return true, true
	case c.units != nil:
		return slices.Contains(c.units, unit), unitKinds[unit] == unitKinds[c.units[0]]
	case c.Unit == "min":
		return unit == "min", unitKinds[unit] == "time"
	}
	return false, column == "cells" && unit == "s"
}

// columnsHeard returns the columns that a header may stand for by its words and its unit. Those
// that need proof are left to proven.
func (h heard) columnsHeard(proven func(proof) bool) []string {
	var all []string
	for _, set := range h.sets {
		for _, p := range patterns {
			if set&p.needs != p.needs || set&^(p.needs|p.may) != 0 || p.proof != noProof && h.aside {
				continue
			}
			if _, sameKind := unitFits(p.column, h.unit); !sameKind || slices.Contains(all, p.column) {
				continue
			}
			if p.proof == asMinutes && h.unit != "min" || p.proof != noProof && !proven(p.proof) {
				continue
			}
			all = append(all, p.column)
		}
	}
	return all
}
