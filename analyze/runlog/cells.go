package runlog

import (
	"fmt"
	"reflect"
	"regexp"
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
var notMeasured = []string{"", "-", "–", "—", "--", "---"}

// isUnmeasured reports whether a cell of numbers says that there is none.
func isUnmeasured(cell string) bool {
	return slices.Contains(notMeasured, cell) || !strings.ContainsAny(cell, "0123456789") && names().says("unmeasured", cell)
}

func isSummary(cell string) bool { return names().says("sum", cell) }

// withoutAbout returns a cell without a sign or a word in front that makes it less than exact.
func withoutAbout(cell string) (exact string, isAbout bool) {
	if exact = strings.TrimLeft(cell, "~≈ "); exact != cell {
		return exact, true
	}
	digit := strings.IndexAny(cell, "0123456789")
	if digit <= 0 || !names().says("about", cell[:digit]) {
		return cell, false
	}
	return cell[digit:], true
}

// readingIn finds the number of a reading in a cell, with its unit.
var readingIn = regexp.MustCompile(`[~≈]? ?[-−]?\d+(?:[.,]\d+)?(?: ?[°º]? ?[CcFf]\b| ?[°º])?`)

// cutTooHot returns the number in a cell that tells of a heat stop in words, "" for none, and
// whether it does. One that says that there was none does not.
func cutTooHot(cell string) (number string, hot bool) {
	if strings.IndexFunc(cell, unicode.IsLetter) < 0 || len(cell) > maxExcerpt {
		return "", false
	}
	number = readingIn.FindString(cell)
	words := wordsOf(strings.Replace(cell, number, " ", 1))
	for i, word := range words {
		if names().beginsWith("too_hot", words[i:]) > 0 {
			return number, true
		}
		if names().says("not", word) {
			return "", false
		}
	}
	return "", false
}

// spreadsheetErrors are what spreadsheets leave in a cell whose formula failed.
var spreadsheetErrors = []string{"#N/A", "#DIV/0!", "#REF!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!"}

const spreadsheetError = "is a spreadsheet's error"

func startsSpreadsheetError(text string) bool {
	return strings.HasPrefix(text, "#") && slices.ContainsFunc(spreadsheetErrors, func(e string) bool { return strings.HasPrefix(text, e) })
}

// cutUnit parts a cell behind its last digit or decimal mark.
func cutUnit(cell string) (number, unit string) {
	end := strings.LastIndexAny(cell, "0123456789½¼¾⅛⅜⅝⅞") + 1
	for end > 1 && end < len(cell) && !utf8.RuneStart(cell[end]) {
		end++
	}
	if end < len(cell) && (cell[end] == '.' || cell[end] == ',') {
		end++
	}
	return trim(cell[:end]), trim(cell[end:])
}

// unitIs returns the unit that a text behind a number names, "degree" for a bare °, "" for none
// that is known.
func unitIs(text string) string {
	switch unit := unitWords[fold(text)]; {
	case unit != "":
		return unit
	case strings.ContainsAny(text, `"″”`):
		return "in"
	case text != "" && strings.Trim(text, "°º ") == "":
		return "degree"
	case strings.IndexFunc(text, unicode.IsLetter) < 0:
		return ""
	}
	return names().unitOf(text)
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
	if columnUnit == "in" && strings.ContainsAny(text, "/⁄½¼¾⅛⅜⅝⅞") {
		value, err := units.ParseInches(text)
		if err != nil {
			return 0, problem("is "+err.Error(), "")
		}
		return value, nil
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
	unit := unitIs(inCell)
	if unit == "degree" && unitKinds[ofColumn] == "temperature" {
		return nil // of the scale that the column names
	}
	switch {
	case inCell == "" || unit != "" && unit == ofColumn:
		return nil
	case unit == "" || unit == "degree":
		return problem("is not a number", "")
	case ofColumn == "":
		return problem("has a unit in a column without one", "write the number alone")
	}
	return problem("is in "+unitNames[unit]+" in a column of "+unitNames[ofColumn], "convert it, or put it into a column of its own unit")
}
