package run

// Remedy says what would solve a [Problem] for good, where that is more than mending one
// cell. It is a value, because each face words it in its own terms: the command line names
// a flag, a page names a field.
type Remedy struct {
	Kind RemedyKind
	// Header is one of the log's own headers, and Column the column that it may stand for.
	Header, Column string
	// Unit is the unit that Column would be read in, "" where the header says it.
	Unit string
}

// RemedyKind is a kind of remedy.
type RemedyKind uint8

// The remedies, with what they say beside their kind.
const (
	// MendLog is none beyond what the problem says to do.
	MendLog RemedyKind = iota
	// ChooseDateOrder is to say whether the day or the month stands first in the log's dates.
	ChooseDateOrder
	// MapColumn is to read Header as Column, if that is what it means.
	MapColumn
	// MapColumns is to read several headers as columns; Header and Column are an example.
	MapColumns
	// NameCar is to say which car the log is of. Header, if there is one, may name it.
	NameCar
	// MarkHeatStop is to say that heat ended the run, if it did.
	MarkHeatStop
)

// Worded returns p with its remedy, if it has one that a face has words for, as what to do.
func (p Problem) Worded(words func(Remedy) string) Problem {
	if do := words(p.Remedy); do != "" {
		p.Do = do
	}
	return p
}

// Worded returns the problems, each with its remedy as what to do: see [Problem.Worded].
func Worded(problems []Problem, words func(Remedy) string) []Problem {
	worded := make([]Problem, len(problems))
	for i, p := range problems {
		worded[i] = p.Worded(words)
	}
	return worded
}
