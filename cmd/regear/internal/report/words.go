package report

import (
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

var smallNumbers = [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}

// teeth writes a number of teeth in words: "two teeth".
func teeth(n int) string {
	n = max(n, -n)
	word := strconv.Itoa(n)
	if n < len(smallNumbers) {
		word = smallNumbers[n]
	}
	return word + choose(n, " tooth", " teeth")
}

func choose(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// count writes a number with its noun: "1 run", "3 runs".
func count(n int, noun string) string { return strconv.Itoa(n) + " " + noun + choose(n, "", "s") }

// list joins words as a sentence does: "a, b and c".
func list(words []string) string { return joined(words, " and ") }

// either joins words where one is enough: "a, b or c".
func either(words []string) string { return joined(words, " or ") }

func joined(words []string, last string) string {
	n := len(words) - 1
	if n < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:n], ", ") + last + words[n]
}

func quotedList(words []string) string { return list(worded(words, strconv.Quote)) }

func worded[T, W any](items []T, word func(T) W) []W {
	var words []W
	for _, item := range items {
		words = append(words, word(item))
	}
	return words
}

func eachOf[T any](of run.ByPart[T], word func(run.Part, T) string) []string {
	var words []string
	for part, value := range of.All() {
		words = append(words, word(part, value))
	}
	return words
}

func capital(sentence string) string {
	if sentence == "" {
		return ""
	}
	return strings.ToUpper(sentence[:1]) + sentence[1:]
}

// pair writes pinion and spur as drivers do.
func pair(g drivetrain.Gearing) string { return fmt.Sprintf("%d/%d", g.Pinion, g.Spur) }

// dateLayout is the ISO 8601 calendar date.
const dateLayout = "2006-01-02"

func moment(when time.Time, hasTime bool) string {
	if !hasTime {
		return when.Format(dateLayout)
	}
	return when.Format(dateLayout + " 15:04")
}

func section(id, title string, body ...document.Block) document.Section {
	return document.Section{ID: id, Title: title, Body: body}
}

// columnsOf are the columns of a table, each with what its cells say of a T.
type columnsOf[T any] []column[T]

type column[T any] struct {
	document.Column
	cell func(*T) string
}

func (c *columnsOf[T]) add(head document.Column, cell func(*T) string) {
	*c = append(*c, column[T]{head, cell})
}

func tableOf[T any](caption string, items []T, columns columnsOf[T]) document.Table {
	table := document.Table{Caption: caption}
	for _, c := range columns {
		table.Columns = append(table.Columns, c.Column)
	}
	for i := range items {
		var row document.Row
		for _, c := range columns {
			row.Cells = append(row.Cells, c.cell(&items[i]))
		}
		table.Rows = append(table.Rows, row)
	}
	return table
}

// remarkColumn is a last column of remarks, which text can leave without a head.
var remarkColumn = document.Column{Full: "remarks", Kind: document.Label}

// remarked is a last column of marks.
func remarked[T any](marks func(*T) []string) column[T] {
	return column[T]{remarkColumn, func(of *T) string { return strings.Join(marks(of), ", ") }}
}

func whole(x float64) string                 { return units.Fixed(x, 0) }
func fixed(x float64, decimals int) string   { return units.Fixed(x, decimals) }
func trimmed(x float64, decimals int) string { return units.Trimmed(x, decimals) }
func chance(p float64) string                { return units.Chance(p) }
func wanted(confidence float64) string       { return units.Confidence(confidence) }
func share(x float64) string                 { return units.Percent(x, 0) }

// significant writes three significant digits, for numbers of any size.
func significant(x float64) string {
	if x == 0 {
		return "0"
	}
	digits := 2 - int(math.Floor(math.Log10(math.Abs(x))))
	return fixed(x, max(digits, 0))
}

// PercentNumber writes a share in percent, without the sign.
func PercentNumber(p float64) string { return trimmed(p*100, 6) }

// change says in words how much larger, faster or taller something gets: "6 % faster". It
// is none where it rounds to 0.
func change(x float64, more, less, none string) string {
	switch percent := math.Round(x * 100); {
	case percent > 0:
		return whole(percent) + " % " + more
	case percent < 0:
		return whole(-percent) + " % " + less
	default:
		return none
	}
}

// signedShare writes a change in whole percent: "+6 %".
func signedShare(x float64) string { return signed(x*100, 0) + " %" }

func signed(x float64, decimals int) string {
	text := fixed(x, decimals)
	if x > 0 && text != fixed(0, decimals) {
		text = "+" + text
	}
	return text
}

func speedPhrase(x float64) string {
	if words := change(x, "faster flat out", "slower flat out", ""); words != "" {
		return "about " + words
	}
	if x == 0 {
		return "no change of speed"
	}
	return "hardly a change of speed"
}

// base writes a position without its folder.
func base(p run.Position) string {
	p.File = filepath.Base(p.File)
	return p.String()
}

func fromTo(low, high string) string {
	if low == high {
		return low
	}
	return low + " to " + high
}

// speed writes a road speed in both units, the system's own first.
func speed(u units.System, kmh float64) string {
	const kilometersPerMile = 1.609344 // exact by the international inch
	metric, us := whole(kmh)+" km/h", whole(kmh/kilometersPerMile)+" mph"
	if u == units.US {
		return fmt.Sprintf("%s (%s)", us, metric)
	}
	return fmt.Sprintf("%s (%s)", metric, us)
}

// EmptyBook says what the next steps are while the log book holds no run.
func EmptyBook(to Reader) string {
	if to == OnPage {
		return "log a run right after it, or import a log that you have; before the first run, regear start on the computer proposes a gearing"
	}
	return "the log book holds no run yet: regear start proposes a first gearing, regear log adds a run, regear import FILE brings in a log, and --log FILE reads one by itself"
}
