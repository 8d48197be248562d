// Package ask is what a driver asks of the next run, of a change of tires or of gears, value by
// value, whether the values come from flags or from the fields of a form.
//
// A value is checked as it is given, long before a log is read. What was not said is
// completed from the car file, the last run and the documented defaults, in this order.
// No error names a flag, as its reader may look at a page: the command adds the flag's name.
package ask

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"regear/advise"
	"regear/analyze/nearest"
	"regear/analyze/units"
)

// Kind is one kind of value: how a text of it is read.
type Kind[T any] struct {
	Name  string // as a help names it: TEMP, LENGTH
	Parse func(text string) (T, error)
	Units Units
	Words []string // all that there are of the kind, nil for more than can be listed
}

// Value is one thing that can be said: a flag of a command, a field of a form. It can be
// registered as a flag of package pflag.
type Value struct {
	Name  string // of the flag and of the field
	Kind  string // as a help names it
	Usage string

	// Take takes what was said, and fails without taking it if it makes no sense.
	Take func(text string) error
	// Known is what the text can be or, ending in a sign of equality, begin with; nil for
	// more than can be listed.
	Known []string
	Units Units
}

// Value returns a value of kind k that is kept in to.
func (k Kind[T]) Value(name, usage string, to *Optional[T]) Value {
	return Value{Name: name, Kind: k.Name, Usage: usage, Known: k.Words, Units: k.Units, Take: func(text string) error {
		value, err := k.Parse(text)
		if err == nil {
			*to = Optional[T]{Value: value, Given: true}
		}
		return err
	}}
}

// Set takes what was said, and fails without taking it if it makes no sense.
func (v Value) Set(text string) error { return v.Take(text) }

// Type returns v's kind, for pflag.
func (v Value) Type() string { return v.Kind }

// Words returns v.Known, for a shell to complete.
func (v Value) Words() []string { return v.Known }

// String returns "", for pflag: no value has a default that could be told beforehand.
func (v Value) String() string { return "" }

// Units are those of a bare number, by [units.System], where a form or the driver says which
// system it is in; "" for none.
type Units [2]string

// Behind returns a text with the unit of a system behind it where the text is a bare number, or
// ends in one behind a sign of equality.
func (u Units) Behind(text string, system units.System) string {
	number := text[strings.LastIndexByte(text, '=')+1:]
	if _, err := units.ParseLength(number); !errors.Is(err, units.ErrNoUnit) {
		return text
	}
	return text + u[system]
}

// Optional is a value with whether it was given.
type Optional[T any] struct {
	Value T
	Given bool
}

// OrElse returns the value that was given, or another, and where it came from.
func (o Optional[T]) OrElse(other T, origin advise.Origin) (T, advise.Origin) {
	if o.Given {
		return o.Value, advise.Given
	}
	return other, origin
}

// Named returns the one of values that has a name, and whether there is one.
func Named(values []Value, name string) (Value, bool) {
	at := slices.IndexFunc(values, func(v Value) bool { return v.Name == name })
	if at < 0 {
		return Value{}, false
	}
	return values[at], true
}

// carFileOr returns what the car file says, or the last run's value where it says
// nothing, and where it came from.
func carFileOr[T comparable](inFile, last T) (T, advise.Origin) {
	var absent T
	if inFile != absent {
		return inFile, advise.CarFile
	}
	return last, advise.LastRun
}

// ValueError is a value that could be read and turns out wrong once the car is known.
type ValueError struct {
	Name, Text string // of the value
	Err        error
}

func (e *ValueError) Error() string { return fmt.Sprintf("%s: %q: %v", e.Name, e.Text, e.Err) }
func (e *ValueError) Unwrap() error { return e.Err }

// Choice is a value that takes one of a few words. It can be registered as a flag.
type Choice[T any] struct {
	Value  T
	words  []string
	values []T // of the words, in their order
}

// NewChoice returns a choice that stands at the first of its values, each of which has a word.
func NewChoice[T any](word func(T) string, values ...T) *Choice[T] {
	c := &Choice[T]{Value: values[0], values: values}
	for _, v := range values {
		c.words = append(c.words, word(v))
	}
	return c
}

// Set takes one of the words, in any letter case.
func (c *Choice[T]) Set(word string) error {
	i := slices.Index(c.words, strings.ToLower(word))
	if i < 0 {
		return fmt.Errorf("write one of %s%s", strings.Join(c.words, ", "), nearest.DidYouMean(word, c.words))
	}
	c.Value = c.values[i]
	return nil
}

// Words returns all words.
func (c *Choice[T]) Words() []string { return c.words }

// Type returns the words.
func (c *Choice[T]) Type() string { return strings.Join(c.words, "|") }

// String returns the word at which the choice stands by default.
func (c *Choice[T]) String() string {
	if c.words == nil {
		return "" // the zero value, by which pflag tells defaults apart
	}
	return c.words[0]
}
