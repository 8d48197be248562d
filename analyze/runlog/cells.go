package runlog

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"regear/analyze/run"
	"regear/analyze/units"
)

// trim cuts white space, no-break spaces and invisible marks off a cell.
func trim(cell string) string {
	visible := func(b byte) bool { return b > ' ' && b < 0x7F } // in ASCII: most cells need no more
	if cell == "" || visible(cell[0]) && visible(cell[len(cell)-1]) {
		return cell
	}
	return strings.TrimFunc(cell, func(r rune) bool {
		return unicode.IsSpace(r) || r == '\uFEFF' || r >= '\u200B' && r <= '\u200D'
	})
}

// formulaStarts are the characters by which a spreadsheet takes a cell for a formula, and the wide
// forms that some take for the same. Common practice, no source.
const formulaStarts = "=+-@\t\r\n＝＋－＠"

// looksLikeFormula reports whether a spreadsheet could take a text for a formula,
// leaving aside the blanks in front and the apostrophes that mark it as text.
func looksLikeFormula(text string) bool {
	first, _ := utf8.DecodeRuneInString(strings.TrimLeft(text, "' "))
	return strings.ContainsRune(formulaStarts, first)
}

// EscapeFormula returns a cell that no spreadsheet takes for a formula: with an
// apostrophe in front if it would be one, else unchanged. [Read] takes the
// apostrophe off again, and so does [UnescapeFormula]. Numbers stay as they are.
func EscapeFormula(cell string) string {
	if !looksLikeFormula(cell) {
		return cell
	}
	if _, err := units.ParseNumber(cell); err == nil {
		return cell
	}
	return "'" + cell
}

// UnescapeFormula is the inverse of [EscapeFormula].
func UnescapeFormula(cell string) string {
	if strings.HasPrefix(cell, "'") && looksLikeFormula(cell) {
		return cell[1:]
	}
	return cell
}

// clean returns what a cell says: trimmed, and without the apostrophe that kept
// it from being a formula.
func clean(cell string) string {
	if cell = trim(cell); strings.HasPrefix(cell, "'") {
		return trim(UnescapeFormula(cell))
	}
	return cell
}

// FoldLines turns every line end in a text into a line feed.
func FoldLines(text string) string {
	if strings.IndexByte(text, '\r') < 0 {
		return text
	}
	return strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
}

// maxTextBytes leaves room to double every quote in a cell.
const maxTextBytes = maxCellBytes / 2

var writtenColumns = reflect.TypeFor[Record]().NumField()

// textProblem returns why a text can't stand in a log, or nil.
func textProblem(text string) *run.Problem {
	switch {
	case len(text) > maxTextBytes:
		return problem(fmt.Sprintf("is longer than %d bytes", maxTextBytes), "shorten it")
	case holdsRow(text, ',', writtenColumns):
		return problem("holds a line that looks like a row of a log", "check for a quote that does not close")
	}
	return nil
}

// notMeasured are the ways to leave a cell of numbers blank in so many words.
var notMeasured = []string{"", "-", "–", "—", "n/a", "na"}

func isBlank(cell string) bool { return isOneOf(cell, notMeasured) }

// summaries are what the first cell of a row of sums says.
var summaries = []string{"total", "totals", "grand total", "sum", "average", "avg", "mean", "median", "min", "max", "count"}

func isSummary(cell string) bool { return isOneOf(strings.TrimRight(cell, ": "), summaries) }

func isOneOf(cell string, words []string) bool {
	return slices.ContainsFunc(words, func(word string) bool { return strings.EqualFold(cell, word) })
}

// spreadsheetErrors are what spreadsheets leave in a cell whose formula failed.
var spreadsheetErrors = []string{"#N/A", "#DIV/0!", "#REF!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!"}

const spreadsheetError = "is a spreadsheet's error"

func startsSpreadsheetError(text string) bool {
	return strings.HasPrefix(text, "#") && slices.ContainsFunc(spreadsheetErrors, func(e string) bool { return strings.HasPrefix(text, e) })
}

// cutUnit parts a cell behind its last digit or decimal mark.
func cutUnit(cell string) (number, unit string) {
	end := strings.LastIndexAny(cell, "0123456789.,") + 1
	return trim(cell[:end]), trim(cell[end:])
}

// parseNumber reads a number with the log's decimal mark, which may carry the
// unit of its column, "" for a column without one.
func parseNumber(cell string, mark byte, columnUnit string) (float64, *run.Problem) {
	otherMark := byte(',')
	if mark == ',' {
		otherMark = '.'
	}
	if value, err := units.ParseNumber(cell); err == nil && strings.IndexByte(cell, otherMark) < 0 {
		return value, nil
	}
	switch {
	case strings.HasPrefix(cell, "=") || strings.HasPrefix(cell, "@"):
		return 0, problem("is a formula, not its result", "save the log with results")
	case startsSpreadsheetError(cell):
		return 0, problem(spreadsheetError, "")
	}
	if minus, ok := strings.CutPrefix(cell, "−"); ok {
		cell = "-" + minus // as typesetters write it
	}
	text, unit := cutUnit(cell)
	if text == "" {
		return 0, problem("is not a number", "")
	}
	if p := unitProblem(unit, columnUnit); p != nil {
		return 0, p
	}
	points, commas := strings.Count(text, "."), strings.Count(text, ",")
	switch {
	case strings.ContainsAny(text, " '’\u00a0\u202f") || points+commas > 1:
		return 0, problem("has marks between its digits", "write the digits alone, with one decimal mark at most")
	case mark == ',' && points > 0:
		return 0, problem("has a decimal point in a log of decimal commas", "write it with a comma, or without a thousands mark")
	case mark != ',' && commas > 0:
		return 0, problem("has a comma in a log of decimal points", "write it with a point, or without a thousands mark")
	}
	value, err := units.ParseNumber(text)
	if err != nil {
		return 0, problem("is "+err.Error(), "")
	}
	return value, nil
}

// unitProblem compares the unit in a cell with that of its column.
func unitProblem(inCell, ofColumn string) *run.Problem {
	unit := unitWords[fold(inCell)]
	if inCell != "" && strings.Trim(inCell, "°º \"″") == "" {
		unit = ofColumn // a bare ° of the scale that the column names
		if strings.ContainsAny(inCell, `"″`) {
			unit = "in"
		}
	}
	switch {
	case inCell == "" || unit != "" && unit == ofColumn:
		return nil
	case unit == "":
		return problem("is not a number", "")
	case ofColumn == "":
		return problem("has a unit in a column without one", "write the number alone")
	}
	return problem("is in "+unitNames[unit]+" in a column of "+unitNames[ofColumn], "convert it, or put it into a column of its own unit")
}
