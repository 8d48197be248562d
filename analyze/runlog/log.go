// Package runlog reads run logs, one run a row, from CSV files of many dialects.
//
// It is the only package that knows columns, dialects and gocsv. It yields every
// usable run, in SI-near units, and every unusable row as a [run.Problem] with its
// place; it never guesses a unit and never turns a blank into a zero.
package runlog

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"regear/analyze/run"
	"regear/analyze/units"
)

// Options says how to read a log. The zero Options reads the contract's columns and ISO 8601 dates.
type Options struct {
	// Forgiving reads a driver's own spreadsheet: headers by the table of words in names.csv, units
	// from cells, a cell that can't be read at the cost of that cell where the run can do without
	// it, and no rows of sums.
	Forgiving bool

	// Columns maps headers of the log's own to columns, as in
	// "Temp mot" → "motor_peak_f". One that is mapped to "" is not read, whatever its words say.
	// Headers are compared without regard to case, spaces, hyphens and underscores. See [Unread]
	// for a header that no log has.
	Columns map[string]string

	// FileUnits is what temperatures and lengths are in where neither header nor cells tell, nil if
	// that is not known.
	FileUnits *units.System

	// Constants are values for columns that the log lacks, and for blank cells of those it has.
	Constants []Constant

	// Remembered is what earlier logs needed. It yields to Columns and Constants, and to columns
	// that go by their own names.
	Remembered Remembered

	// DateOrder is how to read dates such as 03/04/2026 where the log's dates fit both orders. ISO
	// 8601 dates need no order and are always accepted.
	DateOrder DateOrder

	// HeatStops marks a run as stopped by heat whose peak's cell says so in words: "too hot".
	HeatStops bool

	// Sheet names the sheet of a workbook to read, "" for every one that holds a log.
	Sheet string

	// MaxBytes is the largest input that is read; 0 stands for 256 MiB.
	MaxBytes int64

	// KeepCells keeps every cell as the log wrote it: [Log.Header], [Log.Cells]
	// and [Log.Refused]. It costs about the size of the log in memory.
	KeepCells bool

	// RefuseImpossible refuses a run that can't be: a peak below the air, air below -30 or above
	// 60 °C, more teeth on the pinion than on the spur, more than 180 minutes, or, by Now, a date
	// more than a day ahead. Without it a warning says so: a log book that has such a run already
	// stays readable.
	RefuseImpossible bool

	// Now is the present, by the clock that the runs were dated with. Where it is zero no date
	// lies in the future.
	Now time.Time
}

// Remembered is what is remembered of logs that were read.
type Remembered struct {
	Columns   map[string]string     // as [Options.Columns]
	Constants map[string][]Constant // by the [HeaderKey] of the logs they are for
}

const defaultMaxBytes = 256 << 20

// Log is what one file held.
//
// Every data row is either in Runs or named in Problems: Rows is the sum of
// len(Runs) and of the different lines in Problems.
type Log struct {
	Name     string
	Rows     int // data rows seen: no headers, comments or blank rows
	Runs     []run.Run
	Problems []run.Problem // why rows were left out, in the order of their lines
	Warnings []run.Problem // what looks implausible and was used all the same
	Lost     []run.Problem // cells that can't be read, of runs that can do without
	Notices  []run.Problem // what was passed over, or read as something else than it says
	Assumed  []Assumed     // what was taken where the log says nothing

	Format   Format
	Columns  []Heading // every column, in the log's order
	Comments []string  // the lines that begin with #, of a log that is text

	// The raw cells, only with Options.KeepCells.

	Header  []string
	Cells   [][]string // Cells[i] are those of Runs[i]
	Refused []Row      // the rows that were left out
}

// Row is one row as the log wrote it.
type Row struct {
	run.Position
	Cells []string
}

// Format is the dialect that a log was found to be written in.
type Format struct {
	Encoding    string // "UTF-8", "UTF-16 little-endian", "UTF-16 big-endian" or "Windows-1252"
	BOM         bool   // a byte order mark stood in front
	Delimiter   byte   // 0 where the rows did not come from text
	DecimalMark byte   // '.' or ','; 0 where no number has decimals
	LineEnd     string // "LF", "CRLF" or "CR"
	// DateOrder is the one order that dates with the year last were found to fit,
	// OrderOfLog if there was nothing to find.
	DateOrder DateOrder
}

// String describes the dialect in a few words, for people.
func (f Format) String() string {
	numbers := map[byte]string{0: "no decimals", '.': "decimal points", ',': "decimal commas"}
	dates := map[DateOrder]string{DayFirst: "dates with the day first", MonthFirst: "dates with the month first"}
	words := []string{f.Encoding, "", "", numbers[f.DecimalMark], "", dates[f.DateOrder]}
	if f.BOM {
		words[1] = "byte order mark"
	}
	if sign := delimiters[f.Delimiter]; sign != "" {
		words[2] = "cells parted by " + sign + "s"
	}
	if f.LineEnd != "" {
		words[4] = f.LineEnd + " line ends"
	}
	return strings.Join(slices.DeleteFunc(words, func(word string) bool { return word == "" }), ", ")
}

// Heading is one column of a log, as its header names it.
type Heading struct {
	Header string // as the log wrote it
	Name   string // of the [Column] that it is, in its unit; "" for one that is not read
	Unit   string // "°C", "°F", "mm", "in", "min", "teeth" or ""

	From     Origin
	UnitFrom UnitFrom
}

// IsRatio reports whether a column tells the internal ratio of its runs.
func (h Heading) IsRatio() bool { return h.Name == "internal_ratio" || h.Name == "final_drive_ratio" }

// CanBeSaid reports whether [Options.Columns] can say what the header stands for: not of one without
// a letter or a digit, nor of a cell of many words.
func (h Heading) CanBeSaid() bool { return fold(h.Header) != "" && len(h.Header) <= maxExcerpt }

// UnitFrom is where a column's unit is known from.
type UnitFrom uint8

// The origins of units.
const (
	InHeader   UnitFrom = iota
	InCells             // some of its cells carry it
	UnitAsSaid          // [Options.FileUnits] says it
)

const maxExcerpt = 80

// excerpt returns the start of a text, so that a message does not flood a screen.
func excerpt(text string) string {
	if len(text) <= maxExcerpt {
		return text
	}
	return strings.ToValidUTF8(text[:maxExcerpt], "") + "…"
}

// Read reads a run log from CSV text in any of the accepted dialects. name is
// what positions and messages show; "-" is shown as "standard input".
//
// Bad rows are no error: they are in [Log.Problems], and the rest is used. An error says why
// nothing can be read: a [*HeaderError] where no line serves as a header, a [run.Problem] for what
// is not a text file or is empty, and otherwise the wrapped error of r, or one that says that the
// text is too large. A log of a header without rows is not an error; a warning says so.
func Read(name string, r io.Reader, opts Options) (*Log, error) {
	if name == "-" {
		name = "standard input"
	}
	w, err := newWording(&opts)
	if err != nil {
		return nil, err
	}
	text, format, err := readText(name, r, opts.MaxBytes)
	if err != nil {
		return nil, err
	}
	cut := sniff(text, w)
	format.Delimiter = cut.delim
	log := &Log{Name: name, Format: format}
	rows := cut.rows(math.MaxInt)
	log.Comments = cut.comments
	return log.read(rows, nil, w, opts)
}

// Sheet is the cells of a spreadsheet, row by row.
type Sheet struct {
	// Next returns the next row, blank ones included. It returns io.EOF behind the last one.
	Next func() ([]string, error)
	// From1904 says that days are counted from 1904 instead of 1900.
	From1904 bool
}

// ReadSheet reads a run log from the rows of a spreadsheet. It differs from [Read]
// in nothing but where rows come from and in dates: those that the sheet holds as
// counts of days are turned into dates. Lines are the sheet's rows.
func ReadSheet(name string, sheet Sheet, opts Options) (*Log, error) {
	w, err := newWording(&opts)
	if err != nil {
		return nil, err
	}
	log := &Log{Name: name}
	var rows []rawRow
	for line := 1; ; line++ {
		cells, err := sheet.Next()
		if err == io.EOF {
			return log.read(rows, sheet.dated, w, opts)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		if !blank(cells) {
			r := rawRow{line: line, cells: cells}
			r.problem, r.place = unreadable(cells)
			rows = append(rows, r)
		}
	}
}
