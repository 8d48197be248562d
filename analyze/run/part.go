package run

import (
	"iter"
	"slices"

	"regear/analyze/units"
)

// Part is a place where heat is read.
type Part uint8

// The parts a driver reads after a run.
const (
	Motor Part = iota
	ESC
	Battery
	numParts
)

// Parts lists every part, in the order in which answers name them.
var Parts = [numParts]Part{Motor, ESC, Battery}

var partNames = [numParts]string{"motor", "esc", "battery"}

// String returns the part's name in columns, flags and JSON.
func (p Part) String() string { return partNames[p] }

var partWords = [numParts]string{"motor", "ESC", "battery"}

// Word returns the part's name in a sentence.
func (p Part) Word() string { return partWords[p] }

// ParsePart returns the part called name, as String writes it.
func ParsePart(name string) (Part, bool) {
	at := slices.Index(partNames[:], name)
	return Part(max(at, 0)), at >= 0
}

// ByPart holds a value for some of the parts. A part without one is absent, never zero;
// the zero ByPart holds none.
type ByPart[T any] struct {
	values [numParts]T
	has    [numParts]bool
}

// Set records the value of p.
func (b *ByPart[T]) Set(p Part, value T) { b.values[p], b.has[p] = value, true }

// With returns b with value as that of p.
func (b ByPart[T]) With(p Part, value T) ByPart[T] {
	b.Set(p, value)
	return b
}

// Delete removes the value of p.
func (b *ByPart[T]) Delete(p Part) {
	var none T
	b.values[p], b.has[p] = none, false
}

// Of returns the value of p, and whether there is one.
func (b ByPart[T]) Of(p Part) (T, bool) { return b.values[p], b.has[p] }

// At returns the value of p, the zero T if there is none.
func (b ByPart[T]) At(p Part) T { return b.values[p] }

// Has reports whether p has a value.
func (b ByPart[T]) Has(p Part) bool { return b.has[p] }

// Len returns how many parts have a value.
func (b ByPart[T]) Len() int {
	n := 0
	for range b.All() {
		n++
	}
	return n
}

// All yields the parts that have a value, in the order of [Parts].
func (b ByPart[T]) All() iter.Seq2[Part, T] {
	return func(yield func(Part, T) bool) {
		for _, p := range Parts {
			if b.has[p] && !yield(p, b.values[p]) {
				return
			}
		}
	}
}

// Readings holds the temperatures that were read.
type Readings = ByPart[units.Celsius]
