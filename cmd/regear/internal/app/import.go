package app

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
)

// File is one file to be read: a run log in CSV, or a workbook with a log on each sheet. An import
// takes a saved copy of a log book too.
type File struct {
	Name string
	Open func() (io.ReadCloser, error)
}

// Read reads the logs of one file, and workbook those of a workbook: see [logbook.ReadLogs].
func (f File) Read(opts runlog.Options, workbook logbook.Workbook) ([]*runlog.Log, error) {
	file, err := f.Open()
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return logbook.ReadLogs(f.Name, file, opts, workbook)
}

// readCopy reads the file as a saved copy of a log book. Where it is none, it returns nil and the
// file to read otherwise.
func (f File) readCopy() (*runlog.Log, *logbook.Contents, File, error) {
	file, err := f.Open()
	if err != nil {
		return nil, nil, f, err
	}
	const signature = "PK\x03\x04" // of a zip archive, as of an .xlsx sheet
	ahead := bufio.NewReader(file)
	unread := func(r io.Reader) File {
		return File{f.Name, func() (io.ReadCloser, error) {
			return struct {
				io.Reader
				io.Closer
			}{r, file}, nil
		}}
	}
	switch start, err := ahead.Peek(len(signature)); {
	case err != nil && err != io.EOF: // such as of a folder: whoever reads it says what it is
		return nil, nil, File{f.Name, func() (io.ReadCloser, error) { return file, nil }}, nil
	case string(start) != signature:
		return nil, nil, unread(ahead), nil
	}
	data, err := io.ReadAll(ahead)
	if err != nil {
		file.Close()
		return nil, nil, f, err
	}
	log, copied, err := logbook.ReadCopy(f.Name, data)
	if log == nil && err == nil && strings.EqualFold(filepath.Ext(f.Name), ".zip") {
		err = run.Problem{Position: run.Position{File: f.Name}, What: "holds no whole copy of a log book", Do: "save the copy again, or unpack the archive and import the logs in it"}
	}
	if log != nil || err != nil {
		file.Close()
	}
	return log, copied, unread(bytes.NewReader(data)), err
}

// ImportOptions say how the logs of an import are read: as [runlog.Options.Forgiving] says, and
// with what the book remembers.
type ImportOptions struct {
	runlog.Options
	Car string // of logs that name none
}

// Import is an import of logs and, once it was merged, what became of it.
type Import struct {
	Logs []*runlog.Log
	logbook.Merged
	DryRun bool               // nothing was written
	Taken  []logbook.Contents // what each of Logs holds that is taken
	// Headers are those of all logs of which it can be said what they stand for, each once.
	Headers []Header

	app      *App
	remember logbook.Remembered // once the import is done
}

// ReadImport reads the logs of an import, and fails if one can't be read as a whole, or
// as [logbook.NameCar] does if its car is not known: with a [run.Problem], whose remedy is
// [run.NameCar], beside the headers as far as they were read.
func (a *App) ReadImport(files []File, opts ImportOptions) (*Import, error) {
	remembered, err := a.Book.Remembered()
	if err != nil {
		return nil, err
	}
	reading := opts.Options
	reading.Forgiving, reading.KeepCells, reading.Remembered = true, true, remembered.For()
	reading.RefuseImpossible, reading.Now = true, a.Now()
	i := &Import{app: a, remember: logbook.Remembered{Columns: opts.Columns}}
	for _, file := range files {
		log, copied, file, err := file.readCopy()
		if err != nil {
			return nil, err
		}
		if log != nil {
			i.Logs, i.Taken = append(i.Logs, log), append(i.Taken, *copied)
			log.Cells = nil
			continue
		}
		logs, err := file.Read(reading, a.Workbook)
		if err != nil {
			return nil, err
		}
		for _, log := range logs {
			i.Headers = withHeaders(i.Headers, log.Columns, exampleRows(log))
			if err := logbook.NameCar(log, opts.Car); err != nil {
				return i, err
			}
			i.Logs, i.Taken = append(i.Logs, log), append(i.Taken, logbook.FromLog(log))
			log.Cells = nil // the contents have what is needed of them
			i.rememberConstants(log)
		}
	}
	return i, runlog.Unread(opts.Columns, i.Logs)
}

// Header is one header of a log, with what stands below it.
type Header struct {
	runlog.Heading
	Examples []string
}

// HeadersOf returns the headers of a log that can't be read for them.
func HeadersOf(e *runlog.HeaderError) []Header { return withHeaders(nil, e.Headings, e.Rows) }

func withHeaders(all []Header, headings []runlog.Heading, rows [][]string) []Header {
	for at, h := range headings {
		isThere := func(other Header) bool { return runlog.SameHeader(other.Header, h.Header) }
		if h.CanBeSaid() && !slices.ContainsFunc(all, isThere) {
			all = append(all, Header{h, examples(rows, at)})
		}
	}
	return all
}

// exampleRows returns some rows of a log.
func exampleRows(log *runlog.Log) [][]string {
	const most = 20
	rows := log.Cells[:min(len(log.Cells), most)]
	for _, r := range log.Refused[:min(len(log.Refused), most)] {
		rows = append(slices.Clip(rows), r.Cells)
	}
	return rows
}

// examples returns the first different cells of a column.
func examples(rows [][]string, at int) (all []string) {
	const most, longest = 2, 30
	for _, cells := range rows {
		if at >= len(cells) || len(all) == most {
			continue
		}
		cell := []rune(strings.TrimSpace(cells[at]))
		if len(cell) > longest {
			cell = append(cell[:longest], '…')
		}
		if text := string(cell); text != "" && !slices.Contains(all, text) {
			all = append(all, text)
		}
	}
	return all
}

// rememberConstants remembers the constants that were given for a log, for the next with its header.
func (i *Import) rememberConstants(log *runlog.Log) {
	header := strings.Join(strings.Fields(strings.Join(log.Header, "; ")), " ")
	for _, a := range log.Assumed {
		if !a.Remembered {
			i.remember.Constants = append(i.remember.Constants, logbook.Constant{Constant: a.Constant, Header: header})
		}
	}
}

// Word puts the remedies of all problems into words, for the reader and for the file of
// refused rows.
func (i *Import) Word(words func(run.Remedy) string) {
	for _, l := range i.Logs {
		for _, of := range []*[]run.Problem{&l.Problems, &l.Warnings, &l.Lost, &l.Notices} {
			*of = run.Worded(*of, words)
		}
	}
}

// ToAsk returns what to ask about before the logs are taken.
func (i *Import) ToAsk() []run.Problem {
	var all []run.Problem
	for _, l := range i.Logs {
		for _, w := range l.Warnings {
			if w.Ask {
				all = append(all, w)
			}
		}
	}
	return all
}

// HeatStops returns the cells of peaks that say in words that heat ended their run, which is to be
// asked about: read with [runlog.Options.HeatStops], they mark their runs.
func (i *Import) HeatStops() []run.Problem {
	var all []run.Problem
	for _, l := range i.Logs {
		for _, p := range slices.Concat(l.Lost, l.Warnings) {
			if p.Remedy.Kind == run.ReadHeatStops {
				all = append(all, p)
			}
		}
	}
	return all
}

// Problems are why rows were refused.
func (i *Import) Problems() []run.Problem {
	var all []run.Problem
	for _, l := range i.Logs {
		all = append(all, l.Problems...)
	}
	return all
}

// AnyRun reports whether some log has a run that can be used.
func (i *Import) AnyRun() bool {
	return slices.ContainsFunc(i.Taken, func(c logbook.Contents) bool { return len(c.Entries) > 0 || c.IsCopy() })
}

// Preview tells what Add would do, and writes nothing.
func (i *Import) Preview(decide logbook.Decider) (err error) {
	i.DryRun = true
	i.Merged, err = i.app.Book.Preview(i.Taken, decide)
	return err
}

// Add merges the logs into the book, which then remembers what they needed. Nothing was
// changed where there are conflicts.
func (i *Import) Add(decide logbook.Decider) (err error) {
	i.Merged, err = i.app.Book.Add(i.Taken, decide)
	return i.added(err)
}

// AddTo does what Add does, but only to the book in the state of a mark: a decision counts
// for the conflicts that were shown. It fails with [logbook.ErrStale] otherwise.
func (i *Import) AddTo(mark string, decide logbook.Decider) (err error) {
	i.Merged, err = i.app.Book.AddTo(mark, i.Taken, decide)
	return i.added(err)
}

func (i *Import) added(err error) error {
	if err != nil || len(i.Conflicts) > 0 || !i.AnyRun() || len(i.remember.Columns)+len(i.remember.Constants) == 0 {
		return err
	}
	return i.app.Book.Remember(i.remember)
}

// Reject is a file of refused rows, to be mended and imported.
type Reject struct {
	Name string
	logbook.RejectTable
}

// Rejects returns the refused rows, each table with the name of its file: that of the first
// is as given, and the others are numbered.
func (i *Import) Rejects(name string) []Reject {
	ending := filepath.Ext(name)
	var all []Reject
	for n, table := range logbook.Rejects(i.Logs) {
		numbered := name
		if n > 0 {
			numbered = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(name, ending), n+1, ending)
		}
		all = append(all, Reject{numbered, table})
	}
	return all
}
