package logbook

import (
	"bufio"
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"regear/analyze/run"
	"regear/analyze/runlog"
)

const (
	// maxSheetBytes bounds a spreadsheet's file, and what it unpacks to.
	maxSheetBytes = 64 << 20
	// maxSheetCells bounds the cells of a workbook, blank ones between others included.
	maxSheetCells = 2_000_000
)

// ReadLogs reads the logs of one input: one of a CSV text, and of an .xlsx workbook one
// for each sheet that has a usable header. Sheets without one are named in a warning
// of the first log. Whether it is a workbook is seen from its content.
func ReadLogs(name string, r io.Reader, opts runlog.Options) ([]*runlog.Log, error) {
	workbook, r, err := isZip(r)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if !workbook {
		log, err := runlog.Read(name, r, opts)
		if err != nil {
			return nil, err
		}
		return []*runlog.Log{log}, nil
	}
	if name == "-" {
		name = "standard input"
	}
	return readWorkbook(name, r, opts)
}

// isZip reports whether an input is a zip archive, as a workbook is (ECMA-376 part 2;
// the signature is that of a zip's first local header), and returns it unread.
func isZip(r io.Reader) (bool, io.Reader, error) {
	const signature = "PK\x03\x04"
	start := make([]byte, len(signature))
	if file, ok := r.(io.ReaderAt); ok {
		// What can't be read at a place, such as a folder or a pipe, is runlog's to judge.
		if n, err := file.ReadAt(start, 0); err == nil || n > 0 {
			return string(start[:n]) == signature, r, nil
		}
	}
	if _, ok := r.(io.Seeker); ok {
		return false, r, nil
	}
	ahead := bufio.NewReader(r)
	start, err := ahead.Peek(len(signature))
	if err != nil && err != io.EOF {
		return false, nil, err
	}
	return string(start) == signature, ahead, nil
}

// readWorkbook reads every sheet that has a usable header.
func readWorkbook(name string, r io.Reader, opts runlog.Options) ([]*runlog.Log, error) {
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
	case err != nil:
		return nil, unusable(fmt.Sprintf("can't be read as an .xlsx sheet (%v)", err), "open it and save it again, or "+asCSV)
	}
	defer book.Close()

	var logs []*runlog.Log
	var passed []string
	var firstErr error = unusable("holds no sheet", "save it again")
	sheets := book.GetSheetList()
	left := maxSheetCells
	for _, sheet := range sheets {
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
			if len(passed) == 0 {
				firstErr = err
			}
			passed = append(passed, strconv.Quote(sheet))
		}
	}
	if len(logs) == 0 {
		return nil, firstErr
	}
	if len(passed) > 0 {
		logs[0].Warnings = slices.Insert(logs[0].Warnings, 0,
			unusable("has sheets that are no run logs and were passed over: "+strings.Join(passed, ", "), ""))
	}
	return logs, nil
}

// readSheet reads one sheet. left is how many cells may still be read; the sheet ends where
// it falls below 0.
func readSheet(title string, book *excelize.File, sheet string, left *int, opts runlog.Options) (*runlog.Log, error) {
	// Numbers are wanted with all their digits, whatever the sheet shows of them.
	exact, err := book.Rows(sheet)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", title, err)
	}
	defer exact.Close()
	shown, err := book.Rows(sheet)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", title, err)
	}
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

// isTimeOfDay reports whether a cell is a time that the sheet holds in days. Typed as
// 12:30, minutes and seconds become one; what is shown is what was meant.
func isTimeOfDay(exact, shown string) bool {
	const someDays = 100 // above every duration and below every date that a sheet may hold
	days, err := strconv.ParseFloat(exact, 64)
	return err == nil && days >= 0 && days < someDays && strings.Contains(shown, ":")
}
