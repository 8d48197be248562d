package logbook

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"regear/analyze/nearest"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
)

const (
	// maxSheetBytes bounds a spreadsheet's file, and what it unpacks to.
	maxSheetBytes = 64 << 20
	// maxSheetCells bounds the cells of a workbook, blank ones between others included.
	maxSheetCells = 2_000_000
)

// ReadLogs reads the logs of one input: one of a CSV text, and of an .xlsx workbook one
// for each sheet that has a usable header, or for the one that opts names. Sheets without one are
// named in a notice of the first log. Whether it is a workbook is seen from its content.
func ReadLogs(name string, r io.Reader, opts runlog.Options) ([]*runlog.Log, error) {
	// A workbook is a zip archive (ECMA-376 part 2), which begins with its first local header.
	const signature = "PK\x03\x04"
	ahead := bufio.NewReader(r)
	switch start, err := ahead.Peek(len(signature)); {
	case string(start) == signature:
		return readWorkbook(name, ahead, opts)
	case opts.Sheet != "":
		return nil, run.Problem{Position: run.Position{File: name}, What: "is no workbook, so it has no sheet to choose"}
	case err == nil || err == io.EOF:
		r = ahead
	} // and what can't be read, such as a folder, is runlog's to judge
	log, err := runlog.Read(name, r, opts)
	if err != nil {
		return nil, err
	}
	return []*runlog.Log{log}, nil
}

// readWorkbook reads every sheet that has a usable header.
func readWorkbook(name string, r io.Reader, opts runlog.Options) ([]*runlog.Log, error) {
	if name == "-" {
		name = "standard input"
	}
	unusable := func(what, do string) run.Problem {
		return run.Problem{Position: run.Position{File: name}, What: what, Do: do}
	}
	const asCSV = "save the sheet as CSV"
	tooLarge := unusable(fmt.Sprintf("unpacks to more than %d MiB or holds more than %d million cells", maxSheetBytes>>20, maxSheetCells/1_000_000), asCSV)
	data, err := io.ReadAll(io.LimitReader(r, maxSheetBytes+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s: %w", name, err)
	case len(data) > maxSheetBytes:
		return nil, tooLarge
	}
	book, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{
		UnzipSizeLimit: maxSheetBytes, UnzipXMLSizeLimit: maxSheetBytes})
	switch {
	case err != nil && strings.Contains(err.Error(), "unzip size exceeds"):
		return nil, tooLarge
	case err != nil && bytes.Contains(data[:min(len(data), 100)], []byte(openDocument)):
		return nil, unusable("is an .ods sheet, which is not read", "save it as .xlsx, or "+asCSV)
	case err != nil:
		return nil, unusable(fmt.Sprintf("can't be read as an .xlsx sheet (%v)", err), "open it and save it again, or "+asCSV)
	}
	defer book.Close()

	var logs []*runlog.Log
	var passed []string
	var bestErr error = unusable("holds no sheet", "save it again")
	sheets := book.GetSheetList()
	wanted := sheets
	if opts.Sheet != "" {
		at := slices.IndexFunc(sheets, func(sheet string) bool { return strings.EqualFold(sheet, strings.TrimSpace(opts.Sheet)) })
		if at < 0 {
			return nil, unusable(fmt.Sprintf("has no sheet %q%s; it has %s", opts.Sheet, nearest.DidYouMean(opts.Sheet, sheets), quoted(sheets)), "")
		}
		wanted = sheets[at : at+1]
	}
	left := maxSheetCells
	for _, sheet := range wanted {
		title := name
		if len(sheets) > 1 {
			title = fmt.Sprintf("%s (%s)", name, sheet)
		}
		log, err := readSheet(title, book, sheet, &left, opts)
		noHeader := errors.As(err, new(*runlog.HeaderError)) || errors.As(err, new(run.Problem))
		switch {
		case left < 0:
			return nil, tooLarge
		case err == nil:
			logs = append(logs, log)
		case !noHeader:
			return nil, err
		default:
			if len(passed) == 0 || wrongIn(err) < wrongIn(bestErr) {
				bestErr = err
			}
			passed = append(passed, sheet)
		}
	}
	if len(logs) == 0 {
		return nil, bestErr
	}
	if len(passed) > 0 {
		logs[0].Notices = slices.Insert(logs[0].Notices, 0,
			unusable("has sheets that are no run logs and were passed over: "+quoted(passed), ""))
	}
	return logs, nil
}

// openDocument is the type of an .ods sheet, which stands uncompressed at the front of its archive
// (OpenDocument 1.3, part 2, "MIME type").
const openDocument = "application/vnd.oasis.opendocument.spreadsheet"

// wrongIn returns how much keeps a sheet from being a log: the least of it looks most like one.
func wrongIn(err error) int {
	if header := new(runlog.HeaderError); errors.As(err, &header) {
		return len(header.Missing) + len(header.Others)
	}
	return math.MaxInt
}

func quoted(sheets []string) string {
	all := make([]string, len(sheets))
	for i, sheet := range sheets {
		all[i] = strconv.Quote(sheet)
	}
	return strings.Join(all, ", ")
}

// readSheet reads one sheet. left is how many cells may still be read; the sheet ends where
// it falls below 0.
func readSheet(title string, book *excelize.File, sheet string, left *int, opts runlog.Options) (*runlog.Log, error) {
	// Numbers are wanted with all their digits, whatever the sheet shows of them.
	exact, exactErr := book.Rows(sheet)
	shown, shownErr := book.Rows(sheet)
	if err := cmp.Or(exactErr, shownErr); err != nil {
		return nil, fmt.Errorf("%s: %w", title, err)
	}
	defer exact.Close()
	defer shown.Close()
	next := func() ([]string, error) {
		if !exact.Next() || !shown.Next() {
			return nil, cmp.Or(exact.Error(), shown.Error(), io.EOF)
		}
		cells, err := exact.Columns(excelize.Options{RawCellValue: true})
		if err != nil {
			return nil, err
		}
		if *left -= len(cells); *left < 0 {
			return nil, io.EOF
		}
		asShown, err := shown.Columns()
		if err != nil {
			return nil, err
		}
		for i, cell := range cells {
			if i < len(asShown) && isTimeOfDay(cell, asShown[i]) {
				cells[i] = asShown[i]
			}
		}
		return cells, nil
	}
	props, err := book.GetWorkbookProps()
	from1904 := err == nil && props.Date1904 != nil && *props.Date1904
	return runlog.ReadSheet(title, runlog.Sheet{Next: next, From1904: from1904}, opts)
}

// isTimeOfDay reports whether a cell is a time that the sheet holds in days. Minutes and
// seconds typed as 12:30 become one; what the sheet shows is what was meant.
func isTimeOfDay(exact, shown string) bool {
	const someDays = 100 // above every duration and below every date that a sheet may hold
	days, err := strconv.ParseFloat(exact, 64)
	return err == nil && days >= 0 && days < someDays && strings.Contains(shown, ":")
}

// RejectTable holds rows that logs were refused, each with the reason in front, under one
// header. Once mended they can be imported as they are.
type RejectTable struct {
	Header []string
	Rows   [][]string
}

// Rejects returns the refused rows of logs, which must have been read with KeepCells. Rows
// of logs with other headers, perhaps in other units, can't stand in the same table.
func Rejects(logs []*runlog.Log) []RejectTable {
	var all []RejectTable
	for _, log := range logs {
		if len(log.Refused) == 0 {
			continue
		}
		// The columns that are read go by their own names, which carry the unit wherever the
		// log had it from. The reason comes first: a row may have more cells than there are
		// headers.
		header := []string{ReasonColumn}
		for _, c := range log.Columns {
			name := cmp.Or(c.Name, runlog.EscapeFormula(c.Header))
			if slices.Contains(header, name) { // a time of day belongs to the date, and keeps its header
				name = runlog.EscapeFormula(c.Header)
			}
			header = append(header, name)
		}
		at := slices.IndexFunc(all, func(t RejectTable) bool { return slices.Equal(t.Header, header) })
		if at < 0 {
			at = len(all)
			all = append(all, RejectTable{Header: header})
		}
		reasons := map[int][]string{} // by line
		for _, p := range log.Problems {
			reasons[p.Line] = append(reasons[p.Line], p.String())
		}
		for _, row := range log.Refused {
			cells := []string{strings.Join(reasons[row.Line], "; ")}
			for _, cell := range row.Cells {
				cells = append(cells, runlog.EscapeFormula(cell))
			}
			all[at].Rows = append(all[at].Rows, cells)
		}
	}
	return all
}

// Write writes t as a log.
func (t RejectTable) Write(w io.Writer) error {
	out := csv.NewWriter(w)
	return errors.Join(out.Write(t.Header), out.WriteAll(t.Rows))
}

// NameCar gives the runs of a log that names no car the name that was given, as the runs
// of a book need one. A log names its car in every run or in none; one that does is left
// alone. Where no name was given, the error is a [run.Problem] of the whole log, which
// says what was found and which columns may name the car.
func NameCar(log *runlog.Log, car string) error {
	if len(log.Runs) == 0 || log.Runs[0].Car != "" {
		return nil
	}
	if car = strings.TrimSpace(car); car == "" {
		return noCar(log)
	}
	for i := range log.Runs {
		log.Runs[i].Car = car
	}
	return nil
}

func noCar(log *runlog.Log) run.Problem {
	p := run.Problem{Position: run.Position{File: log.Name}, What: "has no column that names the car",
		Remedy: run.Remedy{Kind: run.NameCar}}
	if at := slices.IndexFunc(log.Columns, func(c runlog.Heading) bool { return c.Name == "car" }); at >= 0 {
		p.What = fmt.Sprintf("names no car: its column %q is blank", log.Columns[at].Header)
		return p
	}
	var may []string
	for at, c := range log.Columns {
		if example := nameIn(log.Cells, at); c.Name == "" && c.From == runlog.ByName && c.Header != "" && example != "" {
			may = append(may, fmt.Sprintf("%q, as in %q", c.Header, example))
			if p.Remedy.Header == "" {
				p.Remedy.Header = c.Header
			}
		}
	}
	const most = 3
	if len(may) > 0 {
		p.What = "has no column called car; it may be " + strings.Join(may[:min(len(may), most)], ", or ")
	}
	return p
}

// nameIn returns the first cell of a column whose cells could all be names, else "".
func nameIn(rows [][]string, column int) (name string) {
	const longestName = 80
	for _, cells := range rows {
		if column >= len(cells) {
			return ""
		}
		cell := strings.TrimSpace(cells[column])
		if _, err := units.ParseNumber(cell); cell == "" || len(cell) > longestName || err == nil {
			return ""
		}
		name = cmp.Or(name, cell)
	}
	return name
}
