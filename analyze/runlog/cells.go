package runlog

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"regear/analyze/units"
)

// trim cuts white space, no-break spaces and invisible marks off a cell.
func trim(cell string) string {
	if cell == "" || plain(cell[0]) && plain(cell[len(cell)-1]) {
		return cell
	}
	return strings.TrimFunc(cell, func(r rune) bool {
		return unicode.IsSpace(r) || r == '\uFEFF' || r >= '\u200B' && r <= '\u200D'
	})
}

// plain reports whether a byte is visible ASCII.
func plain(b byte) bool { return b > ' ' && b < 0x7F }

// formulaStarts are the characters by which a spreadsheet takes a cell for a
// formula, and the wide forms that some take for the same. Common practice, no
// source.
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
	cell = trim(cell)
	if cell != "" && cell[0] == '\'' {
		cell = trim(UnescapeFormula(cell))
	}
	return cell
}

// cleanText is clean for a text of several lines, which end in line feeds.
func cleanText(cell string) string { return clean(foldLines(cell)) }

// foldLines turns every line end in a text into a line feed.
func foldLines(text string) string {
	if strings.IndexByte(text, '\r') < 0 {
		return text
	}
	return strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
}

// maxTextBytes leaves room to double every quote in a cell.
const maxTextBytes = maxCellBytes / 2

// checkText returns why a text can't stand in a log.
func checkText(text string) fault {
	switch {
	case len(text) > maxTextBytes:
		return fault{what: fmt.Sprintf("is longer than %d bytes", maxTextBytes), do: "shorten it"}
	case holdsRow(text, ',', writtenColumns):
		return fault{what: "holds a line that looks like a row of a log", do: "check for a quote that does not close"}
	}
	return fault{}
}

// notMeasured are the ways to leave a cell of numbers blank in so many words.
var notMeasured = []string{"-", "–", "—", "n/a", "na"}

func isBlank(cell string) bool {
	if cell == "" {
		return true
	}
	if len(cell) > 3 {
		return false
	}
	for _, words := range notMeasured {
		if strings.EqualFold(cell, words) {
			return true
		}
	}
	return false
}

// summaries are what the first cell of a row of sums says.
var summaries = []string{"total", "totals", "grand total", "sum", "average", "avg", "mean", "median", "min", "max", "count"}

func isSummary(cell string) bool {
	cell = strings.TrimRight(cell, ": ")
	for _, word := range summaries {
		if strings.EqualFold(cell, word) {
			return true
		}
	}
	return false
}

// spreadsheetErrors are what spreadsheets leave in a cell whose formula failed.
var spreadsheetErrors = []string{"#N/A", "#DIV/0!", "#REF!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!"}

var spreadsheetFault = fault{what: "is a spreadsheet's error"}

func startsSpreadsheetError(text string) bool {
	for _, e := range spreadsheetErrors {
		if strings.HasPrefix(text, e) {
			return true
		}
	}
	return false
}

// powers of ten that are exact in a float64.
var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// parseDecimal reads a plain decimal number of up to 15 digits. It is the fast path
// of parseNumber and agrees with it to the last bit, because a whole number below
// 2^53 divided by an exact power of ten is rounded once.
func parseDecimal(s string, mark byte) (value float64, ok bool) {
	text := strings.TrimPrefix(s, "-")
	var whole uint64
	count, decimals, marked := 0, 0, false
	for i := range len(text) {
		digit := text[i] - '0'
		switch {
		case digit <= 9:
			whole = whole*10 + uint64(digit)
			count++
			if marked {
				decimals++
			}
		case text[i] == mark && !marked:
			marked = true
		default:
			return 0, false
		}
	}
	if count == 0 || count > 15 {
		return 0, false
	}
	value = float64(whole) / powers[decimals]
	if len(text) < len(s) {
		value = -value
	}
	return value, true
}

// cutUnit parts a cell behind its last digit or decimal mark.
func cutUnit(cell string) (number, unit string) {
	end := strings.LastIndexAny(cell, "0123456789.,") + 1
	return trim(cell[:end]), trim(cell[end:])
}

// parseNumber reads a number with the log's decimal mark, which may carry the
// unit of its column, "" for a column without one.
func parseNumber(cell string, mark byte, columnUnit string) (float64, fault) {
	switch {
	case strings.HasPrefix(cell, "=") || strings.HasPrefix(cell, "@"):
		return 0, fault{what: "is a formula, not its result", do: "save the log with results"}
	case startsSpreadsheetError(cell):
		return 0, spreadsheetFault
	}
	if minus, ok := strings.CutPrefix(cell, "−"); ok {
		cell = "-" + minus // as typesetters write it
	}
	text, unit := cutUnit(cell)
	if f := checkUnit(unit, columnUnit); text == "" || !f.none() {
		if text == "" {
			f = fault{what: "is not a number"}
		}
		return 0, f
	}
	points, commas := strings.Count(text, "."), strings.Count(text, ",")
	other := commas
	if mark == ',' {
		other = points
	}
	switch {
	case strings.ContainsAny(text, " '’\u00a0\u202f") || points+commas > 1:
		return 0, fault{what: "has marks between its digits", do: "write the digits alone, with one decimal mark at most"}
	case other > 0 && mark == ',':
		return 0, fault{what: "has a decimal point in a log of decimal commas", do: "write it with a comma, or without a thousands mark"}
	case other > 0:
		return 0, fault{what: "has a comma in a log of decimal points", do: "write it with a point, or without a thousands mark"}
	}
	value, err := units.ParseNumber(text)
	if err != nil {
		return 0, fault{what: "is " + err.Error()}
	}
	return value, fault{}
}

// checkUnit compares the unit in a cell with that of its column.
func checkUnit(inCell, ofColumn string) fault {
	unit := unitWords[fold(inCell)]
	switch strings.Trim(inCell, "°º \"″") {
	case inCell: // a word
	case "":
		unit = ofColumn // a bare ° of the scale that the column names
		if strings.ContainsAny(inCell, `"″`) {
			unit = "in"
		}
	}
	switch {
	case inCell == "":
		return fault{}
	case unit == "":
		return fault{what: "is not a number"}
	case unit == ofColumn:
		return fault{}
	case ofColumn == "":
		return fault{what: "has a unit in a column without one", do: "write the number alone"}
	}
	return fault{what: "is in " + unitNames[unit] + " in a column of " + unitNames[ofColumn],
		do: "convert it, or put it into a column of its own unit"}
}
