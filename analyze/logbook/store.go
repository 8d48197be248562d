package logbook

import "errors"

// Store keeps the texts of a log book under their names: book.csv, keys.csv, columns.txt, cars.toml
// and, under history/, one or a few for each change. Those are their names in an archive too.
//
// [Book] uses files where it is given no store.
type Store interface {
	// Read returns the text of a name, nil where there is none.
	Read(name string) ([]byte, error)
	// History returns the .csv texts under history/, in the order of their names.
	History() ([]Head, error)
	// Alone calls do while no other writer does the same.
	Alone(do func() error) error
	// Write makes one change of several texts, called within Alone. Texts that this store does not
	// keep are passed over. Once it returns nil, the whole change outlasts a power cut, and with an
	// error the book is as it was. If the book is among the texts, it must still be what it was when
	// it was read, nil for no book: else the error is [ErrChanged] and nothing is written.
	//
	// A change that can't be written as one, as files can't, may be cut off: then what stands under
	// history/ is enough to undo it.
	Write(texts []Text, was []byte) error
	// Place returns what messages call the place of a text, or of all texts under a name that
	// ends in a slash. It is "" for one that this store does not keep.
	Place(name string) string
}

// Text is a text under its name. A nil one is to be removed, or stays away.
type Text struct {
	Name string
	Text []byte
}

// Head is the beginning of a text of the history.
type Head struct {
	Name string
	Line string // the first line, without its end
	Size int64  // of the whole text, in bytes
}

// CarsName is the name of the car file in a store.
const CarsName = "cars.toml"

// The names of the other texts in a store.
const (
	bookName    = "book.csv"
	keysName    = "keys.csv"
	columnsName = "columns.txt"
	historyName = "history/"
)

// ErrChanged reports that the book changed between being read and being replaced.
var ErrChanged = errors.New("was changed by another program meanwhile and was not written over: try again")
